/* The days of a span with the most and the least of a figure. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "extremes.h"
#include "schema.h"
#include "stamp.h"
#include "walk.h"

enum { BY_DEFAULT_COUNT = 3, MOST_DECIMALS = 3, REMARK_SIZE = 64 };

static const struct sheet_column columns[] = {
    { "end", { "", "" }, "", SHEET_TEXT, 0, false },
    { "rank", { "", "" }, "", SHEET_NUMBER, 0, false },
    { "day", { "", "day" }, "", SHEET_DATE, 0, false },
    { "energy_kwh", { "", "energy" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "observed_share", { "", "observed" }, "%", SHEET_SHARE, 0, false },
    { "estimated_kwh", { "estimated,", "all meters" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "remarks", { "", "what of it" }, "", SHEET_TEXT, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]) };

static const char *const words[EXTREMES_FIGURES] = {
    [EXTREMES_PRODUCTION] = "production",
    [EXTREMES_IMPORT] = "import",
    [EXTREMES_EXPORT] = "export",
    [EXTREMES_CONSUMPTION] = "consumption",
    [EXTREMES_SELF_CONSUMPTION] = "self-consumption",
};

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct extremes extremes;
    struct sheet sheet;
    char remarks[2 * EXTREMES_MOST][REMARK_SIZE]; /* one a row */
};

/* What is not known of the balance gives way to the import. */
static enum extremes_of choose(const struct work *work)
{
    static const enum extremes_of ofs[] = {
        [OF_DEFAULT] = EXTREMES_PRODUCTION,    [OF_IMPORT] = EXTREMES_IMPORT,
        [OF_EXPORT] = EXTREMES_EXPORT,         [OF_CONSUMPTION] = EXTREMES_CONSUMPTION,
        [OF_PRODUCTION] = EXTREMES_PRODUCTION, [OF_SELF_CONSUMPTION] = EXTREMES_SELF_CONSUMPTION,
    };
    if (work->options->of == OF_DEFAULT && work->inquiry.head.total.balance.production == UNKNOWN)
        return EXTREMES_IMPORT;
    return ofs[work->options->of];
}

static bool read_count(const char *word, int32_t *count)
{
    char *end = NULL;
    long value = word ? strtol(word, &end, 10) : BY_DEFAULT_COUNT;
    if (value < 1 || value > EXTREMES_MOST || (word && (*end || end == word))) {
        fprintf(stderr, "meterbook: '--count %s': a number of days from 1 to %d\n", word, (int)EXTREMES_MOST);
        return false;
    }
    *count = (int32_t)value;
    return true;
}

static int32_t decimals(const struct work *work)
{
    const struct answer *head = &work->inquiry.head;
    int64_t step = work->extremes.of == EXTREMES_PRODUCTION ? head->production_step
                   : work->extremes.of == EXTREMES_IMPORT || work->extremes.of == EXTREMES_EXPORT
                       ? head->grid_step
                       : head->coarsest_step;
    return number_decimals_of_step(step, MOST_DECIMALS);
}

static void write_remark(char out[REMARK_SIZE], const struct extreme_day *day)
{
    static const struct {
        int32_t flag;
        const char *text;
    } marks[] = {
        { HOW_RUN_CHANGE, "register reset" },
        { HOW_CORRECTED, "corrected" },
        { ROW_ENTERED, "entered" },
    };
    const char *parts[4];
    int32_t count = 0;
    size_t used = 0;
    if (day->observed < SHARE_ONE)
        parts[count++] = "not fully observed";
    for (size_t i = 0; i < sizeof(marks) / sizeof(marks[0]); i++)
        if (day->flags & marks[i].flag)
            parts[count++] = marks[i].text;
    out[0] = '\0';
    for (int32_t i = 0; i < count && used < REMARK_SIZE; i++)
        used += (size_t)snprintf(out + used, REMARK_SIZE - used, "%s%s", i ? ", " : "", parts[i]);
}

