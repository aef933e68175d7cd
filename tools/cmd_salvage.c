#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "command.h"
#include "config.h"
#include "salvage.h"
#include "sheet.h"
#include "stamp.h"

static const struct sheet_column columns[] = {
    { "what", { "", "" }, "", SHEET_TEXT, 0, false },
    { "name", { "", "name" }, "", SHEET_TEXT, 0, false },
    { "rows", { "", "rows" }, "", SHEET_NUMBER, 0, false },
    { "pages", { "", "pages" }, "", SHEET_NUMBER, 0, false },
    { "damaged", { "damaged", "pages" }, "", SHEET_NUMBER, 0, false },
    { "broken", { "broken", "rows" }, "", SHEET_NUMBER, 0, false },
    { "from", { "", "from" }, "", SHEET_INSTANT, 0, false },
    { "to", { "", "to" }, "", SHEET_INSTANT, 0, false },
    { "result", { "", "result" }, "", SHEET_TEXT, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), MOST_METERS = 128 };

static const char *const fates[FATE_COUNT] = {
    [FATE_FILLED] = "filled",
    [FATE_OPEN] = "left to the collector",
    [FATE_MISSING] = "missing",
};

struct work {
    const struct options *options;
    const char *from, *to;
    struct salvage *salvage;
    struct config *config;
    int32_t name_count;
    struct {
        int32_t meter;
        char name[CONFIG_NAME_SIZE];
    } names[MOST_METERS];
};

/* ---- the report ---- */

static const char *meter_name(struct work *work, sqlite3 *record, int32_t meter)
{
    for (int32_t i = 0; i < work->name_count; i++)
        if (work->names[i].meter == meter)
            return work->names[i].name;
    if (work->name_count == MOST_METERS)
        return "";
    char *name = work->names[work->name_count].name;
    sqlite3_stmt *statement = NULL;
    work->names[work->name_count++].meter = meter;
    snprintf(name, CONFIG_NAME_SIZE, "meter %d", (int)meter);
    if (sqlite3_prepare_v2(record, "SELECT name FROM meter_setting WHERE meter = ?1 ORDER BY setting DESC",
                           -1, &statement, NULL) == SQLITE_OK) {
        sqlite3_bind_int(statement, 1, meter);
        if (sqlite3_step(statement) == SQLITE_ROW && sqlite3_column_bytes(statement, 0) > 0)
            snprintf(name, CONFIG_NAME_SIZE, "%s", (const char *)sqlite3_column_text(statement, 0));
    }
    sqlite3_finalize(statement);
    return name;
}

static void list_tables(const struct work *work, struct sheet *sheet)
{
    for (int32_t t = 1; t < work->salvage->shape_count; t++) {
        const struct salvage_count *count = &work->salvage->counts[t];
        if (strncmp(work->salvage->shapes[t].name, "correct", 7) == 0)
            continue; /* made anew */
        struct sheet_cell *row = sheet_row(sheet);
        if (!row)
            return;
        row[0].text = "table";
        row[1].text = work->salvage->shapes[t].name;
        row[2].value = count->rows;
        row[3].value = count->pages;
        row[4].value = count->damaged;
        row[5].value = count->broken;
        row[8].text = "recovered";
    }
}

static void list_spans(struct work *work, struct sheet *sheet, sqlite3 *record)
{
    const struct salvage *salvage = work->salvage;
    for (int64_t i = 0; i < salvage->span_count && i < SALVAGE_SPANS; i++) {
        const struct salvage_span *span = &salvage->spans[i];
        struct sheet_cell *row = sheet_row(sheet);
        if (!row)
            return;
        row[0].text = "meter";
        row[1].text = meter_name(work, record, span->meter);
        row[2].value = span->rows;
        row[6].value = span->from_s;
        row[7].value = span->to_s == INT64_MAX ? UNKNOWN : span->to_s;
        row[8].text = fates[span->fate];
    }
    if (salvage->span_count > SALVAGE_SPANS)
        sheet_note(sheet, "%lld further spans are not listed",
                   (long long)salvage->span_count - SALVAGE_SPANS);
}

