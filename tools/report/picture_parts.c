/* Parts of the plant beside their peers: a band each, darker where the part stayed behind. */
#include "html.h"
#include "parts_words.h"
#include "picture.h"
#include "stamp.h"

enum { ROW = 340, NAME_BELOW = 110, BAND = 160, BAND_END = 310, WEEK = 7, DAYS_BY_DAY = 62, LEVELS = 4 };

/* Shares of its peers' yield, 10^-4, from which on a part counts as alike, and below. */
static const int32_t bounds[LEVELS] = { 9700, 9000, 7000, 0 };
static const char *const classes[LEVELS] = { "f-nothing", "f-i2", "f-i4", "f-i6" };

struct drawing {
    const struct report *report;
    const struct parts_answer *answer;
    struct svg svg;
    int32_t days_a_cell;
};

/* Level of some days of a part; -1 where none of them counts. A part is held against its own level at the
 * beginning: counters of inverters are of no class, a constant offset is nothing. */
static int32_t level_of(const struct drawing *drawing, int32_t p, int32_t from, int32_t to)
{
    const struct parts *parts = &drawing->answer->parts;
    const struct part *part = &parts->part[p];
    int64_t own = 0, reference = 0;
    for (int32_t d = from; d < to && d < parts->days; d++) {
        const struct part_day *day = parts_at(parts, d, p);
        if (day->state != PART_DAY_COUNTS || day->ratio == PARTS_NO_RATIO)
            continue;
        own += (int64_t)day->reference * day->ratio;
        reference += day->reference;
    }
    if (reference == 0)
        return -1;
    int64_t ratio = own / reference;
    bool begins_low = part->verdict == VERDICT_LOW || part->verdict == VERDICT_LOW_UNTIL;
    if (part->offset > 0 && !begins_low)
        ratio = ratio * PARTS_RATIO_ONE / part->offset;
    int32_t level = 0;
    while (level < LEVELS - 1 && ratio < bounds[level])
        level++;
    return level;
}

static int32_t place_of_day(const struct drawing *drawing, int32_t day)
{
    int64_t civil_day = parts_civil_day(drawing->answer, day);
    return picture_span_place(drawing->report,
                              civil_day_start(drawing->report->inquiry->session.civil, civil_day));
}

static void draw_band(struct drawing *drawing, int32_t p, int32_t top)
{
    const struct parts *parts = &drawing->answer->parts;
    for (int32_t d = parts->span_from; d < parts->days;) {
        int32_t first = d, level = level_of(drawing, p, d, d + drawing->days_a_cell);
        while (d < parts->days && level_of(drawing, p, d, d + drawing->days_a_cell) == level)
            d += drawing->days_a_cell;
        int32_t from = place_of_day(drawing, first), to = place_of_day(drawing, d);
        svg_rect(&drawing->svg, level < 0 ? "dots" : classes[level], from, to - from, top + BAND,
                 top + BAND_END);
    }
    putc('\n', drawing->report->out);
}