static void add_days(struct work *work, const char *end, const struct extreme_day *days, int32_t count)
{
    bool in_table = work->options->format == FORMAT_TABLE;
    for (int32_t i = 0; i < count; i++) {
        char *remark = work->remarks[work->sheet.row_count];
        struct sheet_cell *row = sheet_row(&work->sheet);
        if (!row)
            return;
        /* a table never rounds a share up: 100 % is the whole */
        int64_t cut = in_table ? days[i].observed % (SHARE_ONE / 1000) : 0;
        write_remark(remark, &days[i]);
        row[0].text = end;
        row[1].value = i + 1;
        row[2].value = days[i].from_s;
        row[3] = (struct sheet_cell){ NULL, days[i].energy, decimals(work), true };
        row[4] = (struct sheet_cell){ NULL, days[i].observed - cut, 1, false };
        row[5] = (struct sheet_cell){ NULL, days[i].estimated, decimals(work), true };
        row[6].text = remark;
    }
}

static void add_notes(struct work *work)
{
    const struct extremes *extremes = &work->extremes;
    struct sheet *sheet = &work->sheet;
    sheet_note(sheet, "whole days of the span: %d", (int)extremes->days);
    if (extremes->unobserved > 0)
        sheet_note(
            sheet,
            "not fully observed are %d of them: among the highest they are marked, among the lowest left out",
            (int)extremes->unobserved);
    if (extremes->in_part > 0)
        sheet_note(sheet, "days that are known in part only, left out: %d", (int)extremes->in_part);
}

static enum exit_code print(struct work *work)
{
    char title[CONFIG_NAME_SIZE + 3 * STAMP_SIZE], from[STAMP_SIZE], to[STAMP_SIZE];
    const struct civil *civil = work->inquiry.session.civil;
    sheet_init(&work->sheet, "extremes", civil, columns, COLUMN_COUNT);
    snprintf(title, sizeof(title), "%s, highest and lowest days of %s, %s to %s",
             work->inquiry.head.site.name, words[work->extremes.of],
             stamp_date(from, civil, work->inquiry.from_s), stamp_date(to, civil, work->inquiry.to_s - 1));
    work->sheet.title = title;
    inquiry_head(&work->inquiry, &work->sheet);
    add_notes(work);
    add_days(work, "highest", work->extremes.high, work->extremes.high_count);
    add_days(work, "lowest", work->extremes.low, work->extremes.low_count);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

static enum exit_code answer(struct work *work, int32_t count)
{
    struct walk walk;
    const struct answer_row *row;
    extremes_init(&work->extremes, choose(work), count);
    walk_begin(&walk, &work->inquiry, ROW_DAY);
    while ((row = walk_next(&walk)) != NULL)
        extremes_add(&work->extremes, row);
    if (!walk_end(&walk))
        return EXIT_RECORD;
    if (work->extremes.days > 0)
        return print(work);
    fprintf(stderr, "meterbook: the record has no whole day of %s in that span\n", words[work->extremes.of]);
    return EXIT_NO_DATA;
}

enum exit_code cmd_extremes(const struct options *options, const char *const *arguments)
{
    int32_t count;
    if (options->by != BY_DEFAULT) {
        fputs("meterbook: 'extremes' has no rows that '--by' could choose\n", stderr);
        return EXIT_USAGE;
    }
    if (!arguments[0]) {
        fputs("meterbook: 'extremes' needs a span, see 'meterbook extremes --help'\n", stderr);
        return EXIT_USAGE;
    }
    if (options->of == OF_APPARENT) {
        fputs("meterbook: '--of apparent': it is of 'demand' only\n", stderr);
        return EXIT_USAGE;
    }
    if (!read_count(options->count, &count))
        return EXIT_USAGE;
    struct work *work = calloc(1, sizeof(*work));
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    /* a share of a reading period is no day */
    enum exit_code code = inquiry_open_span(&work->inquiry, options, arguments[0]);
    if (code == EXIT_ANSWERED)
        code = inquiry_read_head(&work->inquiry, NULL, (struct answer_what){ .fine = true });
    if (code == EXIT_ANSWERED)
        code = answer(work, count);
    sheet_free(&work->sheet);
    inquiry_close(&work->inquiry);
    free(work);
    return code;
}
