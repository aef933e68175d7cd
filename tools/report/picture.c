#include "picture.h"

#include "html.h"

enum { YEAR_BELOW = 330 /* tenths of a pixel */, MOST_LABELS = 16, MOST_NARROW = 8 };

void picture_keys(FILE *out, const struct picture_key *keys, size_t count)
{
    fputs("<ul class=\"key\">\n", out);
    for (size_t i = 0; i < count; i++) {
        if (!keys[i].shown)
            continue;
        fprintf(out,
                "<li><svg width=\"14\" height=\"14\" aria-hidden=\"true\"><rect class=\"%s\" width=\"14\" "
                "height=\"14\"/></svg>",
                keys[i].class);
        html_text(out, keys[i].words);
        fputs("</li>\n", out);
    }
    fputs("</ul>\n", out);
}

/* The years of a picture by months that has several. */
static void name_years(struct svg *svg, const struct report *report,
                       int32_t (*place_of)(const struct report *report, int64_t at_s))
{
    const struct period *period = &report->inquiry->period;
    const struct civil *civil = report->inquiry->session.civil;
    char text[WORDS_SIZE];
    int32_t first, last, month, day;
    civil_date(period->from_day, &first, &month, &day);
    civil_date(period->to_day - 1, &last, &month, &day);
    for (int32_t year = first; report->step == STEP_MONTH && first < last && year <= last; year++) {
        int32_t from = place_of(report, civil_day_start(civil, civil_day_number(year, 1, 1)));
        int32_t to = place_of(report, civil_day_start(civil, civil_day_number(year + 1, 1, 1)));
        snprintf(text, sizeof(text), "%04d", (int)year);
        if (to - from > SVG_WHOLE / MOST_NARROW)
            svg_text(svg, "x", (from + to) / 2, svg->height + YEAR_BELOW, text);
    }
}

void picture_slots(struct svg *svg, const struct report *report,
                   int32_t (*place_of)(const struct report *report, int64_t at_s))
{
    char label[WORDS_SIZE];
    int32_t every = (report->slot_count + MOST_LABELS - 1) / MOST_LABELS;
    for (int32_t slot = 0; slot < report->slot_count; slot += every) {
        int32_t from = place_of(report, report_slot_start(report, slot));
        int32_t to = place_of(report, report_slot_start(report, slot + 1));
        if ((to - from) * every * 2 < SVG_WHOLE / MOST_LABELS)
            continue; /* of a month that is cut there is too little to name it */
        svg_label(svg, (from + to) / 2, report_slot_label(report, slot, label),
                  report->slot_count / every > MOST_NARROW && slot / every % 2 == 1);
    }
    name_years(svg, report, place_of);
}

int32_t picture_span_place(const struct report *report, int64_t at_s)
{
    int64_t from_s = report->inquiry->from_s, to_s = report->inquiry->to_s;
    at_s = at_s < from_s ? from_s : at_s > to_s ? to_s : at_s;
    return (int32_t)((at_s - from_s) * SVG_WHOLE / (to_s - from_s));
}

void picture_seam(struct svg *svg, const struct report *report, int32_t x)
{
    if (!report->has_seam)
        return;
    bool left = x > SVG_WHOLE / 5 * 3; /* the words to the right are shorter: on a telephone both fit */
    svg_mark(svg, x, left ? "sealed readings until here" : "measured from here", left);
}

void picture_measured(struct svg *svg, const struct report *report)
{
    char day[WORDS_SIZE], text[2 * WORDS_SIZE];
    if (!report->has_seam)
        return;
    words_day(day, civil_day_of(report->inquiry->session.civil, report->seam_s));
    snprintf(text, sizeof(text), "measured from %s on", day);
    svg_text(svg, "ml", SVG_WHOLE, svg->height + YEAR_BELOW, text);
}

const char *picture_figure(char buffer[NUMBER_SIZE], const struct figure *figure, const struct answer *answer,
                           const struct answer_row *row)
{
    int64_t value = figure->value(row);
    if (value == UNKNOWN)
        return NULL;
    if (figure->kind == FIGURE_CUT_SHARE)
        value -= value % (SHARE_ONE / 1000);
    if (figure->kind != FIGURE_ENERGY)
        return number_print(buffer, value, SHARE_SCALE - 2, 1, 0);
    return number_print(buffer, value, ENERGY_SCALE, figure_decimals(figure, answer, 3), ',');
}

const char *picture_power(char buffer[NUMBER_SIZE], int64_t mw, int32_t decimals)
{
    return mw == UNKNOWN ? NULL : number_print(buffer, mw, 6, decimals, ',');
}

void picture_open(const struct report *report)
{
    fputs("<figure>", report->out);
}

void picture_close(const struct report *report, const char *sentence)
{
    fputs("<figcaption>", report->out);
    html_text(report->out, sentence);
    fputs("</figcaption></figure>\n", report->out);
}
