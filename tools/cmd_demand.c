/* Highest demand of a span and of its months. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "demand.h"
#include "enter_time.h"
#include "flow.h"
#include "stamp.h"

static const struct sheet_column columns[] = {
    { "flow", { "", "" }, "", SHEET_TEXT, 0, true },
    { "span", { "", "span" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "to", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "window_min", { "", "over" }, "min", SHEET_NUMBER, 0, false },
    { "aligned_at_least", { "", "" }, "", SHEET_TEXT, 0, false },
    { "aligned_kw", { "on the", "clock" }, "kW", SHEET_NUMBER, ENERGY_SCALE, false },
    { "aligned_at", { "", "from" }, "", SHEET_TEXT, 0, false },
    { "worst_at_least", { "", "" }, "", SHEET_TEXT, 0, false },
    { "worst_kw", { "at any", "offset" }, "kW", SHEET_NUMBER, ENERGY_SCALE, false },
    { "worst_at", { "", "from" }, "", SHEET_TEXT, 0, false },
    { "observed_share", { "", "observed" }, "%", SHEET_SHARE, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), MINUTE = 60, DAY_S = 86400 };

/* The words of one month's rows; the sheet points to them. */
struct words {
    struct words *next;
    char span[STAMP_SIZE];
    char at[DEMAND_LENGTHS][DEMAND_OFFSETS][2 * STAMP_SIZE];
};

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct flow flow;
    struct demand demand;
    struct sheet sheet;
    struct words *words;
    bool months, any; /* rows of months are wanted; something was observed so far */
    struct sheet_column columns[COLUMN_COUNT];
    int64_t lengths[DEMAND_LENGTHS];
    int32_t length_count;
    bool coarse[DEMAND_LENGTHS]; /* some intervals cannot tell this length */
    int64_t coarse_s;
    char title[FLOW_TITLE_SIZE];
};

/* Of apparent energy the same figures are kVA. */
static void choose_columns(struct work *work)
{
    for (int32_t i = 0; i < COLUMN_COUNT; i++) {
        struct sheet_column *column = &work->columns[i];
        *column = columns[i];
        if (work->options->of != OF_APPARENT || strcmp(column->unit, "kW") != 0)
            continue;
        column->unit = "kVA";
        column->key = strcmp(column->key, "aligned_kw") == 0 ? "aligned_kva" : "worst_kva";
    }
    sheet_init(&work->sheet, "demand", work->inquiry.session.civil, work->columns, COLUMN_COUNT);
}

static bool read_lengths(struct work *work)
{
    struct enter_length length = { 0 };
    work->lengths[0] = 15 * MINUTE;
    work->lengths[1] = 30 * MINUTE;
    work->length_count = 2;
    if (!work->options->length)
        return true;
    if (!enter_length_read(&length, work->options->length) || length.seconds < MINUTE ||
        length.seconds > DEMAND_LONGEST_S || DAY_S % length.seconds != 0 || length.seconds % MINUTE != 0) {
        fprintf(stderr, "meterbook: '--length %s' of demand: allowed are 1min to 60min that divide a day\n",
                work->options->length);
        return false;
    }
    if (length.seconds != work->lengths[0] && length.seconds != work->lengths[1])
        work->lengths[work->length_count++] = length.seconds;
    return true;
}

static void write_at(const struct work *work, int64_t start_s, char out[2 * STAMP_SIZE])
{
    char minute[STAMP_SIZE], offset[STAMP_SIZE];
    const struct civil *civil = work->inquiry.session.civil;
    if (work->options->format == FORMAT_TABLE)
        snprintf(out, 2 * STAMP_SIZE, "%s %s", stamp_minute(minute, civil, start_s),
                 stamp_offset(offset, civil, start_s));
    else
        snprintf(out, 2 * STAMP_SIZE, "%s", stamp_rfc3339(minute, civil, start_s));
}

static void set_peak(const struct work *work, struct sheet_cell *row, const struct demand_peak *peak,
                     int64_t length_s, char at[2 * STAMP_SIZE])
{
    bool table = work->options->format == FORMAT_TABLE;
    row[0].text = demand_at_least(peak) ? table ? "at least" : "yes" : table ? "" : "no";
    row[1] = (struct sheet_cell){
        .value = demand_power(peak, length_s),
        .decimals = flow_decimals(&work->flow, length_s),
        .thousands = true,
    };
    if (peak->energy == UNKNOWN)
        row[1].text = NULL;
    if (peak->energy == UNKNOWN || peak->energy <= 0)
        return; /* of nothing there is no instant */
    write_at(work, peak->start_s, at);
    row[2].text = at;
}

