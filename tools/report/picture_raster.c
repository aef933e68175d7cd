/* Days across, hours down: a cell is darker the more power there was. One path a level, its cells joined
 * along the days, so that a year stays small. */
#include "html.h"
#include "palette.h"
#include "picture.h"
#include "stamp.h"

enum { HEIGHT = 192, LEAST_DAYS = 7, LABEL_HOURS = 6, NOTHING = 0, MISSING = -1, DAY_UNITS = 10 };

struct raster {
    enum hours_term term;
    const char *id, *name; /* "Production" */
    char letter;           /* of its levels in the palette */
    int64_t step;          /* mW of a level */
    const char *verb;      /* "made" */
};

/* An hour that the clock was put over looks like the one before it. */
static int64_t level_of(const struct raster *raster, const struct hours_cell *cell)
{
    cell -= cell->skipped;
    int64_t power = hours_power(cell, raster->term);
    if (power == UNKNOWN)
        return MISSING;
    if (power <= 0)
        return NOTHING;
    int64_t level = (power + raster->step - 1) / raster->step;
    return level < PALETTE_LEVELS ? level : PALETTE_LEVELS;
}

/* A round step of which the levels hold all powers, closely. */
static int64_t step_of(int64_t highest)
{
    static const int32_t firsts[] = { 10, 12, 15, 20, 25, 30, 40, 50, 60, 80 };
    enum { FIRSTS = sizeof(firsts) / sizeof(firsts[0]) };
    for (int64_t power = 10;; power *= 10)
        for (int32_t i = 0; i < FIRSTS; i++)
            if (power * firsts[i] * PALETTE_LEVELS >= highest)
                return power * firsts[i];
}

/* Decimals of a kW that a step of so many mW has. */
static int32_t step_decimals(int64_t step)
{
    int32_t decimals = 6;
    for (; decimals > 0 && step % 10 == 0; step /= 10)
        decimals--;
    return decimals;
}

static void draw_level(struct svg *svg, const struct hours *hours, const struct raster *raster, int64_t level)
{
    char class[16];
    if (level == NOTHING)
        snprintf(class, sizeof(class), "s-nothing");
    else
        snprintf(class, sizeof(class), "s-%c%d", raster->letter, (int)level);
    svg_path_open(svg, class);
    for (int32_t hour = 0; hour < HOURS_A_DAY; hour++) {
        for (int32_t c = 0; c < hours->column_count; c++) {
            int32_t first = c;
            while (c < hours->column_count && level_of(raster, &hours->columns[c][hour]) == level)
                c++;
            if (c == first)
                continue;
            svg_path_move(svg, first, hour);
            svg_path_x(svg, c);
        }
    }
    svg_path_close(svg);
}

/* Hatches cells of which some is estimated, joined along the hours of a day. */
static bool draw_estimated(struct svg *svg, const struct hours *hours, const struct raster *raster)
{
    bool any = false;
    for (int32_t c = 0; c < hours->column_count; c++) {
        for (int32_t hour = 0; hour < HOURS_A_DAY; hour++) {
            int32_t first = hour;
            while (hour < HOURS_A_DAY && hours_estimated(&hours->columns[c][hour]) &&
                   level_of(raster, &hours->columns[c][hour]) != MISSING)
                hour++;
            if (hour == first)
                continue;
            int32_t from = c * SVG_WHOLE / hours->column_count,
                    to = (c + 1) * SVG_WHOLE / hours->column_count;
            svg_rect(svg, "hatch", from, to - from, first * svg->height / HOURS_A_DAY,
                     hour * svg->height / HOURS_A_DAY);
            any = true;
        }
    }
    return any;
}

static void label_hours(struct svg *svg)
{
    char label[STAMP_SIZE];
    for (int32_t hour = 0; hour <= HOURS_A_DAY; hour += LABEL_HOURS) {
        snprintf(label, sizeof(label), "%02d:00", hour);
        fprintf(svg->out, "<text class=\"y\" x=\"-6\" y=\"%d\">%s</text>\n",
                (int)(hour * svg->height / HOURS_A_DAY / DAY_UNITS), label);
    }
}

/* Where an instant stands across the columns, which are whole days. */
static int32_t place_of(const struct report *report, int64_t at_s)
{
    const struct hours *hours = &report->hours;
    const struct civil *civil = report->inquiry->session.civil;
    int64_t from_s = report->inquiry->from_s;
    int64_t to_s =
        civil_day_start(civil, hours->first_day + (int64_t)hours->column_count * hours->days_a_column);
    at_s = at_s < from_s ? from_s : at_s > to_s ? to_s : at_s;
    return (int32_t)((at_s - from_s) * SVG_WHOLE / (to_s - from_s));
}

static void draw_keys(const struct report *report, const struct raster *raster, bool missing, bool estimated)
{
    char words[PALETTE_LEVELS][WORDS_SIZE], classes[PALETTE_LEVELS][16], from[NUMBER_SIZE], to[NUMBER_SIZE];
    struct picture_key keys[PALETTE_LEVELS + 3] = { { true, "f-nothing", "nothing" } };
    int32_t decimals = step_decimals(raster->step);
    for (int32_t level = 0; level < PALETTE_LEVELS; level++) {
        snprintf(classes[level], sizeof(classes[level]), "f-%c%d", raster->letter, (int)level + 1);
        snprintf(words[level], WORDS_SIZE, "%s to %s kW",
                 picture_power(from, level * raster->step, level ? decimals : 0),
                 picture_power(to, (level + 1) * raster->step, decimals));
        keys[level + 1] = (struct picture_key){ true, classes[level], words[level] };
    }
    keys[PALETTE_LEVELS + 1] =
        (struct picture_key){ missing, "dots",
                              report->has_seam ? "dotted: not known, sealed readings have no hours"
                                               : "dotted: not known" };
    keys[PALETTE_LEVELS + 2] = (struct picture_key){ estimated, "hatch", "hatched: estimated in part" };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
}

