/* The published checks over a span of the record. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "session.h"
#include "sheet.h"
#include "stamp.h"
#include "validate_walk.h"

static const struct sheet_column columns[] = {
    { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
    { "check", { "", "check" }, "", SHEET_TEXT, 0, false },
    { "item", { "", "what passed says" }, "", SHEET_TEXT, 0, false },
    { "result", { "", "result" }, "", SHEET_TEXT, 0, false },
    { "tested", { "", "tested" }, "", SHEET_NUMBER, 0, false },
    { "found", { "", "found" }, "", SHEET_NUMBER, 0, false },
    { "not_told", { "not", "told" }, "", SHEET_NUMBER, 0, false },
    { "worst_kwh", { "", "worst" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "worst_share", { "", "worst" }, "%", SHEET_SHARE, 0, false },
    { "worst_s", { "", "worst" }, "s", SHEET_NUMBER, 0, false },
    { "worst_at", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "first_at", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "second_at", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "third_at", { "", "" }, "", SHEET_INSTANT, 0, true },
    { "remark", { "", "where, and what of it" }, "", SHEET_TEXT, 0, false },
};
enum {
    COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]),
    WHERE_SIZE = TALLY_PLACES * STAMP_SIZE + TALLY_REMARK_SIZE + 40,
    MOST_ROWS = (VALIDATE_METERS + CONFIG_MAX_SEALED + 1) * ITEM_COUNT,
    UP_TO = 3,
    WH = 1000, /* mWh */
};

struct work {
    const struct options *options;
    struct session session;
    struct config *stored; /* the configuration in force at the span's end; NULL */
    struct validate validate;
    struct sheet sheet;
    char title[CONFIG_NAME_SIZE + 80];
    char (*texts)[WHERE_SIZE]; /* heap: one a row */
    int32_t failed, told;      /* rows */
};

static const char allowed[] =
    "a span is YYYY, YYYY-MM or YYYY-MM-DD (as in 2026-03), today, yesterday, this or last";

static bool read_period(const char *word, int64_t today, struct period *period)
{
    if (word && period_day(period, word, today) == NULL)
        return true;
    if (!word || period_month(period, word, today) == NULL)
        return period_month(period, word, today) == NULL;
    return period_year(period, word, today) == NULL;
}

static void choose_facts(struct work *work)
{
    struct validate *validate = &work->validate;
    int32_t setting;
    int64_t to_s = civil_day_start(work->session.civil, validate->period.to_day);
    work->stored = config_load_stored(query_setting_text(work->session.query, to_s, &setting));
    const struct config *source = work->session.config ? work->session.config : work->stored;
    validate->checks = source ? source->checks : config_default_checks();
    validate->facts = work->stored ? work->stored : work->session.config;
    validate->config = work->session.config;
    validate->logbook = work->session.logbook;
    sheet_note(&work->sheet,
               "yardstick: Standards for Validating, Editing, and Estimating Monthly and Interval Data "
               "(California, attachment VEE)");
    sheet_note(
        &work->sheet,
        "of its text only the two hours and the reference days are read (contents page); by default 180 %% "
        "for spikes is from memory, all else our own choice or common practice");
    sheet_note(
        &work->sheet,
        "thresholds %s: day %d to %d %%, month %d to %d %%, clear sky %d %%, residual %d %%, spikes in "
        "%d min from %d %% of rated power",
        work->session.config ? "of the configuration"
        : work->stored       ? "of the record's settings"
                             : "by default",
        (int)validate->checks.day_low_percent, (int)validate->checks.day_high_percent,
        (int)validate->checks.month_low_percent, (int)validate->checks.month_high_percent,
        (int)validate->checks.clear_sky_percent, (int)validate->checks.residual_percent,
        (int)validate->checks.spike_block_s / 60, (int)validate->checks.spike_floor_percent);
    if (!validate->facts)
        sheet_note(&work->sheet, "where the site lies is not known here: nothing is told of the sun");
    if (!work->session.logbook)
        sheet_note(&work->sheet, "no logbook at hand: no sealed meters, no declared exchanges");
}