/* Cut in a table, so that 100 % is nothing lost. */
static struct sheet_cell observed_share(const struct work *work, const struct demand_scope *scope)
{
    int64_t share = number_share_down(scope->observed_s, scope->to_s - scope->from_s);
    bool table = work->options->format == FORMAT_TABLE && share != UNKNOWN;
    return (struct sheet_cell){ .value = table ? share - share % 1000 : share, .decimals = 1 };
}

static void add_rows(struct work *work, const struct demand_scope *scope, const char *name)
{
    struct words *words = calloc(1, sizeof(*words));
    if (!words) {
        work->sheet.failed = true;
        return;
    }
    words->next = work->words;
    work->words = words;
    snprintf(words->span, sizeof(words->span), "%s", name);
    for (int32_t i = 0; i < work->length_count; i++) {
        struct sheet_cell *row = sheet_row(&work->sheet);
        if (!row)
            return;
        row[0].text = work->flow.name;
        row[1].text = i == 0 || work->options->format != FORMAT_TABLE ? words->span : "";
        row[2].value = scope->from_s;
        row[3].value = scope->to_s;
        row[4].value = work->lengths[i] / MINUTE;
        for (int32_t o = 0; o < DEMAND_OFFSETS; o++)
            set_peak(work, row + 5 + 3 * o, &scope->peaks[i][o], work->lengths[i], words->at[i][o]);
        row[11] = observed_share(work, scope);
    }
}

/* Months before the first that something is known of say nothing. */
static void hear_month(void *self, const struct demand_scope *month)
{
    struct work *work = self;
    char name[STAMP_SIZE];
    work->any = work->any || month->observed_s > 0;
    if (work->months && work->any)
        add_rows(work, month, stamp_month(name, work->inquiry.session.civil, month->from_s));
}

static void hear_length(struct work *work, const struct flow_piece *piece)
{
    int64_t interval_s = piece->to_s - piece->from_s;
    for (int32_t i = 0; i < work->length_count && piece->state != FLOW_UNKNOWN; i++)
        if (work->lengths[i] % interval_s != 0) {
            work->coarse[i] = true;
            work->coarse_s = interval_s;
        }
}

/* What lies before the record began is not known either, but for the begin of its first day. */
static void feed_before(struct work *work)
{
    const struct civil *civil = work->inquiry.session.civil;
    int64_t day_s = civil_day_start(civil, civil_day_of(civil, work->flow.at_s));
    if (day_s > work->inquiry.from_s)
        demand_add(&work->demand, work->inquiry.from_s, day_s, UNKNOWN, false);
}

static bool feed(struct work *work)
{
    struct flow_piece piece;
    demand_init(&work->demand, work->inquiry.session.civil, work->length_count, work->lengths, hear_month,
                work);
    feed_before(work);
    while (flow_next(&work->flow, &piece)) {
        hear_length(work, &piece);
        demand_add(&work->demand, piece.from_s, piece.to_s, piece.energy, piece.state == FLOW_OBSERVED);
    }
    demand_end(&work->demand);
    return flow_end(&work->flow);
}

static void add_notes(struct work *work)
{
    for (int32_t i = 0; i < work->length_count; i++)
        if (work->coarse[i])
            sheet_note(&work->sheet, "an interval of %g min cannot tell %d min",
                       (double)work->coarse_s / MINUTE, (int)(work->lengths[i] / MINUTE));
    sheet_note(
        &work->sheet,
        "demand is mean power: windows that begin on the site's clock at a multiple of their length, and at "
        "any offset in steps of the interval (another meter's clock may be off)");
    if (work->flow.of == FLOW_APPARENT)
        sheet_note(&work->sheet, "apparent power: mean kVA of the meter's own counter of apparent import");
    sheet_note(&work->sheet,
               "only windows observed all through make a peak; at least: one that was not, or in which the "
               "clock stepped, may have had more");
}

static enum exit_code answer(struct work *work)
{
    const struct period *period = &work->inquiry.period;
    work->months = period_next_month(period->from_day) < period->to_day;
    inquiry_head(&work->inquiry, &work->sheet);
    if (!feed(work))
        return EXIT_RECORD;
    if (!work->any)
        return flow_missing(&work->flow);
    add_rows(work, &work->demand.span, "whole span");
    add_notes(work);
    work->sheet.title = flow_title(&work->flow, "highest demand", work->title);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_demand(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    enum exit_code code = read_lengths(work) ? flow_open(&work->inquiry, options, arguments[0]) : EXIT_USAGE;
    if (code == EXIT_ANSWERED) {
        choose_columns(work);
        code =
            flow_choose(&work->flow, &work->inquiry, FLOW_IMPORT, true, options) ? answer(work) : EXIT_USAGE;
    }
    sheet_free(&work->sheet);
    inquiry_close(&work->inquiry);
    for (struct words *words = work->words, *next; words; words = next) {
        next = words->next;
        free(words);
    }
    free(work);
    return code;
}
