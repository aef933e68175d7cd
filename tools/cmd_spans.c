/* Reading periods of sealed meters beside our own account of the same spans. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "logbook_session.h"
#include "muldiv.h"
#include "nearest.h"
#include "schema.h"
#include "sheet.h"
#include "sources.h"
#include "spans.h"
#include "spans_before.h"
#include "spans_own.h"
#include "stamp.h"

static const struct sheet_column columns[] = {
    { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
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
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), REMARKS_SIZE = 160, DAY_S = 86400, UP_TO = 3 };

/* What a meter counts by its own clock. */
#define TIMED_REGISTERS                                                                                      \
    (UINT32_C(0xf) << SEALED_T1 | UINT32_C(0xf) << SEALED_EXPORT_T1 | UINT32_C(1) << SEALED_DEMAND)

struct work {
    const struct options *options;
    struct logbook_session *session;
    struct sheet *sheet;
    const char *only; /* the one meter that is asked for; NULL: all */
    struct spans_own own;
    bool has_record;
};

static void hear_note(void *self, const char *line)
{
    sheet_note(self, "%s", line);
}

/* `own` is our account of the period; NULL where there is none to compare with. */
static void write_remarks(const struct spans_period *period, const struct spans_own *own,
                          char out[REMARKS_SIZE])
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
        { own && own->estimated != 0, "ours estimated in part" },
        { own && own->flags & ROW_ENTERED, "ours entered in part" },
        { own && own->flags & HOW_CORRECTED, "ours corrected" },
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

/* False where there is nothing to compare with. */
static bool compare(struct work *work, const struct spans_period *period, struct sheet_cell *row,
                    int32_t decimals)
{
    enum balance_term term = sources_term(&work->session->config->sealed[period->sealed], period->reg);
    if (!work->has_record || term == TERM_COUNT || period->energy == UNKNOWN)
        return false;
    int64_t own = spans_own(&work->own, term, period->from_s, period->to_s);
    if (own == UNKNOWN)
        return false;
    set(&row[8], own, decimals);
    set(&row[9], own - period->energy, decimals);
    row[10] =
        (struct sheet_cell){ .value = number_share(own - period->energy, period->energy), .decimals = 2 };
    return true;
}

static void set_span(struct sheet_cell *row, const char *meter, enum sealed_register reg, int64_t from_s,
                     int64_t to_s)
{
    row[0].text = meter;
    row[1].text = sealed_register_words[reg];
    row[2].value = from_s;
    row[3].value = to_s;
    set(&row[4], mul_div(to_s - from_s, 1000, DAY_S), 1);
}

/* After set_span(). */
static void set_energy(struct sheet_cell *row, int64_t energy, int64_t step)
{
    set(&row[5], energy, number_decimals_of_step(step, UP_TO));
    if (energy != UNKNOWN)
        set(&row[6], mul_div(energy, DAY_S, row[3].value - row[2].value), UP_TO);
}

static void add_row(struct work *work, const struct spans_period *period, char remarks[REMARKS_SIZE])
{
    struct sheet_cell *row = sheet_row(work->sheet);
    if (!row)
        return;
    bool compared = false;
    set_span(row, work->session->config->sealed[period->sealed].name, period->reg, period->from_s,
             period->to_s);
    if (period->reg == SEALED_DEMAND) {
        set(&row[7], period->energy, UP_TO);
    } else {
        set_energy(row, period->energy, period->step);
        compared = compare(work, period, row, number_decimals_of_step(period->step, UP_TO));
    }
    write_remarks(period, compared ? &work->own : NULL, remarks);
    row[11].text = remarks;
}

static void add_notes(struct work *work, const struct spans *periods)
{
    const struct config *config = work->session->config;
    bool estimated = false, by_day = false;
    for (int32_t i = 0; i < periods->count; i++) {
        estimated |= periods->periods[i].from_estimated || periods->periods[i].to_estimated;
        by_day |= periods->periods[i].from_by_day || periods->periods[i].to_by_day;
    }
    if (work->options->by == BY_MONTH)
        sheet_note(work->sheet,
                   "calendar months are prorated from reading periods: production and export along a clear "
                   "sky, all else evenly by time");
    if (estimated)
        sheet_note(work->sheet,
                   "estimated: nobody looked; what such a reading has too much or too little, the next "
                   "period has too little or too much");
    for (int32_t i = 0; i < config->sealed_count; i++) {
        const struct config_sealed *meter = &config->sealed[i];
        bool asked = !work->only || strcmp(work->only, meter->name) == 0;
        if (asked && meter->standard_time && meter->registers & TIMED_REGISTERS)
            sheet_note(
                work->sheet,
                "%s: its clock has no summer time: in summer its tariff periods and demand begin an hour "
                "later by the site's",
                meter->name);
    }
    if (by_day && work->has_record)
        sheet_note(work->sheet,
                   "a reading without a time of day counts as noon: beside our own account its period may be "
                   "off by what half a day carries");
    if (work->session->problems.errors > 0)
        sheet_note(work->sheet, "lines of the logbook with errors, left out: %d",
                   (int)work->session->problems.errors);
}

