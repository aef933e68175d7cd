#include "meter_list.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "doubt.h"
#include "inquiry.h"
#include "meters.h"
#include "stamp.h"

enum { REMARK_SIZE = ANSWER_MAX_MARKS * (MARK_SIZE + 2), MOST_DECIMALS = 3, MOST_DAYS_BY_DAY = 62 };

static const struct sheet_column columns[] = {
    { "meter", { "", "meter" }, "", SHEET_NUMBER, 0, false },
    { "name", { "", "name" }, "", SHEET_TEXT, 0, false },
    { "role", { "", "role" }, "", SHEET_TEXT, 0, false },
    { "import_kwh", { "", "import" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "export_kwh", { "", "export" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "estimated_kwh", { "", "estimated" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "observed_share", { "", "observed" }, "%", SHEET_SHARE, 0, false },
    { "remarks", { "", "what of it" }, "", SHEET_TEXT, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]) };

struct work {
    struct inquiry inquiry; /* without a head: what there is of each meter is said beside it */
    struct meters meters;
    char (*remarks)[REMARK_SIZE]; /* heap: one a meter */
    struct sheet sheet;
};

/* The marks of one meter, beside it. */
static void join_marks(char out[REMARK_SIZE], const struct answer *answer)
{
    size_t used = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < answer->mark_count && used < REMARK_SIZE; i++)
        used += (size_t)snprintf(out + used, REMARK_SIZE - used, "%s%s", i ? ", " : "", answer->marks[i]);
}

static struct sheet_cell energy(int64_t value, const struct answer *answer)
{
    return (struct sheet_cell){ .value = value,
                                .decimals = number_decimals_of_step(answer->coarsest_step, MOST_DECIMALS),
                                .thousands = true };
}

static void add_row(struct work *work, int32_t index, const struct answer *answer, bool any, bool cut)
{
    const struct arranged_meter *meter = &work->meters.list[index];
    const struct answer_row *total = &answer->total;
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0] = (struct sheet_cell){ .value = meter->number };
    row[1].text = meter->name;
    row[2].text = role_name(meter->role);
    row[7].text = work->remarks[index];
    if (!any) {
        snprintf(work->remarks[index], REMARK_SIZE, "%s", answer->notes[0]);
        return;
    }
    join_marks(work->remarks[index], answer);
    int64_t observed = answer_observed_share(total);
    row[3] = energy(total->balance.import, answer);
    row[4] = energy(total->balance.export, answer);
    row[5] = energy(total->balance.estimated, answer);
    if (observed != UNKNOWN && cut)
        observed -= observed % (SHARE_ONE / 1000);
    row[6] = (struct sheet_cell){ .value = observed, .decimals = 1 };
}

/* Marks of single meters that the head line counts. */
static const char *const counted[] = { "estimated", "corrected", "entered rows", "dating in doubt" };
enum { COUNTED = sizeof(counted) / sizeof(counted[0]) };

static void count_marks(const struct answer *answer, int32_t counts[COUNTED])
{
    for (int32_t i = 0; i < answer->mark_count; i++)
        for (int32_t j = 0; j < COUNTED; j++)
            counts[j] += strncmp(answer->marks[i], counted[j], strlen(counted[j])) == 0;
}

static void mark_head(struct work *work, const int32_t counts[COUNTED])
{
    if (work->inquiry.what.measured_only)
        sheet_mark(&work->sheet, "measured values only");
    for (int32_t i = 0; i < COUNTED; i++)
        if (counts[i] > 0)
            sheet_mark(&work->sheet, "%s: %d of %d meters", counted[i], (int)counts[i],
                       (int)work->meters.count);
}

/* EXIT_NO_DATA, said on stderr, where no meter has anything. */
static enum exit_code add_meters(struct work *work, bool cut)
{
    struct session *session = &work->inquiry.session;
    const struct period period = work->inquiry.period;
    enum row_unit unit = period.to_day - period.from_day > MOST_DAYS_BY_DAY ? ROW_MONTH : ROW_DAY;
    int32_t counts[COUNTED] = { 0 }, ready = 0;
    for (int32_t i = 0; i < work->meters.count; i++) {
        struct answer answer = { 0 };
        struct answer_what what = work->inquiry.what;
        what.meter = work->meters.list[i].number;
        enum answer_result result =
            answer_build_of(&answer, session->query, session->civil, NULL, period, unit, what);
        if (result == ANSWER_READY && doubt_add(&answer, session->query) != 0)
            result = ANSWER_FAILED;
        if (result != ANSWER_FAILED)
            add_row(work, i, &answer, result == ANSWER_READY, cut);
        if (result == ANSWER_READY)
            count_marks(&answer, counts);
        ready += result == ANSWER_READY;
        answer_free(&answer);
        if (result == ANSWER_FAILED || query_error(session->query))
            return session_failed(session);
    }
    mark_head(work, counts);
    if (ready > 0)
        return EXIT_ANSWERED;
    fprintf(stderr, "meterbook: %s\n", work->meters.count ? work->remarks[0] : "the record has no meters");
    return EXIT_NO_DATA;
}

static enum exit_code fill(struct work *work, const struct options *options)
{
    char title[CONFIG_NAME_SIZE + 2 * STAMP_SIZE + 40], from[STAMP_SIZE], to[STAMP_SIZE];
    struct session *session = &work->inquiry.session;
    struct site site = { 0 };
    if (!meters_read(&work->meters, session))
        return EXIT_RECORD;
    query_begin(session->query);
    query_site(session->query, &site);
    query_end(session->query);
    work->remarks = calloc((size_t)work->meters.count + 1, sizeof(*work->remarks));
    sheet_init(&work->sheet, "totals", session->civil, columns, COLUMN_COUNT);
    snprintf(title, sizeof(title), "%s, totals of each meter %s to %s", site.name,
             stamp_date(from, session->civil, work->inquiry.from_s),
             stamp_date(to, session->civil, work->inquiry.to_s - 1));
    work->sheet.title = title;
    work->sheet.failed = !work->remarks;
    sheet_note(&work->sheet,
               "each meter's own counters, as they count with the corrections of the logbook: no "
               "figure of the balance");
    if (work->inquiry.what.measured_only)
        sheet_note(&work->sheet, "measured values only: each meter without its intervals that are estimated, "
                                 "interpolated or not observed whole");
    /* A table never rounds a share up: 100 % is the whole. */
    enum exit_code code = work->remarks ? add_meters(work, options->format == FORMAT_TABLE) : EXIT_ANSWERED;
    if (code != EXIT_ANSWERED)
        return code;
    return sheet_print(&work->sheet, options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code meter_list(const struct options *options, const char *span)
{
    struct work work = { 0 };
    enum exit_code code = inquiry_open_span(&work.inquiry, options, span);
    work.inquiry.what.measured_only = options->measured_only;
    if (code == EXIT_ANSWERED)
        code = fill(&work, options);
    sheet_free(&work.sheet);
    free(work.remarks);
    inquiry_close(&work.inquiry);
    return code;
}
