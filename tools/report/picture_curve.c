/* The course of a day as steps: the best day interval by interval, and the average day hour by hour. What is
 * made stands above the axis, consumption below it. */
#include <stdlib.h>

#include "curve.h"
#include "html.h"
#include "muldiv.h"
#include "picture.h"
#include "stamp.h"

enum { HEIGHT = 280, MOST_STEPS = 7, LABEL_HOURS = 3, UNITS = 10 };

static bool has(const struct curve *curve, enum hours_term term)
{
    for (int32_t i = 0; i < curve->count; i++)
        if (curve->points[i].power[term] != UNKNOWN)
            return true;
    return false;
}

/* ---- lines and areas ---- */

struct drawing {
    struct svg svg;
    const struct curve *curve;
    struct svg_scale scale;
};

/* Two edges of an area at a point, mW; false: none there. What is made stands above the axis, what is
 * consumed below it: where an hour has both import and export, one would hide the other. */
typedef bool edges(const struct curve_point *point, int64_t *from, int64_t *to);

static bool kept_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    *from = 0;
    *to = point->power[HOURS_SELF_CONSUMPTION];
    return *to != UNKNOWN;
}

static bool export_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    int64_t kept = point->power[HOURS_SELF_CONSUMPTION], export = point->power[HOURS_EXPORT];
    if (export == UNKNOWN || (kept == UNKNOWN && point->power[HOURS_PRODUCTION] != UNKNOWN))
        return false;
    *from = kept == UNKNOWN ? 0 : kept;
    *to = *from + export;
    return true;
}

/* What was made, where it is not known what became of it. */
static bool made_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    *from = 0;
    *to = point->power[HOURS_PRODUCTION];
    return *to != UNKNOWN && point->power[HOURS_SELF_CONSUMPTION] == UNKNOWN;
}

static bool own_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    int64_t used = point->power[HOURS_CONSUMPTION], import = point->power[HOURS_IMPORT];
    if (used == UNKNOWN || import == UNKNOWN)
        return false;
    *from = 0;
    *to = import - used;
    return true;
}

static bool import_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    int64_t used = point->power[HOURS_CONSUMPTION], import = point->power[HOURS_IMPORT];
    if (import == UNKNOWN)
        return false;
    *from = used == UNKNOWN ? 0 : import - used;
    *to = *from - import;
    return true;
}

static bool used_edges(const struct curve_point *point, int64_t *from, int64_t *to)
{
    int64_t used = point->power[HOURS_CONSUMPTION];
    if (used == UNKNOWN || point->power[HOURS_IMPORT] != UNKNOWN)
        return false;
    *from = 0;
    *to = -used;
    return true;
}

static const struct {
    edges *edges;
    const char *class;
} areas[] = {
    { kept_edges, "self" }, { export_edges, "export" }, { made_edges, "plain" },
    { own_edges, "self" },  { import_edges, "import" }, { used_edges, "plain" },
};

enum { AREAS = sizeof(areas) / sizeof(areas[0]) };

static int32_t y_of(const struct drawing *drawing, int64_t power)
{
    return svg_y(&drawing->svg, &drawing->scale, power);
}

static int32_t x_of(int32_t second)
{
    return second / UNITS;
}

/* There along the upper edge, back along the lower one; where nothing is known or the area is empty it ends.
 */
static void draw_area(struct drawing *drawing, edges *edges_of, const char *class)
{
    struct svg *svg = &drawing->svg;
    const struct curve *curve = drawing->curve;
    int64_t from, to;
    svg_path_open(svg, class);
    for (int32_t i = 0; i < curve->count;) {
        int32_t first = i;
        for (; i < curve->count && edges_of(&curve->points[i], &from, &to) && from != to; i++) {
            if (i == first)
                svg_path_move(svg, x_of(curve->points[i].from_s), y_of(drawing, to));
            svg_path_y(svg, y_of(drawing, to));
            svg_path_x(svg, x_of(curve->points[i].to_s));
        }
        for (int32_t back = i - 1; back >= first; back--) {
            edges_of(&curve->points[back], &from, &to);
            svg_path_y(svg, y_of(drawing, from));
            svg_path_x(svg, x_of(curve->points[back].from_s));
        }
        if (i > first)
            svg_path_shut(svg);
        else
            i++;
    }
    svg_path_close(svg);
}

/* The outline of what was made (sign 1) or consumed (-1). */
static void draw_line(struct drawing *drawing, enum hours_term term, int32_t sign)
{
    struct svg *svg = &drawing->svg;
    bool drawing_on = false;
    svg_path_open(svg, "line");
    for (int32_t i = 0; i < drawing->curve->count; i++) {
        const struct curve_point *point = &drawing->curve->points[i];
        if (point->power[term] == UNKNOWN) {
            drawing_on = false;
            continue;
        }
        if (!drawing_on)
            svg_path_move(svg, x_of(point->from_s), y_of(drawing, sign * point->power[term]));
        drawing_on = true;
        svg_path_y(svg, y_of(drawing, sign * point->power[term]));
        svg_path_x(svg, x_of(point->to_s));
    }
    svg_path_close(svg);
}