static void add_notes(const struct work *work, struct sheet *sheet)
{
    const struct salvage *salvage = work->salvage;
    bool seen[FATE_COUNT] = { false };
    for (int64_t i = 0; i < salvage->span_count && i < SALVAGE_SPANS; i++)
        seen[salvage->spans[i].fate] = true;
    if (!salvage->pages.headed)
        sheet_note(sheet, "the file's header is destroyed");
    if (!salvage->pages.free_known)
        sheet_note(sheet,
                   "the list of given-up pages cannot be read: rows that were deleted may be among these");
    if (salvage->pages.stated > salvage->pages.count || salvage->pages.cut)
        sheet_note(sheet, "the file was cut: %u of %u pages are there", (unsigned)salvage->pages.count,
                   (unsigned)salvage->pages.stated + (salvage->pages.cut > 0));
    if (salvage->pages.log_lost)
        sheet_note(sheet, "%d pages at the end of its '-wal' file cannot be used",
                   (int)salvage->pages.log_lost);
    if (seen[FATE_FILLED])
        sheet_note(sheet, "filled: the energy of lost intervals is known from their day or their register "
                          "run; it is spread evenly over them and marked");
    if (seen[FATE_OPEN])
        sheet_note(sheet,
                   "left to the collector: rows of the day not closed yet, from the first lost one on; its "
                   "next reading closes the span with its exact energy");
    if (seen[FATE_MISSING])
        sheet_note(sheet, "missing: nothing is known of these intervals, or they never were");
    for (int32_t i = 0; i < salvage->note_count; i++)
        sheet_note(sheet, "%s", salvage->notes[i]);
}

static enum exit_code report(struct work *work)
{
    struct sheet sheet;
    sqlite3 *record = NULL;
    char title[2 * CONFIG_PATH_SIZE + 40];
    snprintf(title, sizeof(title), "salvaged from '%s' to '%s'", work->from, work->to);
    sheet_init(&sheet, "salvage", work->salvage->civil, columns, COLUMN_COUNT);
    sheet.title = title;
    if (sqlite3_open_v2(work->to, &record, SQLITE_OPEN_READONLY, NULL) != SQLITE_OK)
        sheet_note(&sheet, "%s", sqlite3_errmsg(record));
    add_notes(work, &sheet);
    list_tables(work, &sheet);
    list_spans(work, &sheet, record);
    sqlite3_close(record);
    bool good = sheet_print(&sheet, work->options);
    sheet_free(&sheet);
    return good ? EXIT_ANSWERED : EXIT_RECORD;
}

/* ---- the command ---- */

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    if (error)
        fprintf(stderr, "meterbook: %s\n", line);
}

static enum exit_code work_on(struct work *work, int64_t now_s)
{
    if (salvage_record(work->salvage, work->from, work->to, work->config, now_s))
        return report(work);
    fprintf(stderr, "meterbook: cannot salvage '%s': %s\n", work->from, work->salvage->why);
    return EXIT_RECORD;
}

enum exit_code cmd_salvage(const struct options *options, const char *const *arguments)
{
    struct work work = { .options = options, .from = arguments[0], .to = arguments[1] };
    int64_t now_s = time(NULL);
    if (!work.from || !work.to || strlen(work.from) >= CONFIG_PATH_SIZE ||
        strlen(work.to) >= CONFIG_PATH_SIZE) {
        fputs("meterbook: salvage needs the paths of two files: the damaged record and the new one\n",
              stderr);
        return EXIT_USAGE;
    }
    if (options->now && !stamp_read(options->now, &now_s)) {
        fprintf(stderr, "meterbook: '--now %s': an instant is 2026-03-05T14:05:00Z\n", options->now);
        return EXIT_USAGE;
    }
    if (options->config) {
        struct problems problems = { .say = say_problem };
        work.config = config_load_site(options->config, &problems);
        if (!work.config)
            return EXIT_RECORD;
    }
    work.salvage = calloc(1, sizeof(*work.salvage));
    enum exit_code code = work.salvage ? work_on(&work, now_s) : EXIT_RECORD;
    if (work.salvage)
        salvage_finish(work.salvage);
    free(work.salvage);
    config_free(work.config);
    return code;
}
