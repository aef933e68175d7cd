/* Load duration: for how much of the time a power was reached, the highest on the left. */
#include "html.h"
#include "picture.h"

enum {
    HEIGHT = 200,
    MOST_STEPS = 5,
    POINTS = 201,
    UNITS = 1000,
    LABEL_EVERY = 20,
    LEAST_S = 6 * 3600,
    PERCENT = 100
};

/* Shares of the time that the table has, millionths. */
static const int64_t table_shares[] = { 0, 10000, 50000, 100000, 250000, 500000, 750000, 900000, SHARE_ONE };
enum { TABLE_SHARES = sizeof(table_shares) / sizeof(table_shares[0]) };

static void curve_of(const struct duration *duration, struct duration_point points[POINTS])
{
    int64_t shares[POINTS];
    for (int32_t i = 0; i < POINTS; i++)
        shares[i] = (int64_t)i * SHARE_ONE / (POINTS - 1);
    duration_points(duration, POINTS, shares, points);
}

/* Steps down from point to point; an area closes along the axis. */
static void draw_curve(struct svg *svg, const struct svg_scale *scale,
                       const struct duration_point points[POINTS], const char *class, bool area)
{
    svg_path_open(svg, class);
    svg_path_move(svg, 0, area ? svg_y(svg, scale, 0) : svg_y(svg, scale, points[0].power));
    for (int32_t i = 0; i + 1 < POINTS; i++) {
        svg_path_y(svg, svg_y(svg, scale, points[i].power));
        svg_path_x(svg, (i + 1) * UNITS / (POINTS - 1));
    }
    if (area) {
        svg_path_y(svg, svg_y(svg, scale, 0));
        svg_path_shut(svg);
    }
    svg_path_close(svg);
}

static void draw(const struct report *report, const char *title, const char *sentence)
{
    struct duration_point load[POINTS], import[POINTS];
    char label[WORDS_SIZE];
    struct svg svg;
    bool both = report->load == FLOW_CONSUMPTION && report->import_duration.seconds > 0;
    curve_of(&report->load_duration, load);
    if (both)
        curve_of(&report->import_duration, import);
    struct svg_scale scale = svg_scale_of(0, load[0].power, MOST_STEPS);
    picture_open(report);
    svg_open(&svg, report->out, "picture-duration", HEIGHT, title, sentence);
    svg_plot_open(&svg, "f", UNITS, svg.height);
    if (report->load == FLOW_IMPORT)
        draw_curve(&svg, &scale, load, "import", true);
    else if (both)
        draw_curve(&svg, &scale, import, "import", true);
    svg_plot_close(&svg);
    svg_axis(&svg, &scale, "kW");
    svg_plot_open(&svg, "l", UNITS, svg.height);
    draw_curve(&svg, &scale, load, "line", false);
    svg_plot_close(&svg);
    for (int32_t share = 0; share <= PERCENT; share += LABEL_EVERY) {
        snprintf(label, sizeof(label), "%d %%", (int)share);
        svg_label(&svg, share * PERCENT, label, false);
    }
    picture_measured(&svg, report);
    svg_close(&svg);
    const struct picture_key keys[] = {
        { report->load == FLOW_CONSUMPTION, "key-line", "consumption" },
        { both || report->load == FLOW_IMPORT, "import", "import" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    report_sentence(report, "Across is the share of the time in which a power was reached or exceeded.");
    picture_close(report, sentence);
}

static void write_table(const struct report *report)
{
    const struct duration *durations[] = { &report->load_duration, &report->import_duration };
    const char *const names[] = { report->load == FLOW_CONSUMPTION ? "consumption" : "import", "import" };
    int32_t count = report->load == FLOW_CONSUMPTION && report->import_duration.seconds > 0 ? 2 : 1;
    struct duration_point points[2][TABLE_SHARES];
    char text[NUMBER_SIZE];
    html_table_open(report->out, "Table of load duration");
    html_row_open(report->out);
    html_column(report->out, "share of the time", "%");
    for (int32_t d = 0; d < count; d++) {
        html_column(report->out, names[d], "kW");
        duration_points(durations[d], TABLE_SHARES, table_shares, points[d]);
    }
    html_row_close(report->out);
    for (int32_t i = 0; i < TABLE_SHARES; i++) {
        html_row_open(report->out);
        html_row_head(report->out, number_print(text, table_shares[i], SHARE_SCALE - 2, 0, 0));
        for (int32_t d = 0; d < count; d++)
            html_cell(report->out, picture_power(text, points[d][i].power, 2));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

bool section_duration(struct report *report)
{
    static const int64_t shares[] = { 0, SHARE_ONE / 10, SHARE_ONE / 2 };
    struct duration_point points[3];
    char sentence[REPORT_SENTENCE], title[REPORT_SENTENCE], words[4][WORDS_SIZE];
    const char *name = report->load == FLOW_CONSUMPTION ? "Consumption" : "Import";
    if (report->load_duration.seconds < LEAST_S) {
        report_omit(report, "Load duration",
                    "the record observed less than six hours of consumption or import");
        return true;
    }
    duration_points(&report->load_duration, 3, shares, points);
    int32_t at =
        snprintf(sentence, sizeof(sentence),
                 "%s was at most %s; half of the time it was %s or more, a tenth of the time %s or more",
                 name, words_power(words[0], points[0].power), words_power(words[1], points[2].power),
                 words_power(words[2], points[1].power));
    if (report->base != UNKNOWN)
        snprintf(sentence + at, sizeof(sentence) - (size_t)at, "; the base load, by night, is %s.",
                 words_power(words[3], report->base));
    else
        snprintf(sentence + at, sizeof(sentence) - (size_t)at, "; the base load is not yet determinable.");
    report_open(report);
    snprintf(title, sizeof(title), "Load duration, %s", report->span);
    draw(report, title, sentence);
    write_table(report);
    return true;
}