/* Our own meters before they were first read; what flowed then is in no other answer. */
static void add_before(struct work *work, const struct logbook *logbook)
{
    struct spans_before before;
    const struct config *config = work->session->config;
    for (int32_t i = 0; work->has_record && i < logbook->count; i++)
        for (int32_t reg = SEALED_IMPORT; reg <= SEALED_EXPORT; reg++) {
            if (!spans_before(&before, work->own.query, config, &logbook->entries[i],
                              (enum sealed_register)reg) ||
                (work->only && strcmp(work->only, config->meters[before.meter].name) != 0))
                continue;
            struct sheet_cell *row = sheet_row(work->sheet);
            if (!row)
                return;
            set_span(row, config->meters[before.meter].name, before.reg, before.from_s, before.to_s);
            set_energy(row, before.energy, before.step);
            row[11].text = before.energy == UNKNOWN
                               ? "before the record, unclear: read less than at its start"
                               : "before the record";
        }
}

/* Opening credits of the meter's settlement, the newest first. */
static void note_credits(struct work *work, const struct logbook *logbook, const char *meter)
{
    char at[STAMP_SIZE], number[NUMBER_SIZE];
    const struct logbook_entry *credit;
    for (int64_t at_s = INT64_MAX; (credit = logbook_credit(logbook, meter, at_s)); at_s = credit->at_s - 1) {
        int64_t energy = credit->number[LOGBOOK_KWH], money = credit->number[LOGBOOK_MONEY];
        stamp_date(at, work->session->civil, credit->at_s);
        if (energy != LOGBOOK_NOTHING)
            sheet_note(work->sheet, "%s: opening credit of %s: %s kWh, %.100s", meter, at,
                       number_print(number, energy, ENERGY_SCALE, UP_TO, ','), credit->text);
        if (money != LOGBOOK_NOTHING)
            sheet_note(work->sheet, "%s: opening credit of %s: %s in money, %.100s", meter, at,
                       number_print(number, money, 6, 2, ','), credit->text);
    }
}

/* Is there a meter of that name, sealed or ours? */
static bool find_meter(const struct config *config, const char *name)
{
    const char *names[CONFIG_MAX_SEALED + CONFIG_MAX_METERS + 1] = { NULL };
    int32_t count = 0;
    for (int32_t i = 0; i < config->sealed_count; i++)
        names[count++] = config->sealed[i].name;
    for (int32_t i = 0; i < config->meter_count; i++)
        names[count++] = config->meters[i].name;
    for (int32_t i = 0; i < count; i++)
        if (strcmp(names[i], name) == 0)
            return true;
    const char *near = nearest(name, names);
    fprintf(stderr,
            near ? "meterbook: there is no meter '%s', did you mean '%s'?\n"
                 : "meterbook: there is no meter '%s', see 'sealed_meters' in the configuration\n",
            name, near);
    return false;
}

static enum exit_code answer(struct work *work, const struct logbook *logbook)
{
    const struct config *config = work->session->config;
    struct spans periods = {
        .config = config, .civil = work->session->civil, .note = hear_note, .self = work->sheet
    };
    struct spans months = periods;
    for (int32_t i = 0; i < config->sealed_count; i++)
        if (!work->only || strcmp(work->only, config->sealed[i].name) == 0) {
            spans_read(&periods, logbook, i);
            if (config->sealed[i].role == ROLE_GRID)
                note_credits(work, logbook, config->sealed[i].name);
        }
    spans_sort(&periods);
    bool by_month = work->options->by == BY_MONTH;
    if (by_month)
        spans_by_month(&months, &periods);
    enum exit_code code = EXIT_NO_DATA;
    const struct spans *shown = by_month ? &months : &periods;
    char(*remarks)[REMARKS_SIZE] = calloc((size_t)shown->count + 1, sizeof(*remarks));
    work->sheet->failed |= shown->memory_out || !remarks;
    for (int32_t i = 0; remarks && i < shown->count; i++)
        add_row(work, &shown->periods[i], remarks[i]);
    if (!by_month)
        add_before(work, logbook);
    if (periods.count == 0 && work->sheet->row_count == 0) {
        fprintf(stderr, "meterbook: the logbook '%s' has no two readings of a sealed meter\n",
                config->logbook);
    } else {
        add_notes(work, &periods);
        code = sheet_print(work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
    }
    free(remarks);
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
    struct work work = { .options = options, .session = session, .sheet = &sheet, .only = name };
    if (name && !find_meter(session->config, name))
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
        code = answer(&work, logbook);
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
