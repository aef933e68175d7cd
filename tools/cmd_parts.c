/* Which part lags: a ranked table, or each part's ratio by day or month. */
#include <stdio.h>
#include <stdlib.h>

#include "calendar.h"
#include "command.h"
#include "inquiry.h"
#include "parts_words.h"
#include "stamp.h"

enum { TITLE_SIZE = CONFIG_NAME_SIZE + 80, YIELD_SCALE = 3, RATIO_TO_SHARE = SHARE_ONE / PARTS_RATIO_ONE };

static const struct sheet_column ranked_columns[] = {
    { "part", { "", "part" }, "", SHEET_TEXT, 0, false },
    { "kwp", { "", "" }, "kWp", SHEET_NUMBER, 3, false },
    { "made_kwh", { "", "made" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "made_kwh_per_kwp", { "", "per kWp" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "days_compared", { "days", "compared" }, "", SHEET_NUMBER, 0, false },
    { "against_median_share", { "against", "median" }, "%", SHEET_SHARE, SHARE_SCALE, false },
    { "offset_share", { "at the", "beginning" }, "%", SHEET_SHARE, SHARE_SCALE, false },
    { "change_share", { "", "change" }, "%", SHEET_SHARE, SHARE_SCALE, false },
    { "verdict", { "", "verdict" }, "", SHEET_TEXT, 0, false },
    { "since", { "", "" }, "", SHEET_DATE, 0, true },
    { "until", { "", "" }, "", SHEET_DATE, 0, true },
    { "lost_estimated_kwh", { "lost,", "estimated" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "lost_doubt_kwh", { "", "give or take" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "looks_like", { "", "looks like" }, "", SHEET_TEXT, 0, false },
};

static const struct sheet_column day_columns[] = {
    { "part", { "", "part" }, "", SHEET_TEXT, 0, false },
    { "day", { "", "day" }, "", SHEET_DATE, 0, false },
    { "made_kwh_per_kwp", { "per kWp,", "compared" }, "kWh", SHEET_NUMBER, YIELD_SCALE, false },
    { "peers_kwh_per_kwp", { "", "peers" }, "kWh", SHEET_NUMBER, YIELD_SCALE, false },
    { "against_peers_share", { "against", "peers" }, "%", SHEET_SHARE, SHARE_SCALE, false },
    { "state", { "", "" }, "", SHEET_TEXT, 0, false },
};

static const struct sheet_column month_columns[] = {
    { "part", { "", "part" }, "", SHEET_TEXT, 0, false },
    { "month", { "", "month" }, "", SHEET_TEXT, 0, false },
    { "made_kwh_per_kwp", { "per kWp,", "compared" }, "kWh", SHEET_NUMBER, YIELD_SCALE, false },
    { "peers_kwh_per_kwp", { "", "peers" }, "kWh", SHEET_NUMBER, YIELD_SCALE, false },
    { "against_peers_share", { "against", "peers" }, "%", SHEET_SHARE, SHARE_SCALE, false },
    { "days_compared", { "days", "compared" }, "", SHEET_NUMBER, 0, false },
};

#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct parts_answer answer;
    struct sheet sheet;
    char (*texts)[2][PARTS_TEXT_SIZE]; /* per row: verdict and looks, or month; heap */
};

static struct sheet_cell number(int64_t value, int32_t decimals)
{
    return (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static struct sheet_cell ratio(int64_t ten_thousandths)
{
    return number(ten_thousandths * RATIO_TO_SHARE, 1);
}

static int64_t day_start(const struct work *work, int32_t day)
{
    return civil_day_start(work->inquiry.session.civil, parts_civil_day(&work->answer, day));
}

static void add_episode(const struct work *work, struct sheet_cell *row, const struct part_episode *episode)
{
    if (episode->before > 0)
        row[7] = ratio((int64_t)episode->level * PARTS_RATIO_ONE / episode->before - PARTS_RATIO_ONE);
    row[9].value = episode->from_beginning ? UNKNOWN : day_start(work, episode->from);
    row[10].value = episode->to < 0 ? UNKNOWN : day_start(work, episode->to);
    row[11] = number(episode->lost, 0);
    row[12] = number(episode->lost_doubt, 0);
}

static void add_part(struct work *work, int32_t p)
{
    const struct part *part = &work->answer.parts.part[p];
    int64_t peak_w = parts_facts(part, work->answer.parts.days - 1)->peak_w;
    struct sheet_cell *row = sheet_row(&work->sheet);
    if (!row)
        return;
    row[0].text = part->name;
    if (peak_w > 0)
        row[1] = number(peak_w, 2);
    row[2] = number(part->energy, 1);
    row[3] = number(part->yield, 1);
    if (part->verdict != VERDICT_NOT_COMPARABLE) {
        row[4] = number(part->counted, 0);
        row[5] = (struct sheet_cell){ .value = part->against, .decimals = 2 };
        if (part->offset > 0)
            row[6] = ratio(part->offset - PARTS_RATIO_ONE);
    }
    row[8].text = parts_verdict_text(work->texts[p][0], &work->answer, p);
    row[13].text = parts_cause_text(work->texts[p][1], part_main(part));
    if (part_main(part))
        add_episode(work, row, part_main(part));
}

static void add_notes(struct work *work)
{
    char text[PARTS_TEXT_SIZE];
    const struct parts *parts = &work->answer.parts;
    bool lags = false;
    for (int32_t p = 0; p < parts->count; p++) {
        const struct part *part = &parts->part[p];
        if (part->verdict == VERDICT_NOT_COMPARABLE)
            sheet_note(&work->sheet, "%s", parts_alone_text(text, &work->answer, p));
        if (part->unseen_from >= 0)
            sheet_note(&work->sheet, "%s", parts_unseen_text(text, &work->answer, p));
        for (int32_t i = 0; i < part->episode_count; i++)
            if (i != part->main)
                sheet_note(&work->sheet, "%s", parts_other_text(text, &work->answer, p, &part->episodes[i]));
        lags = lags || part->main >= 0;
    }
    sheet_note(
        &work->sheet,
        "one plane: azimuth within %d degrees, tilt within %d; counters of inverters are of no class: a "
        "constant offset is nothing, a change of %d %% counts",
        PLANE_AZIMUTH, PLANE_TILT, PARTS_CHANGE / 100);
    if (!lags)
        return;
    sheet_note(&work->sheet, "what was lost is an estimate from the peers, and in no sum of energies");
    sheet_note(&work->sheet, "have it looked at: a reading of zero is no proof that nothing is live");
}

static void begin_sheet(struct work *work, char title[TITLE_SIZE], const struct sheet_column *columns,
                        int32_t count)
{
    const struct inquiry *inquiry = &work->inquiry;
    char from[STAMP_SIZE], to[STAMP_SIZE], text[PARTS_TEXT_SIZE];
    sheet_init(&work->sheet, "parts", inquiry->session.civil, columns, count);
    snprintf(title, TITLE_SIZE, "%s, parts from %s to %s", inquiry->head.site.name,
             stamp_date(from, inquiry->session.civil, inquiry->from_s),
             stamp_date(to, inquiry->session.civil, inquiry->to_s - 1));
    work->sheet.title = title;
    sheet_note(&work->sheet, "%s", parts_sum_text(text, &work->answer));
}

static void fill_ranked(struct work *work)
{
    int32_t order[PARTS_MOST];
    parts_rank(&work->answer, order);
    for (int32_t i = 0; i < work->answer.parts.count; i++)
        add_part(work, order[i]);
    add_notes(work);
}

static void add_comparison(struct sheet_cell *row, int64_t own, int64_t reference)
{
    if (reference <= 0)
        return;
    row[2] = number(own / PARTS_RATIO_ONE, 2);
    row[3] = number(reference, 2);
    row[4] = (struct sheet_cell){ .value = number_share(own, reference * PARTS_RATIO_ONE) - SHARE_ONE,
                                  .decimals = 1 };
}

static void fill_days(struct work *work)
{
    const struct parts *parts = &work->answer.parts;
    for (int32_t d = parts->span_from; d < parts->days; d++) {
        for (int32_t p = 0; p < parts->count; p++) {
            const struct part_day *day = parts_at(parts, d, p);
            struct sheet_cell *row = sheet_row(&work->sheet);
            if (!row)
                return;
            row[0].text = parts->part[p].name;
            row[1].value = day_start(work, d);
            if (day->ratio != PARTS_NO_RATIO)
                add_comparison(row, (int64_t)day->reference * day->ratio, day->reference);
            row[5].text = part_day_words[day->state];
        }
    }
}

static void add_month(struct work *work, int32_t from, int32_t to, char *month)
{
    const struct parts *parts = &work->answer.parts;
    stamp_month(month, work->inquiry.session.civil, day_start(work, from));
    for (int32_t p = 0; p < parts->count; p++) {
        int64_t own = 0, reference = 0, counted = 0;
        for (int32_t d = from; d < to; d++) {
            const struct part_day *day = parts_at(parts, d, p);
            if (day->ratio == PARTS_NO_RATIO)
                continue;
            own += (int64_t)day->reference * day->ratio;
            reference += day->reference;
            counted += day->state == PART_DAY_COUNTS;
        }
        struct sheet_cell *row = sheet_row(&work->sheet);
        if (!row)
            return;
        row[0].text = parts->part[p].name;
        row[1].text = month;
        add_comparison(row, own, reference);
        row[5] = number(counted, 0);
    }
}

static void fill_months(struct work *work)
{
    const struct parts *parts = &work->answer.parts;
    for (int32_t d = parts->span_from, to, i = 0; d < parts->days; d = to, i++) {
        int64_t next = period_next_month(parts_civil_day(&work->answer, d)) - work->answer.first_day;
        to = next < parts->days ? (int32_t)next : parts->days;
        add_month(work, d, to, work->texts[i][0]);
    }
}

static enum exit_code print(struct work *work)
{
    char title[TITLE_SIZE];
    int32_t by = work->options->by;
    /* a text for each part or month */
    work->texts = calloc((size_t)work->answer.parts.days + PARTS_MOST, sizeof(*work->texts));
    if (by == BY_DAY)
        begin_sheet(work, title, day_columns, COUNT(day_columns));
    else if (by == BY_MONTH)
        begin_sheet(work, title, month_columns, COUNT(month_columns));
    else
        begin_sheet(work, title, ranked_columns, COUNT(ranked_columns));
    work->sheet.failed = work->sheet.failed || !work->texts;
    if (work->texts && by == BY_DAY)
        fill_days(work);
    else if (work->texts && by == BY_MONTH)
        fill_months(work);
    else if (work->texts)
        fill_ranked(work);
    inquiry_head(&work->inquiry, &work->sheet);
    bool good = sheet_print(&work->sheet, work->options);
    sheet_free(&work->sheet);
    free(work->texts);
    return good ? EXIT_ANSWERED : EXIT_RECORD;
}

static enum exit_code compare(struct work *work)
{
    struct session *session = &work->inquiry.session;
    if (!session->logbook && !session_logbook(session))
        return EXIT_RECORD;
    switch (
        parts_read(&work->answer, session->query, session->civil, session->logbook, &work->inquiry.period)) {
    case PARTS_READY:
        return print(work);
    case PARTS_NONE:
        fputs(
            "meterbook: nothing to compare: in that span there are no parts, and no production meters with a "
            "peak_power\n",
            stderr);
        return EXIT_NO_DATA;
    case PARTS_FAILED:
        break;
    }
    return session_failed(session);
}

enum exit_code cmd_parts(const struct options *options, const char *const *arguments)
{
    struct work work = { .options = options };
    if (options->by != BY_DEFAULT && options->by != BY_MONTH && options->by != BY_DAY) {
        fputs("meterbook: '--by' of parts: allowed are default, day, month\n", stderr);
        return EXIT_USAGE;
    }
    enum exit_code code =
        inquiry_open_of(&work.inquiry, options, arguments[0], "all", (struct answer_what){ .fine = true });
    if (code == EXIT_ANSWERED)
        code = compare(&work);
    parts_answer_free(&work.answer);
    inquiry_close(&work.inquiry);
    return code;
}
