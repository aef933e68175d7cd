/* Two spans side by side, by day. */
#include <stdio.h>
#include <string.h>

#include "compare.h"
#include "inquiry.h"
#include "stamp.h"

enum { MOST_DECIMALS = 3, DAY_S = 86400, TITLE_SIZE = CONFIG_NAME_SIZE + 5 * STAMP_SIZE };

static const struct sheet_column columns[] = {
    { "figure", { "", "" }, "", SHEET_TEXT, 0, false },
    { "first_kwh", { "", "first" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "first_kwh_per_day", { "first,", "a day" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "first_known_share", { "first,", "known" }, "%", SHEET_SHARE, 0, false },
    { "second_kwh", { "", "second" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "second_kwh_per_day", { "second,", "a day" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "second_known_share", { "second,", "known" }, "%", SHEET_SHARE, 0, false },
    { "difference_kwh_per_day", { "difference,", "a day" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "difference_share", { "", "difference" }, "%", SHEET_SHARE, 0, false },
    { "first_share", { "first,", "share" }, "%", SHEET_SHARE, 0, false },
    { "second_share", { "second,", "share" }, "%", SHEET_SHARE, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), SIDE_COLUMNS = 3 };

static const char *const side_words[2] = { "first", "second" };

struct work {
    struct inquiry inquiry[2];
    struct sheet sheet;
    bool in_table;
};

static struct sheet_cell energy(int64_t value, int32_t decimals)
{
    return (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static struct sheet_cell share(int64_t value)
{
    return (struct sheet_cell){ .value = value, .decimals = 1 };
}

static int64_t step_of(const struct answer *head, enum compare_figure figure)
{
    if (figure == COMPARE_PRODUCTION)
        return head->production_step;
    return figure == COMPARE_IMPORT || figure == COMPARE_EXPORT ? head->grid_step : head->coarsest_step;
}

/* The coarser of both spans limits the digits; over many days a step is little a day. */
static int32_t decimals_of(const struct work *work, enum compare_figure figure, bool per_day)
{
    int32_t decimals = MOST_DECIMALS;
    for (int32_t s = 0; s < 2; s++) {
        const struct period *period = &work->inquiry[s].period;
        int64_t step =
            step_of(&work->inquiry[s].head, figure) / (per_day ? period->to_day - period->from_day : 1);
        int32_t own = number_decimals_of_step(step > 1 ? step : 1, MOST_DECIMALS);
        decimals = own < decimals ? own : decimals;
    }
    return decimals;
}

/* A share of which 100 % is the whole: a table never rounds it up. */
static int64_t known_share(const struct work *work, const struct compare_side *side, int64_t length_s)
{
    int64_t known = number_share_down(side->known_s, length_s);
    return known != UNKNOWN && work->in_table ? known - known % (SHARE_ONE / 1000) : known;
}

static void add_line(struct work *work, enum compare_figure figure, const struct compare_line *line)
{
    int32_t decimals = decimals_of(work, figure, false), daily = decimals_of(work, figure, true);
    if (line->side[0].energy == UNKNOWN && line->side[1].energy == UNKNOWN)
        return;
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0].text = compare_words[figure];
    for (int32_t s = 0; s < 2; s++) {
        const struct compare_side *side = &line->side[s];
        struct sheet_cell *cell = row + 1 + s * SIDE_COLUMNS;
        cell[0] = energy(side->energy, decimals);
        cell[1] = energy(side->per_day, daily);
        cell[2] = share(known_share(work, side, work->inquiry[s].to_s - work->inquiry[s].from_s));
    }
    row[7] = energy(line->difference, daily);
    row[8] = share(line->difference_share);
    for (int32_t s = 0; s < 2; s++) {
        const struct balance *balance = &work->inquiry[s].head.total.balance;
        if (figure == COMPARE_SELF_CONSUMPTION)
            row[9 + s] = share(balance_self_consumption_share(balance));
        else if (figure == COMPARE_CONSUMPTION)
            row[9 + s] = share(balance_self_sufficiency_share(balance));
    }
}

static bool has_note(const struct answer *answer, const char *note)
{
    for (int32_t i = 0; i < answer->note_count; i++)
        if (strcmp(answer->notes[i], note) == 0)
            return true;
    return false;
}

/* What both say, once; else with the span that it is of. */
static void add_heads(struct work *work)
{
    const struct answer *heads[2] = { &work->inquiry[0].head, &work->inquiry[1].head };
    for (int32_t s = 0; s < 2; s++)
        for (int32_t i = 0; i < heads[s]->mark_count; i++)
            sheet_mark(&work->sheet, "%s: %s", side_words[s], heads[s]->marks[i]);
    for (int32_t i = 0; i < heads[0]->note_count; i++)
        if (has_note(heads[1], heads[0]->notes[i]))
            sheet_note(&work->sheet, "%s", heads[0]->notes[i]);
    for (int32_t s = 0; s < 2; s++)
        for (int32_t i = 0; i < heads[s]->note_count; i++)
            if (!has_note(heads[1 - s], heads[s]->notes[i]))
                sheet_note(&work->sheet, "%s: %s", side_words[s], heads[s]->notes[i]);
}

static void note_days(struct work *work, const struct compare_span span[2])
{
    bool partial = false;
    for (int32_t s = 0; s < 2; s++)
        for (int32_t i = 0; i < COMPARE_FIGURES; i++)
            partial = partial || (span[s].known_s[i] > 0 && span[s].known_s[i] < span[s].length_s);
    if (span[0].days != span[1].days)
        sheet_note(&work->sheet, "the spans differ in length, %d and %d days: compare what is a day",
                   (int)span[0].days, (int)span[1].days);
    if (partial)
        sheet_note(&work->sheet, "not all of both is known: a day's figure is of the days that are");
    sheet_note(&work->sheet, "differences are the first less the second, in %% of the second; shares: of "
                             "consumption not imported, of production self-consumed");
}

static const char *print_span(char out[2 * STAMP_SIZE], const struct inquiry *inquiry)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    const struct civil *civil = inquiry->session.civil;
    snprintf(out, 2 * (size_t)STAMP_SIZE, "%s to %s", stamp_date(from, civil, inquiry->from_s),
             stamp_date(to, civil, inquiry->to_s - 1));
    return out;
}

static enum exit_code print(struct work *work, const struct options *options, int32_t cut)
{
    char title[TITLE_SIZE], first[2 * STAMP_SIZE], second[2 * STAMP_SIZE];
    struct compare_line lines[COMPARE_FIGURES];
    struct compare_span span[2];
    for (int32_t s = 0; s < 2; s++)
        span[s] = compare_span_of(&work->inquiry[s].head,
                                  work->inquiry[s].period.to_day - work->inquiry[s].period.from_day);
    compare_make(span, lines);
    sheet_init(&work->sheet, "compare", work->inquiry[0].session.civil, columns, COLUMN_COUNT);
    snprintf(title, sizeof(title), "%s, %s (first) beside %s (second)", work->inquiry[0].head.site.name,
             print_span(first, &work->inquiry[0]), print_span(second, &work->inquiry[1]));
    work->sheet.title = title;
    if (cut >= 0)
        sheet_note(&work->sheet,
                   "the %s span goes on: its whole days so far beside the same days of the other",
                   side_words[cut]);
    add_heads(work);
    note_days(work, span);
    for (int32_t i = 0; i < COMPARE_FIGURES; i++)
        add_line(work, (enum compare_figure)i, &lines[i]);
    return sheet_print(&work->sheet, options) ? EXIT_ANSWERED : EXIT_RECORD;
}

/* The first day that is not over in the record, nor in what was read after it. */
static int64_t known_day(struct inquiry *inquiry)
{
    struct site site;
    struct session *session = &inquiry->session;
    int64_t last_day = inquiry_reach(session).to_day - 1, end_day = last_day;
    query_begin(session->query);
    if (query_site(session->query, &site) && site.has_rows)
        end_day = civil_day_of(session->civil, site.last_s + site.interval_s);
    query_end(session->query);
    return end_day > last_day ? end_day : last_day;
}

static enum exit_code read_spans(struct work *work, const char *const *words, int32_t *cut)
{
    struct period period[2] = { work->inquiry[0].period, work->inquiry[1].period };
    if (!words[1])
        period[1] = compare_year_before(&period[0], strchr(words[0], 'W') != NULL);
    *cut = compare_cut(period, known_day(&work->inquiry[0]));
    for (int32_t s = 0; s < 2; s++) {
        if (period[s].from_day >= period[s].to_day) {
            fprintf(stderr, "meterbook: '%s' has no whole day yet that could be compared\n",
                    words[s] ? words[s] : words[0]);
            return EXIT_NO_DATA;
        }
        inquiry_set_period(&work->inquiry[s], period[s]);
    }
    bool any = false;
    for (int32_t s = 0; s < 2; s++) {
        enum exit_code code = inquiry_read_head(&work->inquiry[s], NULL, (struct answer_what){ 0 });
        if (code != EXIT_ANSWERED && code != EXIT_NO_DATA)
            return code;
        any = any || code == EXIT_ANSWERED; /* is shown beside one that has nothing */
    }
    return any ? EXIT_ANSWERED : EXIT_NO_DATA;
}

enum exit_code cmd_compare(const struct options *options, const char *const *arguments)
{
    struct work work = { .in_table = options->format == FORMAT_TABLE };
    int32_t cut = -1;
    if (options->by != BY_DEFAULT) {
        fputs("meterbook: 'compare' has no rows that '--by' could choose\n", stderr);
        return EXIT_USAGE;
    }
    if (!arguments[0]) {
        fputs("meterbook: 'compare' needs a span, see 'meterbook compare --help'\n", stderr);
        return EXIT_USAGE;
    }
    enum exit_code code = inquiry_open_span(&work.inquiry[0], options, arguments[0]);
    if (code == EXIT_ANSWERED)
        code = inquiry_open_span(&work.inquiry[1], options, arguments[1] ? arguments[1] : arguments[0]);
    if (code == EXIT_ANSWERED)
        code = read_spans(&work, arguments, &cut);
    if (code == EXIT_ANSWERED)
        code = print(&work, options, cut);
    sheet_free(&work.sheet);
    inquiry_close(&work.inquiry[0]);
    inquiry_close(&work.inquiry[1]);
    return code;
}