static void say(const struct report *report, const struct raster *raster, char sentence[REPORT_SENTENCE])
{
    const struct hours *hours = &report->hours;
    char day[WORDS_SIZE], power[WORDS_SIZE], part[WORDS_SIZE];
    int32_t column = 0, hour = 0;
    int64_t share, highest = hours_highest(hours, raster->term, &column, &hour);
    int32_t most = hours_most(hours, raster->term, &share);
    if (highest <= 0 || share == UNKNOWN) {
        snprintf(sentence, REPORT_SENTENCE, "Nothing was %s.", raster->verb);
        return;
    }
    snprintf(sentence, REPORT_SENTENCE,
             "Most was %s between %02d:00 and %02d:00, %s of all; the highest mean of an hour was %s, %s %s "
             "from %02d:00 to %02d:00.",
             raster->verb, (int)most, (int)most + 1, words_share(part, share), words_power(power, highest),
             hours->days_a_column == 1 ? "on" : "in the week from",
             words_day(day, hours->first_day + (int64_t)column * hours->days_a_column), (int)hour,
             (int)hour + 1);
}

static bool month_has(const struct hours *hours, int32_t month, enum hours_term term)
{
    for (int32_t hour = 0; hour < HOURS_A_DAY; hour++)
        if (hours->months[month][hour].known_s[term] > 0)
            return true;
    return false;
}

static void write_table(const struct report *report, const struct raster *raster)
{
    const struct hours *hours = &report->hours;
    char number[NUMBER_SIZE], summary[WORDS_SIZE];
    snprintf(summary, sizeof(summary), "Table of the mean by month and hour, kW");
    html_table_open(report->out, summary);
    html_row_open(report->out);
    html_column(report->out, "hour", "");
    for (int32_t month = 0; month < MONTHS_A_YEAR; month++)
        if (month_has(hours, month, raster->term))
            html_column(report->out, words_months[month], "");
    html_row_close(report->out);
    for (int32_t hour = 0; hour < HOURS_A_DAY; hour++) {
        snprintf(summary, sizeof(summary), "%02d:00", (int)hour);
        html_row_open(report->out);
        html_row_head(report->out, summary);
        for (int32_t month = 0; month < MONTHS_A_YEAR; month++)
            if (month_has(hours, month, raster->term))
                html_cell(report->out,
                          picture_power(number, hours_power(&hours->months[month][hour], raster->term), 2));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

static bool is_missing(const struct hours *hours, enum hours_term term)
{
    for (int32_t c = 0; c < hours->column_count; c++)
        for (int32_t hour = 0; hour < HOURS_A_DAY; hour++)
            if (hours->columns[c][hour].known_s[term] == 0 && !hours->columns[c][hour].skipped)
                return true;
    return false;
}

static void write_raster(struct report *report, struct raster *raster)
{
    char sentence[REPORT_SENTENCE], title[REPORT_SENTENCE];
    int32_t column, hour;
    struct svg svg;
    const struct hours *hours = &report->hours;
    raster->step = step_of(hours_highest(hours, raster->term, &column, &hour));
    say(report, raster, sentence);
    fprintf(report->out, "<h3>%s</h3>\n", raster->name);
    snprintf(title, sizeof(title), "%s by hour and %s, %s", raster->name,
             hours->days_a_column == 1 ? "day" : "week", report->span);
    picture_open(report);
    svg_open(&svg, report->out, raster->id, HEIGHT, title, sentence);
    bool missing = is_missing(hours, raster->term);
    if (missing)
        svg_rect(&svg, "dots", 0, SVG_WHOLE, 0, svg.height);
    /* rows lie on whole numbers: a cell is a stroke of one unit */
    fprintf(report->out,
            "<svg class=\"raster\" width=\"100%%\" height=\"100%%\" viewBox=\"0 -.5 %d %d\" "
            "preserveAspectRatio=\"none\" shape-rendering=\"crispEdges\">\n",
            (int)hours->column_count, (int)HOURS_A_DAY);
    for (int64_t level = NOTHING; level <= PALETTE_LEVELS; level++)
        draw_level(&svg, hours, raster, level);
    svg_plot_close(&svg);
    bool estimated = draw_estimated(&svg, hours, raster);
    label_hours(&svg);
    picture_slots(&svg, report, place_of);
    picture_seam(&svg, report, place_of(report, report->seam_s));
    svg_close(&svg);
    draw_keys(report, raster, missing, estimated);
    picture_close(report, sentence);
    write_table(report, raster);
}

bool section_rasters(struct report *report)
{
    struct raster rasters[] = {
        { HOURS_PRODUCTION, "picture-hours-production", "Production", 'p', 0, "made" },
        { HOURS_IMPORT, "picture-hours-import", "Import", 'i', 0, "imported" },
        { HOURS_EXPORT, "picture-hours-export", "Export", 'e', 0, "exported" },
    };
    const struct inquiry *inquiry = report->inquiry;
    if (inquiry->period.to_day - inquiry->period.from_day < LEAST_DAYS) {
        report_omit(report, "Hours of all days", "a raster of days by hours needs a week at least");
        return true;
    }
    for (size_t i = 0; i < sizeof(rasters) / sizeof(rasters[0]); i++) {
        if (!hours_has(&report->hours, rasters[i].term)) {
            report_omit(report, rasters[i].name, "the record knows no hour of it, so there is no raster");
            continue;
        }
        report_open(report);
        write_raster(report, &rasters[i]);
    }
    return true;
}