static void write_where(const struct work *work, const struct tally *tally, char out[WHERE_SIZE])
{
    char stamp[STAMP_SIZE];
    size_t at = 0;
    int64_t found = tally->failed ? tally->failed : tally->noted;
    out[0] = '\0';
    for (int32_t i = 0; i < tally->place_count; i++)
        if (tally->places[i] != UNKNOWN)
            at += (size_t)snprintf(out + at, WHERE_SIZE - at, "%s%s", at ? ", " : "",
                                   stamp_minute(stamp, work->session.civil, tally->places[i]));
    if (at > 0 && found > tally->place_count && tally->place_count == TALLY_PLACES)
        at += (size_t)snprintf(out + at, WHERE_SIZE - at, " ...");
    if (work->options->format != FORMAT_TABLE)
        at = 0; /* data have columns for the instants */
    out[at] = '\0';
    snprintf(out + at, WHERE_SIZE - at, "%s%s", at > 0 && tally->remark[0] ? ": " : "", tally->remark);
}

static void set_number(struct sheet_cell *cell, int64_t value, int32_t decimals)
{
    *cell = (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

/* What should be nothing is shown to the last digit where it is less than a Wh. */
static int32_t energy_decimals(int64_t energy)
{
    return energy != 0 && llabs(energy) < WH ? ENERGY_SCALE : UP_TO;
}

static void add_row(struct work *work, const char *meter, enum item item, const struct tally *tally)
{
    enum tally_result result = tally_result(tally);
    if (result == TALLY_ABSENT)
        return;
    char *where = work->texts[work->sheet.row_count];
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    write_where(work, tally, where);
    row[0].text = meter;
    row[1].text = item_infos[item].check;
    row[2].text = item_infos[item].name;
    row[3].text = tally_result_words[result];
    set_number(&row[4], tally->tested, 0);
    set_number(&row[5], tally->failed ? tally->failed : tally->noted, 0);
    set_number(&row[6], tally->untold, 0);
    row[14].text = where;
    if (!tally_has_worst(tally))
        return;
    set_number(&row[7], tally->worst.energy, energy_decimals(tally->worst.energy));
    row[8] = (struct sheet_cell){ .value = tally->worst.share, .decimals = 1 };
    set_number(&row[9], tally->worst.seconds, 0);
    row[10].value = tally->worst.at_s;
    for (int32_t i = 0; i < tally->place_count; i++)
        row[11 + i].value = tally->places[i];
}

/* In a table what passed of a check is one line, behind what did not; data have a row for each. */
static void add_passed(struct work *work, const char *meter, enum item item, bool all)
{
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0].text = meter;
    row[1].text = item_infos[item].check;
    row[2].text = all ? "everything" : "everything else";
    row[3].text = tally_result_words[TALLY_PASSED];
}

static void add_meter(struct work *work, const char *meter, const struct tally tallies[ITEM_COUNT])
{
    bool table = work->options->format == FORMAT_TABLE;
    int32_t passed = 0, shown = 0; /* of the check that is going on */
    for (int32_t i = 0; i < ITEM_COUNT; i++) {
        enum tally_result result = tally_result(&tallies[i]);
        bool merge = table && result == TALLY_PASSED && !tally_has_worst(&tallies[i]);
        bool last = i + 1 == ITEM_COUNT || item_infos[i].check != item_infos[i + 1].check;
        work->told += result != TALLY_ABSENT && result != TALLY_UNTOLD;
        work->failed += result == TALLY_FAILED;
        passed += merge;
        shown += !merge && result != TALLY_ABSENT;
        if (!merge)
            add_row(work, meter, (enum item)i, &tallies[i]);
        if (last && passed > 0)
            add_passed(work, meter, (enum item)i, shown == 0);
        if (last)
            passed = shown = 0;
    }
}

static void add_rows(struct work *work)
{
    const struct validate *validate = &work->validate;
    add_meter(work, "site", validate->site);
    for (int32_t m = 0; m < validate->meter_count; m++)
        add_meter(work, validate->meters[m].arranged.name, validate->meters[m].tallies);
    for (int32_t i = 0; work->session.config && i < work->session.config->sealed_count; i++)
        add_row(work, work->session.config->sealed[i].name, ITEM_SEALED, &validate->sealed[i]);
}

/* No figure of estimated energy without its size beside the whole. */
static void add_estimated(struct work *work)
{
    char text[NUMBER_SIZE], share[NUMBER_SIZE];
    int64_t filled = 0, energy = 0;
    for (int32_t m = 0; m < work->validate.meter_count; m++) {
        const struct shares *shares = &work->validate.meters[m].shares;
        filled += shares->interpolated + shares->estimated;
        energy += shares->energy;
    }
    if (filled > 0 && energy > 0)
        sheet_note(&work->sheet, "placed by filling gaps, all meters: %s kWh, %s %% of what they counted",
                   number_print(text, filled, ENERGY_SCALE, UP_TO, ','),
                   number_print(share, number_share(filled, energy), SHARE_SCALE - 2, 2, 0));
}

static enum exit_code print(struct work *work)
{
    work->texts = calloc(MOST_ROWS, sizeof(*work->texts));
    work->sheet.failed |= !work->texts;
    if (work->texts)
        add_rows(work);
    add_estimated(work);
    if (work->validate.correcting)
        sheet_note(&work->sheet, "corrections are being applied: some figures are still as measured");
    sheet_note(&work->sheet, "failed: %d of %d that could be told", (int)work->failed, (int)work->told);
    if (!sheet_print(&work->sheet, work->options))
        return EXIT_RECORD;
    return work->failed ? EXIT_FAILED : EXIT_ANSWERED;
}

static void write_title(struct work *work, const struct site *site)
{
    const struct validate *validate = &work->validate;
    char from[STAMP_SIZE], to[STAMP_SIZE];
    bool one_day = validate->period.to_day - validate->period.from_day == 1;
    snprintf(work->title, sizeof(work->title), "%s, checks of %s%s%s, %s", site->name,
             stamp_date(from, work->session.civil, validate->from_s), one_day ? "" : " to ",
             one_day ? "" : stamp_date(to, work->session.civil, validate->to_s - 1), site->zone);
    work->sheet.title = work->title;
}

static enum exit_code run(struct work *work)
{
    struct validate *validate = &work->validate;
    struct site site;
    query_begin(work->session.query);
    query_site(work->session.query, &site);
    choose_facts(work);
    bool good = validate_run(validate);
    query_end(work->session.query);
    if (good)
        validate_sealed(validate);
    if (!good || validate->memory_out || query_error(work->session.query))
        return session_failed(&work->session);
    if (validate->rows == 0) {
        fputs("meterbook: the record holds no interval of that span\n", stderr);
        return EXIT_NO_DATA;
    }
    write_title(work, &site);
    return print(work);
}

static enum exit_code answer(struct work *work, const char *span)
{
    if (!read_period(span, work->session.today, &work->validate.period)) {
        fprintf(stderr, "meterbook: '%s': %s\n", span, allowed);
        return EXIT_USAGE;
    }
    return session_logbook(&work->session) ? run(work) : EXIT_RECORD;
}

static void finish(struct work *work)
{
    validate_free(&work->validate);
    sheet_free(&work->sheet);
    config_free(work->stored);
    session_close(&work->session);
    free(work->texts);
    free(work);
}

enum exit_code cmd_validate(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    enum exit_code code = session_open(&work->session, options);
    if (code == EXIT_ANSWERED) {
        sheet_init(&work->sheet, "validate", work->session.civil, columns, COLUMN_COUNT);
        work->validate.query = work->session.query;
        work->validate.civil = work->session.civil;
        work->validate.now_s = work->session.now_ms / 1000;
        code = answer(work, arguments[0]);
    }
    finish(work);
    return code;
}
