/* Outages of a span, and by month. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "civil.h"
#include "outages.h"
#include "period.h"
#include "query.h"
#include "session.h"
#include "sheet.h"
#include "stamp.h"

enum { AROUND_S = 14 * 86400, ENERGY_DECIMALS = 1, HOURS_SCALE = 3, WHAT_SIZE = CONFIG_NAME_SIZE + 24 };

static const struct sheet_column list_columns[] = {
    { "kind", { "", "outage of" }, "", SHEET_TEXT, 0, false },
    { "what", { "", "" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "from" }, "", SHEET_INSTANT, 0, false },
    { "to", { "", "to" }, "", SHEET_INSTANT, 0, false },
    { "hours", { "", "hours" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "doubt_hours", { "", "doubt" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "not_made_estimated_kwh", { "not made,", "estimated" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "known", { "", "how known" }, "", SHEET_TEXT, 0, false },
};

static const struct sheet_column month_columns[] = {
    { "month", { "", "month" }, "", SHEET_TEXT, 0, false },
    { "kind", { "", "outages of" }, "", SHEET_TEXT, 0, false },
    { "count", { "", "began" }, "", SHEET_NUMBER, 0, false },
    { "hours", { "", "hours" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "not_made_estimated_kwh", { "not made,", "estimated" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
};

#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))

struct work {
    const struct options *options;
    struct session session;
    struct site site;
    struct arrangement arrangement; /* as it is set now: names */
    struct period period;
    int64_t from_s, to_s;
    struct outages outages;
};

static const char *read_period(struct period *period, const char *word, int64_t today)
{
    size_t length = word ? strlen(word) : 0;
    const char *problem = !word || length == 4 ? period_year(period, word, today)
                          : length == 7        ? period_month(period, word, today)
                                               : period_day(period, word, today);
    return problem ? "a span is YYYY, YYYY-MM or YYYY-MM-DD" : NULL;
}

static const char *meter_name(const struct work *work, int32_t number)
{
    for (int32_t i = 0; i < work->arrangement.meter_count; i++)
        if (work->arrangement.meters[i].number == number)
            return work->arrangement.meters[i].name;
    return NULL;
}

static void write_what(const struct work *work, const struct outage *outage, char what[WHAT_SIZE])
{
    const char *name = outage->meter > 0 ? meter_name(work, outage->meter) : NULL;
    what[0] = '\0';
    if (outage->kind == OUTAGE_BUS)
        snprintf(what, WHAT_SIZE, "%s", outage->bus);
    else if (outage->meter > 0 && name)
        snprintf(what, WHAT_SIZE, "%s%s%s", name, outage->phase[0] ? " " : "", outage->phase);
    else if (outage->meter > 0)
        snprintf(what, WHAT_SIZE, "meter %d%s%s", (int)outage->meter, outage->phase[0] ? " " : "",
                 outage->phase);
}

/* Milliseconds to the sheet's hours. */
static struct sheet_cell hours(int64_t ms)
{
    return (struct sheet_cell){ .value = (ms + 1800) / 3600, .decimals = 2, .thousands = true };
}

static struct sheet_cell energy(int64_t mwh)
{
    return (struct sheet_cell){ .value = mwh, .decimals = ENERGY_DECIMALS, .thousands = true };
}

static void add_row(const struct work *work, struct sheet *sheet, const struct outage *outage,
                    char what[WHAT_SIZE])
{
    struct sheet_cell *row = sheet_row(sheet);
    if (!row)
        return;
    write_what(work, outage, what);
    row[0].text = outage_kind_words[outage->kind];
    row[1].text = what;
    row[2].value = outage->from_ms / 1000;
    row[3].value = outage->to_ms == UNKNOWN ? UNKNOWN : outage->to_ms / 1000;
    row[4] = hours(outage_end_ms(&work->outages, outage) - outage->from_ms);
    if (outage->doubt_ms > 0)
        row[5] = hours(outage->doubt_ms);
    row[6] = energy(outage->not_made);
    row[7].text = outage->known;
}

static bool print_list(struct work *work)
{
    char title[2 * CONFIG_NAME_SIZE + 80], from[STAMP_SIZE], to[STAMP_SIZE];
    struct sheet sheet;
    bool estimated = false;
    char(*what)[WHAT_SIZE] = calloc((size_t)work->outages.count + 1, sizeof(*what));
    sheet_init(&sheet, "outages", work->session.civil, list_columns, COUNT(list_columns));
    snprintf(title, sizeof(title), "%s, outages from %s to %s", work->site.name,
             stamp_date(from, work->session.civil, work->from_s),
             stamp_date(to, work->session.civil, work->to_s - 1));
    sheet.title = title;
    sheet.failed = !what || work->outages.memory_out;
    if (work->outages.count == 0)
        sheet_note(&sheet, "the record knows of none");
    for (int32_t i = 0; what && i < work->outages.count; i++) {
        estimated = estimated || work->outages.list[i].not_made != UNKNOWN;
        add_row(work, &sheet, &work->outages.list[i], what[i]);
    }
    if (estimated)
        sheet_note(&sheet,
                   "what was not made is an estimate from the days around, and in no sum of energies");
    bool good = sheet_print(&sheet, work->options);
    sheet_free(&sheet);
    free(what);
    return good;
}