/* Hatches the hours of which some was estimated: a strip at the foot, so that the curve stays legible. */
static bool draw_estimated(struct drawing *drawing)
{
    const struct curve *curve = drawing->curve;
    bool any = false;
    for (int32_t i = 0; i < curve->count; i++) {
        int32_t first = i;
        while (i < curve->count && curve->points[i].estimated)
            i++;
        if (i == first)
            continue;
        int32_t from = (int32_t)mul_div(curve->points[first].from_s, SVG_WHOLE, curve->length_s);
        int32_t to = (int32_t)mul_div(curve->points[i - 1].to_s, SVG_WHOLE, curve->length_s);
        svg_rect(&drawing->svg, "hatch", from, to - from, 0, drawing->svg.height);
        any = true;
    }
    return any;
}

static void label_hours(struct svg *svg, const struct curve *curve, const struct civil *civil)
{
    char label[WORDS_SIZE];
    for (int32_t s = 0; s <= curve->length_s; s += CURVE_HOUR_S) {
        int64_t hour = curve->from_s == UNKNOWN
                           ? s / CURVE_HOUR_S
                           : (curve->from_s + s + civil_offset(civil, curve->from_s + s)) / CURVE_HOUR_S % 24;
        if (hour % LABEL_HOURS != 0)
            continue;
        snprintf(label, sizeof(label), "%02d:00", s == curve->length_s ? 24 : (int)hour);
        svg_label(svg, (int32_t)mul_div(s, SVG_WHOLE, curve->length_s), label, hour % (2 * LABEL_HOURS) != 0);
    }
}

static struct svg_scale scale_of(const struct curve *curve)
{
    int64_t low = 0, high = 0, from, to;
    for (int32_t i = 0; i < curve->count; i++)
        for (int32_t a = 0; a < AREAS; a++)
            if (areas[a].edges(&curve->points[i], &from, &to)) {
                low = to < low ? to : low;
                high = to > high ? to : high;
            }
    struct svg_scale scale = svg_scale_of(low, high, MOST_STEPS);
    scale.both_ways = true;
    return scale;
}

static void draw(const struct report *report, const struct curve *curve, const char *id, const char *title,
                 const char *sentence)
{
    struct drawing drawing = { .curve = curve, .scale = scale_of(curve) };
    picture_open(report);
    svg_open(&drawing.svg, report->out, id, HEIGHT, title, sentence);
    svg_plot_open(&drawing.svg, "f", x_of(curve->length_s), drawing.svg.height);
    for (int32_t a = 0; a < AREAS; a++)
        draw_area(&drawing, areas[a].edges, areas[a].class);
    svg_plot_close(&drawing.svg);
    svg_axis(&drawing.svg, &drawing.scale, "kW");
    bool estimated = draw_estimated(&drawing);
    svg_plot_open(&drawing.svg, "l", x_of(curve->length_s), drawing.svg.height);
    draw_line(&drawing, HOURS_PRODUCTION, 1);
    draw_line(&drawing, HOURS_CONSUMPTION, -1);
    svg_plot_close(&drawing.svg);
    label_hours(&drawing.svg, curve, report->inquiry->session.civil);
    if (curve->from_s == UNKNOWN)
        picture_measured(&drawing.svg, report);
    svg_close(&drawing.svg);
    const struct picture_key keys[] = {
        { has(curve, HOURS_SELF_CONSUMPTION), "self", "consumed on site" },
        { has(curve, HOURS_EXPORT), "export", "export" },
        { has(curve, HOURS_IMPORT), "import", "import" },
        { !has(curve, HOURS_SELF_CONSUMPTION) && has(curve, HOURS_PRODUCTION), "plain", "production" },
        { !has(curve, HOURS_IMPORT) && has(curve, HOURS_CONSUMPTION), "plain", "consumption" },
        { estimated, "hatch", "hatched: estimated in part" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    bool above = has(curve, HOURS_PRODUCTION) || has(curve, HOURS_EXPORT);
    bool below = has(curve, HOURS_CONSUMPTION) || has(curve, HOURS_IMPORT);
    if (above && below)
        report_sentence(report, "Above the axis is what was %s, below it what was %s.",
                        has(curve, HOURS_PRODUCTION) ? "made" : "exported",
                        has(curve, HOURS_CONSUMPTION) ? "consumed" : "imported");
    picture_close(report, sentence);
}

/* ---- words ---- */

static const struct curve_point *highest(const struct curve *curve, enum hours_term term)
{
    const struct curve_point *best = NULL;
    for (int32_t i = 0; i < curve->count; i++)
        if (curve->points[i].power[term] != UNKNOWN &&
            (!best || curve->points[i].power[term] > best->power[term]))
            best = &curve->points[i];
    return best && best->power[term] > 0 ? best : NULL;
}

static const char *clock_of(const struct report *report, const struct curve *curve, int32_t second,
                            char buffer[STAMP_SIZE])
{
    enum { MINUTE_S = 60 };
    bool seconds = (curve->points[0].to_s - curve->points[0].from_s) % MINUTE_S != 0;
    if (curve->from_s != UNKNOWN)
        return stamp_clock(buffer, report->inquiry->session.civil, curve->from_s + second,
                           seconds ? STAMP_SECONDS : 0);
    snprintf(buffer, STAMP_SIZE, "%02d:00", second / CURVE_HOUR_S);
    return buffer;
}

static void say(const struct report *report, const struct curve *curve, const char *begin,
                char sentence[REPORT_SENTENCE])
{
    static const struct {
        enum hours_term term;
        const char *words;
    } terms[] = {
        { HOURS_PRODUCTION, "production" },
        { HOURS_CONSUMPTION, "consumption" },
        { HOURS_IMPORT, "import" },
    };
    char power[WORDS_SIZE], from[STAMP_SIZE], to[STAMP_SIZE];
    int32_t at = snprintf(sentence, REPORT_SENTENCE, "%s", begin);
    bool first = true;
    for (size_t i = 0; i < sizeof(terms) / sizeof(terms[0]); i++) {
        const struct curve_point *point = highest(curve, terms[i].term);
        if (!point || (terms[i].term == HOURS_IMPORT && has(curve, HOURS_CONSUMPTION)))
            continue;
        at += snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), "%s%s %s from %s to %s, %s",
                       first ? " " : "; ", terms[i].words, "was highest",
                       clock_of(report, curve, point->from_s, from), clock_of(report, curve, point->to_s, to),
                       words_power(power, point->power[terms[i].term]));
        first = false;
    }
    if (!first)
        snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), ".");
}

