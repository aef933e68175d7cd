/* Reading periods of sealed meters beside our own account of the same spans. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook_session.h"
#include "muldiv.h"
#include "nearest.h"
#include "sheet.h"
#include "sources.h"
#include "spans.h"
#include "spans_own.h"

static const struct sheet_column columns[] = {
    { "meter", { "", "sealed meter" }, "", SHEET_TEXT, 0, false },
    { "register", { "", "register" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "from" }, "", SHEET_DATE, 0, false },
    { "to", { "", "to" }, "", SHEET_DATE, 0, false },
    { "days", { "", "days" }, "", SHEET_NUMBER, 3, false },
    { "energy_kwh", { "", "energy" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "per_day_kwh", { "", "a day" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "demand_kw", { "", "demand" }, "kW", SHEET_NUMBER, ENERGY_SCALE, false },
    { "own_kwh", { "our own", "account" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "difference_kwh", { "ours less", "theirs" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "difference_share", { "of", "theirs" }, "%", SHEET_SHARE, 0, false },
    { "remarks", { "", "remarks" }, "", SHEET_TEXT, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), REMARKS_SIZE = 100, DAY_S = 86400, UP_TO = 3 };

struct work {
    const struct options *options;
    struct logbook_session *session;
    struct sheet *sheet;
    struct spans_own own;
    bool has_record;
};

static void hear_note(void *self, const char *line)
{
    sheet_note(self, "%s", line);
}

static void write_remarks(const struct spans_period *period, char out[REMARKS_SIZE])
{
    const struct {
        bool holds;
        const char *word;
    } remarks[] = {
        { period->partly, "part of the month" },
        { period->share == SHARE_TIME, "prorated by time" },
        { period->share == SHARE_SUN, "prorated along the sun" },
        { period->from_estimated, "begin estimated" },
        { period->to_estimated, "end estimated" },
        { period->rolled, "rolled over" },
        { period->exchanged, "meter exchanged" },
        { period->energy == UNKNOWN, "unclear" },
    };
    size_t at = 0;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof(remarks) / sizeof(remarks[0]) && at < REMARKS_SIZE; i++)
        if (remarks[i].holds)
            at += (size_t)snprintf(out + at, REMARKS_SIZE - at, "%s%s", at ? ", " : "", remarks[i].word);
}

static void set(struct sheet_cell *cell, int64_t value, int32_t decimals)
{
    *cell = (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static void compare(struct work *work, const struct spans_period *period, struct sheet_cell *row,
                    int32_t decimals)
{
    enum balance_term term = sources_term(&work->session->config->sealed[period->sealed], period->reg);
    if (!work->has_record || term == TERM_COUNT || period->energy == UNKNOWN)
        return;
    int64_t own = spans_own(&work->own, term, period->from_s, period->to_s);
    if (own == UNKNOWN)
        return;
    set(&row[8], own, decimals);
    set(&row[9], own - period->energy, decimals);
    row[10] =
        (struct sheet_cell){ .value = number_share(own - period->energy, period->energy), .decimals = 2 };
}

static void add_row(struct work *work, const struct spans_period *period, char remarks[REMARKS_SIZE])
{
    struct sheet_cell *row = sheet_row(work->sheet);
    int64_t length_s = period->to_s - period->from_s;
    int32_t decimals = number_decimals_of_step(period->step, UP_TO);
    if (!row)
        return;
    write_remarks(period, remarks);
    row[0].text = work->session->config->sealed[period->sealed].name;
    row[1].text = sealed_register_words[period->reg];
    row[2].value = period->from_s;
    row[3].value = period->to_s;
    set(&row[4], mul_div(length_s, 1000, DAY_S), 1);
    row[11].text = remarks;
    if (period->reg == SEALED_DEMAND) {
        set(&row[7], period->energy, UP_TO);
        return;
    }
    set(&row[5], period->energy, decimals);
    if (period->energy != UNKNOWN)
        set(&row[6], mul_div(period->energy, DAY_S, length_s), UP_TO);
    compare(work, period, row, decimals);
}

static void add_notes(struct work *work, const struct spans *periods)
{
    bool estimated = false, by_day = false;
    for (int32_t i = 0; i < periods->count; i++) {
        estimated |= periods->periods[i].from_estimated || periods->periods[i].to_estimated;
        by_day |= periods->periods[i].by_day;
    }
    if (work->options->by == BY_MONTH)
        sheet_note(work->sheet,
                   "calendar months are prorated from reading periods: production and export along a clear "
                   "sky, all else evenly by time");
    if (estimated)
        sheet_note(work->sheet,
                   "estimated: nobody looked; what such a reading has too much or too little, the next "
                   "period has too little or too much");
    if (by_day && work->has_record)
        sheet_note(work->sheet,
                   "a reading without a time of day counts as noon: beside our own account its period may be "
                   "off by what half a day carries");
    if (work->session->problems.errors > 0)
        sheet_note(work->sheet, "lines of the logbook with errors, left out: %d",
                   (int)work->session->problems.errors);
}

static bool print_periods(struct work *work, const struct spans *periods)
{
    char(*remarks)[REMARKS_SIZE] = calloc((size_t)periods->count + 1, sizeof(*remarks));
    work->sheet->failed |= periods->memory_out || !remarks;
    for (int32_t i = 0; remarks && i < periods->count; i++)
        add_row(work, &periods->periods[i], remarks[i]);
    bool good = sheet_print(work->sheet, work->options);
    free(remarks);
    return good;
}

/* Index of the sealed meter, -1 for all, -2 where there is none of that name. */
static int32_t find_meter(const struct config *config, const char *name)
{
    const char *names[CONFIG_MAX_SEALED + 1] = { NULL };
    if (!name)
        return -1;
    for (int32_t i = 0; i < config->sealed_count; i++) {
        names[i] = config->sealed[i].name;
        if (strcmp(names[i], name) == 0)
            return i;
    }
    const char *near = nearest(name, names);
    fprintf(stderr,
            near ? "meterbook: there is no sealed meter '%s', did you mean '%s'?\n"
                 : "meterbook: there is no sealed meter '%s', see 'sealed_meters' in the configuration\n",
            name, near);
    return -2;
}