static void draw(const struct report *report, const struct parts_answer *answer,
                 const int32_t order[PARTS_MOST], const char *sentence)
{
    struct drawing drawing = { .report = report, .answer = answer };
    const struct parts *parts = &answer->parts;
    char title[REPORT_SENTENCE];
    drawing.days_a_cell = parts->days - parts->span_from > DAYS_BY_DAY ? WEEK : 1;
    snprintf(title, sizeof(title), "Parts of the plant per kWp beside their peers, %s", report->span);
    picture_open(report);
    svg_open(&drawing.svg, report->out, "picture-parts", parts->count * ROW / 10, title, sentence);
    for (int32_t i = 0; i < parts->count; i++) {
        svg_text(&drawing.svg, "n", 0, i * ROW + NAME_BELOW, parts->part[order[i]].name);
        draw_band(&drawing, order[i], i * ROW);
    }
    picture_slots(&drawing.svg, report, picture_span_place);
    if (report->has_seam)
        picture_seam(&drawing.svg, report, picture_span_place(report, report->seam_s));
    svg_close(&drawing.svg);
    const struct picture_key keys[] = {
        { true, "f-nothing", "97 % or more" },    { true, "f-i2", "90 to 97 %" },
        { true, "f-i4", "70 to 90 %" },           { true, "f-i6", "less than 70 %" },
        { true, "dots", "dotted: not compared" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    report_sentence(report,
                    "Yield per kWp beside the median of its peers in one plane, by the %s, as against the "
                    "part's own level in its first days.",
                    drawing.days_a_cell == WEEK ? "week" : "day");
    picture_close(report, sentence);
}

static void write_row(const struct report *report, const struct parts_answer *answer, int32_t p)
{
    const struct part *part = &answer->parts.part[p];
    const struct part_episode *episode = part_main(part);
    int64_t peak_w = parts_facts(part, answer->parts.days - 1)->peak_w;
    char number[NUMBER_SIZE], text[PARTS_TEXT_SIZE];
    bool known = peak_w > 0 && part->energy != UNKNOWN;
    html_row_open(report->out);
    html_row_head(report->out, part->name);
    html_cell(report->out, peak_w > 0 ? number_print(number, peak_w, 3, 2, ',') : NULL);
    html_cell(report->out,
              known ? number_print(number, part->energy / peak_w * 1000, ENERGY_SCALE, 1, ',') : NULL);
    html_cell(report->out,
              part->against == UNKNOWN ? NULL : number_print(number, part->against, SHARE_SCALE - 2, 2, 0));
    html_words(report->out, parts_verdict_text(text, answer, p));
    html_words(report->out, parts_cause_text(text, episode));
    html_cell(report->out, episode && episode->lost != UNKNOWN
                               ? number_print(number, episode->lost, ENERGY_SCALE, 0, ',')
                               : NULL);
    html_row_close(report->out);
}

static void write_table(const struct report *report, const struct parts_answer *answer,
                        const int32_t order[PARTS_MOST])
{
    html_table_open(report->out, "Table of parts");
    html_row_open(report->out);
    html_column(report->out, "part", "");
    html_column(report->out, "", "kWp");
    html_column(report->out, "per kWp", "kWh");
    html_column(report->out, "against median", "%");
    html_column(report->out, "verdict", NULL);
    html_column(report->out, "looks like", NULL);
    html_column(report->out, "lost, estimated", "kWh");
    html_row_close(report->out);
    for (int32_t i = 0; i < answer->parts.count; i++)
        write_row(report, answer, order[i]);
    html_table_close(report->out);
}

/* The part that comes first, if it stays or stayed behind. */
static void say(const struct parts_answer *answer, const int32_t order[PARTS_MOST],
                char sentence[REPORT_SENTENCE])
{
    char verdict[PARTS_TEXT_SIZE], cause[PARTS_TEXT_SIZE];
    int32_t behind = 0, at = 0;
    for (int32_t i = 0; i < answer->parts.count; i++) {
        const struct part *part = &answer->parts.part[order[i]];
        if (part->verdict < VERDICT_LAGS)
            continue;
        if (behind++ > 0)
            continue;
        parts_cause_text(cause, part_main(part));
        at = snprintf(sentence, REPORT_SENTENCE, "%.60s %.120s%s%.120s", part->name,
                      parts_verdict_text(verdict, answer, order[i]), *cause ? ", which looks like " : "",
                      cause);
    }
    if (behind == 0)
        snprintf(sentence, REPORT_SENTENCE, "No part stays behind its peers.");
    else if (behind == 1)
        snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), "; no other part stayed behind.");
    else
        snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), "; %d more stayed behind for a time.",
                 (int)behind - 1);
}

/* What limits the comparison. */
static void write_notes(const struct report *report, const struct parts_answer *answer)
{
    char text[PARTS_TEXT_SIZE];
    bool lags = false;
    report_sentence(report, "Sum: %s.", parts_sum_text(text, answer));
    for (int32_t p = 0; p < answer->parts.count; p++) {
        const struct part *part = &answer->parts.part[p];
        if (part->verdict == VERDICT_NOT_COMPARABLE)
            report_sentence(report, "%s.", parts_alone_text(text, answer, p));
        for (int32_t i = 0; i < part->episode_count; i++)
            if (i != part->main)
                report_sentence(report, "%s.", parts_other_text(text, answer, p, &part->episodes[i]));
        lags = lags || part->main >= 0;
    }
    if (lags)
        report_sentence(report,
                        "What was lost is an estimate from the peers, and in no sum of energies. Have it "
                        "looked at: a reading of zero is no proof that nothing is live.");
}

static bool any_compared(const struct parts *parts)
{
    for (int32_t p = 0; p < parts->count; p++)
        if (parts->part[p].verdict > VERDICT_TOO_LITTLE)
            return true;
    return false;
}

static void write_section(struct report *report, const struct parts_answer *answer)
{
    int32_t order[PARTS_MOST];
    char sentence[REPORT_SENTENCE], text[PARTS_TEXT_SIZE];
    if (!any_compared(&answer->parts)) {
        bool alone = answer->parts.part[0].verdict == VERDICT_NOT_COMPARABLE;
        report_omit(report, "Comparison of parts", "%s",
                    alone ? parts_alone_text(text, answer, 0) : "too few days with light are in the record");
        return;
    }
    parts_rank(answer, order);
    report_open(report);
    say(answer, order, sentence);
    draw(report, answer, order, sentence);
    write_table(report, answer, order);
    write_notes(report, answer);
}

bool section_parts(struct report *report)
{
    const struct session *session = &report->inquiry->session;
    struct parts_answer answer = { 0 };
    enum parts_result result =
        parts_read(&answer, session->query, session->civil, session->logbook, &report->inquiry->period);
    if (result == PARTS_READY)
        write_section(report, &answer);
    else if (result == PARTS_NONE)
        report_omit(report, "Comparison of parts", "no parts were metered one by one in this span");
    else
        session_failed(session);
    parts_answer_free(&answer);
    return result != PARTS_FAILED;
}