static void write_table(const struct report *report, const struct curve *curve, const char *summary)
{
    static const char *const heads[HOURS_TERMS] = {
        [HOURS_PRODUCTION] = "production",
        [HOURS_IMPORT] = "import",
        [HOURS_EXPORT] = "export",
        [HOURS_CONSUMPTION] = "consumption",
        [HOURS_SELF_CONSUMPTION] = "self-consumption",
    };
    char text[STAMP_SIZE], number[NUMBER_SIZE];
    html_table_open(report->out, summary);
    html_row_open(report->out);
    html_column(report->out, "from", "");
    for (int32_t t = 0; t < HOURS_TERMS; t++)
        if (has(curve, (enum hours_term)t))
            html_column(report->out, heads[t], "kW");
    html_row_close(report->out);
    for (int32_t i = 0; i < curve->count; i++) {
        html_row_open(report->out);
        html_row_head(report->out, clock_of(report, curve, curve->points[i].from_s, text));
        for (int32_t t = 0; t < HOURS_TERMS; t++)
            if (has(curve, (enum hours_term)t))
                html_cell(report->out, picture_power(number, curve->points[i].power[t], 2));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

static bool write_day(struct report *report, struct curve *curve, int64_t day, const char *begin)
{
    char title[REPORT_SENTENCE], name[WORDS_SIZE], sentence[REPORT_SENTENCE];
    if (!curve_read_day(curve, report->inquiry, day))
        return false;
    if (curve->count == 0)
        return true;
    say(report, curve, begin, sentence);
    snprintf(title, sizeof(title), "Power on %s", words_day(name, day));
    draw(report, curve, "picture-day", title, sentence);
    if (report_is_day(report))
        write_table(report, curve, "Table by the interval");
    return true;
}

static bool write_all(struct report *report, struct curve *curve)
{
    char begin[REPORT_SENTENCE], name[WORDS_SIZE], energy[WORDS_SIZE], sentence[REPORT_SENTENCE];
    if (report_is_day(report))
        return write_day(report, curve, report->inquiry->period.from_day, "Of the intervals of this day,");
    curve_average(curve, &report->hours);
    fputs("<h3>The average day</h3>\n", report->out);
    say(report, curve, "On the average of all days,", sentence);
    draw(report, curve, "picture-average", "Power on the average day", sentence);
    write_table(report, curve, "Table by the hour");
    if (report->production.most_count == 0 || report->production.most[0].energy <= 0)
        return true;
    const struct report_day *best = &report->production.most[0];
    fputs("<h3>The best day</h3>\n", report->out);
    snprintf(begin, sizeof(begin), "%s made the most, %s;", words_day(name, best->day),
             words_energy(energy, best->energy, report_decimals(report)));
    return write_day(report, curve, best->day, begin);
}

bool section_curve(struct report *report)
{
    struct curve *curve = malloc(sizeof(*curve));
    if (!curve) {
        fputs("meterbook: out of memory\n", stderr);
        return false;
    }
    bool hours = report_is_day(report) || hours_has(&report->hours, HOURS_PRODUCTION) ||
                 hours_has(&report->hours, HOURS_IMPORT) || hours_has(&report->hours, HOURS_CONSUMPTION);
    bool good = true;
    if (hours) {
        report_open(report);
        good = write_all(report, curve);
    } else {
        report_omit(report, "The course of a day", "readings of sealed meters know no hours");
    }
    free(curve);
    return good;
}