static enum exit_code answer(struct work *work, const struct logbook *logbook, int32_t only)
{
    const struct config *config = work->session->config;
    struct spans periods = {
        .config = config, .civil = work->session->civil, .note = hear_note, .self = work->sheet
    };
    struct spans months = periods;
    for (int32_t i = 0; i < config->sealed_count; i++)
        if (only < 0 || only == i)
            spans_read(&periods, logbook, i);
    spans_sort(&periods);
    bool by_month = work->options->by == BY_MONTH;
    if (by_month)
        spans_by_month(&months, &periods);
    enum exit_code code = EXIT_NO_DATA;
    if (periods.count == 0) {
        fprintf(stderr, "meterbook: the logbook '%s' has no two readings of a sealed meter\n",
                config->logbook);
    } else {
        add_notes(work, &periods);
        code = print_periods(work, by_month ? &months : &periods) ? EXIT_ANSWERED : EXIT_RECORD;
    }
    spans_free(&periods);
    spans_free(&months);
    return code;
}

/* The record may not be there yet: the readings alone are an account. */
static void open_record(struct work *work)
{
    const char *path = work->options->database ? work->options->database : work->session->config->database;
    struct site site;
    work->own = (struct spans_own){ .query = query_open(path), .civil = work->session->civil };
    work->has_record = query_site(work->own.query, &site) && site.has_rows;
    const char *error = query_error(work->own.query);
    if (error)
        sheet_note(work->sheet, "nothing to compare with: %s", error);
    else if (!work->has_record)
        sheet_note(work->sheet, "nothing to compare with: the record holds no interval yet");
}

static enum exit_code spans(struct logbook_session *session, const struct options *options, const char *name)
{
    char title[CONFIG_NAME_SIZE + 80];
    struct sheet sheet;
    struct work work = { .options = options, .session = session, .sheet = &sheet };
    int32_t only = find_meter(session->config, name);
    if (only == -2)
        return EXIT_USAGE;
    sheet_init(&sheet, "spans", session->civil, columns, COLUMN_COUNT);
    snprintf(title, sizeof(title), "%s, sealed meters by %s", session->config->site.name,
             options->by == BY_MONTH ? "calendar month, prorated" : "reading period");
    sheet.title = title;
    struct logbook *logbook = logbook_load(session->config->logbook, &session->site, &session->problems);
    enum exit_code code = EXIT_RECORD;
    if (logbook) {
        logbook_sort(logbook);
        open_record(&work);
        code = answer(&work, logbook, only);
        query_close(work.own.query);
    }
    logbook_free(logbook);
    sheet_free(&sheet);
    return code;
}

enum exit_code cmd_spans(const struct options *options, const char *const *arguments)
{
    struct logbook_session session;
    if (options->by != BY_DEFAULT && options->by != BY_MONTH) {
        fputs("meterbook: '--by' of spans: allowed are default, month\n", stderr);
        return EXIT_USAGE;
    }
    enum exit_code code = logbook_session_open(&session, options);
    if (code == EXIT_ANSWERED)
        code = spans(&session, options, arguments[0]);
    logbook_session_close(&session);
    return code;
}