static void add_month(const struct work *work, struct sheet *sheet, const char *month, int64_t from_s,
                      int64_t to_s)
{
    for (int32_t kind = 0; kind < OUTAGE_KINDS; kind++) {
        struct outage_sum sum =
            outages_sum(&work->outages, (enum outage_kind)kind, from_s * 1000, to_s * 1000);
        struct sheet_cell *row = sum.ms > 0 || sum.count > 0 ? sheet_row(sheet) : NULL;
        if (!row)
            continue;
        row[0].text = month;
        row[1].text = outage_kind_words[kind];
        row[2] = (struct sheet_cell){ .value = sum.count };
        row[3] = hours(sum.ms);
        row[4] = energy(sum.not_made);
    }
}

enum { MONTHS = 12 };

/* A span is a year at most. */
static bool print_months(struct work *work)
{
    char title[CONFIG_NAME_SIZE + 80], months[MONTHS][STAMP_SIZE];
    struct sheet sheet;
    int64_t day = work->period.from_day;
    sheet_init(&sheet, "outages", work->session.civil, month_columns, COUNT(month_columns));
    snprintf(title, sizeof(title), "%s, outages by month", work->site.name);
    sheet.title = title;
    sheet_note(&sheet, "each counts in the month in which it began, and has hours in all that it touches");
    for (int32_t i = 0; i < MONTHS && day < work->period.to_day; i++) {
        int64_t next = period_next_month(day);
        next = next < work->period.to_day ? next : work->period.to_day;
        int64_t from_s = civil_day_start(work->session.civil, day);
        stamp_month(months[i], work->session.civil, from_s);
        add_month(work, &sheet, months[i], from_s, civil_day_start(work->session.civil, next));
        day = next;
    }
    bool good = sheet.row_count == 0 || sheet_print(&sheet, work->options);
    sheet_free(&sheet);
    return good;
}

static enum exit_code read_record(struct work *work)
{
    struct query *query = work->session.query;
    struct setting_row newest;
    query_begin(query);
    if (query_site(query, &work->site)) {
        newest = (struct setting_row){ .id = work->site.setting, .interval_s = work->site.interval_s };
        query_meters(query, &newest, &work->arrangement);
        outages_read(&work->outages, query, work->session.now_ms);
        /* Around the span too: estimates look at days there, and must know which were disturbed. */
        outages_keep(&work->outages, (work->from_s - AROUND_S) * 1000, (work->to_s + AROUND_S) * 1000);
        outages_infer(&work->outages, query, &work->arrangement);
        outages_find_inverters(&work->outages, query, &work->arrangement, work->from_s - AROUND_S,
                               work->to_s + AROUND_S);
        outages_cut(&work->outages, query);
        outages_estimate(&work->outages, query, &work->arrangement);
        outages_keep(&work->outages, work->from_s * 1000, work->to_s * 1000);
    }
    query_end(query);
    return query_error(query) ? session_failed(&work->session) : EXIT_ANSWERED;
}

static enum exit_code answer(struct work *work)
{
    bool months_only = work->options->by == BY_MONTH;
    bool both = !months_only && work->options->format == FORMAT_TABLE && work->outages.count > 0;
    bool good = months_only || print_list(work);
    if (good && both)
        fputs("\n", stdout);
    if (good && (months_only || both))
        good = print_months(work);
    return good ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_outages(const struct options *options, const char *const *arguments)
{
    struct work work = { .options = options };
    if (options->by != BY_DEFAULT && options->by != BY_MONTH) {
        fputs("meterbook: '--by' of outages: allowed are default, month\n", stderr);
        return EXIT_USAGE;
    }
    enum exit_code code = session_open(&work.session, options);
    if (code == EXIT_ANSWERED) {
        const char *problem = read_period(&work.period, arguments[0], work.session.today);
        if (problem) {
            fprintf(stderr, "meterbook: '%s': %s\n", arguments[0], problem);
            code = EXIT_USAGE;
        }
    }
    if (code == EXIT_ANSWERED) {
        work.from_s = civil_day_start(work.session.civil, work.period.from_day);
        work.to_s = civil_day_start(work.session.civil, work.period.to_day);
        code = read_record(&work);
    }
    if (code == EXIT_ANSWERED)
        code = answer(&work);
    outages_free(&work.outages);
    session_close(&work.session);
    return code;
}
