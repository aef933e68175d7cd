/* Net present value by the size of the plant: a line for each consumption. */
#include <math.h>
#include <stdlib.h>

#include "html.h"
#include "picture.h"
#include "report_money.h"
#include "what_if_read.h"

enum {
    HEIGHT = 240,
    MOST_STEPS = 6,
    UNITS = 2000,
    MOST_LABELS = 11,
    MOST_NARROW = 6,
    LINES = 6,        /* the styles that the page has */
    MOST_CELLS = 500, /* more take longer than a page may */
    MONTH_DAYS_E4 = 304375
};

struct picture {
    struct report *report;
    const struct sweep *sweep;
    int64_t used;     /* mWh in the mean month, as recorded */
    int64_t recorded; /* 10^-6 kWp: of the plant that is there */
};

static int64_t value_of(const struct sweep_cell *cell)
{
    return isfinite(cell->present_value) ? llround(cell->present_value * 1e6) : 0;
}

static const struct sweep_cell *row_of(const struct sweep *sweep, int32_t consumption)
{
    return &sweep->cells[(size_t)consumption * (size_t)sweep->plant_count];
}

static const struct sweep_cell *best_of(const struct sweep *sweep, int32_t consumption)
{
    const struct sweep_cell *row = row_of(sweep, consumption);
    int32_t p = 0;
    while (p + 1 < sweep->plant_count && !row[p].best)
        p++;
    return &row[p];
}

/* The consumptions that are drawn: all, or some from the first to the last. */
static int32_t line_count(const struct sweep *sweep)
{
    return sweep->consumption_count < LINES ? sweep->consumption_count : LINES;
}

static int32_t line_of(const struct sweep *sweep, int32_t line)
{
    int32_t count = line_count(sweep);
    return count < 2 ? 0 : line * (sweep->consumption_count - 1) / (count - 1);
}

static int32_t place(const struct sweep *sweep, int64_t plant, int32_t whole)
{
    int64_t first = sweep->cells[0].plant, last = sweep->cells[sweep->plant_count - 1].plant;
    return last > first ? (int32_t)((plant - first) * whole / (last - first)) : whole / 2;
}

static struct report_money_axis axis_of(const struct report *report, const struct sweep *sweep)
{
    int64_t low = 0, high = 0;
    for (int32_t i = 0; i < sweep->plant_count * sweep->consumption_count; i++) {
        int64_t value = value_of(&sweep->cells[i]);
        low = value < low ? value : low;
        high = value > high ? value : high;
    }
    return report_money_axis(report, low, high, MOST_STEPS);
}

static const char *per_month(char buffer[WORDS_SIZE], int64_t consumption)
{
    char number[NUMBER_SIZE];
    snprintf(buffer, WORDS_SIZE, "%s kWh a month", number_print(number, consumption, ENERGY_SCALE, 0, ','));
    return buffer;
}

static const char *kilowatts(char buffer[NUMBER_SIZE], int64_t plant)
{
    return number_print(buffer, plant, 6, plant % 1000000 == 0 ? 0 : plant % 100000 == 0 ? 1 : 2, 0);
}

static void draw_line(struct svg *svg, const struct report_money_axis *axis, const struct sweep *sweep,
                      int32_t line)
{
    const struct sweep_cell *row = row_of(sweep, line_of(sweep, line));
    char class[16];
    snprintf(class, sizeof(class), "w w%d", (int)line + 1);
    svg_path_open(svg, class);
    svg_path_move(svg, 0, svg_y(svg, &axis->scale, value_of(&row[0]) / axis->divisor));
    for (int32_t p = 1; p < sweep->plant_count; p++)
        svg_path_line(svg, place(sweep, row[p].plant, UNITS),
                      svg_y(svg, &axis->scale, value_of(&row[p]) / axis->divisor));
    svg_path_close(svg);
}

static void draw_sizes(struct svg *svg, const struct sweep *sweep)
{
    char number[NUMBER_SIZE], label[WORDS_SIZE];
    int32_t every = (sweep->plant_count - 1) / MOST_LABELS + 1, count = 0;
    for (int32_t p = 0; p < sweep->plant_count; p += every, count++) {
        const struct sweep_cell *cell = &sweep->cells[p];
        snprintf(label, sizeof(label), "%s%s", kilowatts(number, cell->plant), p == 0 ? " kWp" : "");
        svg_label(svg, place(sweep, cell->plant, SVG_WHOLE), label,
                  sweep->plant_count / every > MOST_NARROW && count % 2 == 1);
    }
}

/* The plant that is there. */
static void draw_recorded(struct svg *svg, const struct picture *picture)
{
    const struct sweep *sweep = picture->sweep;
    char text[WORDS_SIZE], size[NUMBER_SIZE];
    if (picture->recorded < sweep->cells[0].plant ||
        picture->recorded > sweep->cells[sweep->plant_count - 1].plant)
        return;
    int32_t x = place(sweep, picture->recorded, SVG_WHOLE);
    snprintf(text, sizeof(text), "as built: %s kWp", kilowatts(size, picture->recorded));
    svg_mark(svg, x, text, x > SVG_WHOLE / 2);
}

static void draw_key(const struct picture *picture, const struct report_money_axis *axis)
{
    char unit[WORDS_SIZE];
    struct picture_key keys[LINES];
    char classes[LINES][24], words[LINES][WORDS_SIZE];
    int32_t count = line_count(picture->sweep);
    for (int32_t i = 0; i < count; i++) {
        snprintf(classes[i], sizeof(classes[i]), "w w%d", (int)i + 1);
        per_month(words[i], row_of(picture->sweep, line_of(picture->sweep, i))->consumption);
        keys[i] = (struct picture_key){ true, classes[i], words[i] };
    }
    picture_keys(picture->report->out, keys, (size_t)count);
    report_sentence(picture->report,
                    "A line is the net present value by the size of the plant, for one consumption; a dot "
                    "marks the best size.%s%s",
                    count < picture->sweep->consumption_count ? " The table has the consumptions between."
                                                              : "",
                    report_money_unit(picture->report, axis, unit));
}

static void draw(const struct picture *picture, const char *sentence)
{
    const struct report *report = picture->report;
    const struct sweep *sweep = picture->sweep;
    struct report_money_axis axis = axis_of(report, sweep);
    struct svg svg;
    char title[REPORT_SENTENCE];
    snprintf(title, sizeof(title), "Net present value by the size of the plant, %s", report->span);
    picture_open(report);
    svg_open(&svg, report->out, "picture-sweep", HEIGHT, title, sentence);
    svg_axis(&svg, &axis.scale, axis.unit);
    svg_plot_open(&svg, "l", UNITS, svg.height);
    for (int32_t line = 0; line < line_count(sweep); line++)
        draw_line(&svg, &axis, sweep, line);
    svg_plot_close(&svg);
    for (int32_t line = 0; line < line_count(sweep); line++) {
        const struct sweep_cell *best = best_of(sweep, line_of(sweep, line));
        svg_dot(&svg, "dot", place(sweep, best->plant, SVG_WHOLE),
                svg_y(&svg, &axis.scale, value_of(best) / axis.divisor));
    }
    draw_sizes(&svg, sweep);
    draw_recorded(&svg, picture);
    svg_close(&svg);
    draw_key(picture, &axis);
    picture_close(report, sentence);
}

/* The consumption that is nearest to that of the site. */
static int32_t nearest(const struct picture *picture)
{
    int32_t at = 0;
    for (int32_t i = 1; i < picture->sweep->consumption_count; i++)
        if (llabs(row_of(picture->sweep, i)->consumption - picture->used) <
            llabs(row_of(picture->sweep, at)->consumption - picture->used))
            at = i;
    return at;
}

static void say(const struct picture *picture, char sentence[REPORT_SENTENCE])
{
    const struct sweep_cell *best = best_of(picture->sweep, nearest(picture));
    char used[WORDS_SIZE], near[WORDS_SIZE], size[NUMBER_SIZE], amount[WORDS_SIZE], saving[WORDS_SIZE];
    int32_t at = snprintf(sentence, REPORT_SENTENCE, "The site uses %s; ", per_month(used, picture->used));
    if (best->plant == 0)
        snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at),
                 "at %s, the nearest of those tried, no plant pays.", per_month(near, best->consumption));
    else
        snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at),
                 "at %s, the nearest of those tried, the highest net present value has a plant of %s kWp%s: "
                 "%s, saving "
                 "%s a year.",
                 per_month(near, best->consumption), kilowatts(size, best->plant),
                 best->at_end ? ", where the range of sizes ends" : "",
                 report_amount(picture->report, amount, value_of(best)),
                 report_amount(picture->report, saving, best->saving));
}

static void write_row(const struct report *report, const struct sweep_cell *cell)
{
    char number[NUMBER_SIZE];
    html_row_open(report->out);
    html_row_head(report->out, number_print(number, cell->consumption, ENERGY_SCALE, 0, ','));
    html_cell(report->out, number_print(number, cell->plant, 6, 2, ','));
    html_cell(report->out, report_amount_cell(report, number, cell->cost));
    html_cell(report->out, report_amount_cell(report, number, cell->saving));
    html_cell(report->out, number_print(number, cell->self_consumption, ENERGY_SCALE, 0, ','));
    html_cell(report->out, number_print(number, cell->export, ENERGY_SCALE, 0, ','));
    html_cell(report->out, report_amount_cell(report, number, value_of(cell)));
    html_words(report->out, !cell->best ? "" : cell->at_end ? "best, at the range's end" : "best");
    html_row_close(report->out);
}

static void write_table(const struct picture *picture)
{
    const struct report *report = picture->report;
    const char *currency = report->money->bills.tariff->currency;
    html_table_open(report->out, "Table of sizes and consumptions");
    html_row_open(report->out);
    html_column(report->out, "consumption", "kWh/month");
    html_column(report->out, "plant", "kWp");
    html_column(report->out, "cost", currency);
    html_column(report->out, "saving a year", currency);
    html_column(report->out, "self-consumption", "kWh/year");
    html_column(report->out, "export", "kWh/year");
    html_column(report->out, "net present value", currency);
    html_column(report->out, "", NULL);
    html_row_close(report->out);
    for (int32_t i = 0; i < picture->sweep->plant_count * picture->sweep->consumption_count; i++)
        write_row(report, &picture->sweep->cells[i]);
    html_table_close(report->out);
}

static bool write_section(struct report *report, const struct what_if_base *base)
{
    const struct contract_file *contract = report->money->bills.contract;
    const struct trace *trace = &base->trace;
    struct sweep sweep = { 0 };
    char sentence[REPORT_SENTENCE], from[WORDS_SIZE], to[WORDS_SIZE];
    bool good = sweep_run(&sweep, contract, trace, &base->bins, &base->without, base->recorded_kwp);
    if (good && sweep.unknown) {
        report_omit(
            report, "Sizes of the plant",
            "the tariff asks for kVAh, kVA or kvarh, and the grid meter's record does not tell them in all "
            "intervals");
    } else if (good) {
        struct picture picture = { report, &sweep,
                                   multiply_round(trace->energy_consumption, MONTH_DAYS_E4,
                                                  (trace->to_day - trace->from_day) * 10000),
                                   base->recorded_kwp };
        report_open(report);
        say(&picture, sentence);
        draw(&picture, sentence);
        report_sentence(report,
                        "A projection and an estimate: what was recorded from %s to %s, interval by "
                        "interval, scaled evenly "
                        "to each size and consumption, over the plant's life.",
                        words_day(from, trace->from_day), words_day(to, trace->to_day - 1));
        write_table(&picture);
    } else {
        report_omit(report, "Sizes of the plant", "a bill of its intervals cannot be made");
    }
    sweep_free(&sweep);
    return true;
}

/* Sizes of which a line can be drawn. */
static const char *lacks(const struct contract_file *contract)
{
    const struct contract_sweep *range = &contract->sweep;
    int32_t sizes = sweep_steps(range->plant_from, range->plant_to, range->plant_step, SWEEP_PLANTS);
    int32_t consumptions = sweep_steps(range->consumption_from, range->consumption_to,
                                       range->consumption_step, SWEEP_CONSUMPTIONS);
    return sizes < 2 || consumptions < 1       ? "the contract's sweep has too few steps, or too many"
           : sizes * consumptions > MOST_CELLS ? "the contract's sweep has too many steps for a page: see "
                                                 "'meterbook what-if --view sweep'"
                                               : NULL;
}

/* The last year that the record has of the span: of all seasons one. */
static struct inquiry last_year(const struct report *report)
{
    struct inquiry year = *report->inquiry;
    struct period period = year.period;
    int64_t end = civil_day_of(year.session.civil, year.head.to_s);
    period.to_day = end < period.to_day ? end : period.to_day;
    period.from_day = period.to_day - REPORT_YEAR_DAYS > period.from_day ? period.to_day - REPORT_YEAR_DAYS
                                                                         : period.from_day;
    inquiry_set_period(&year, period);
    return year;
}

bool section_sweep(struct report *report)
{
    const struct period *period = &report->inquiry->period;
    struct what_if_base base;
    if (!report->money || !report->money->bills.contract->has_sweep ||
        period->to_day - period->from_day < REPORT_YEAR_DAYS)
        return true;
    const struct contract_file *contract = report->money->bills.contract;
    const char *why = lacks(contract);
    if (why) {
        report_omit(report, "Sizes of the plant", "%s", why);
        return true;
    }
    struct inquiry year = last_year(report);
    bool good = what_if_base_read(&base, &year, &report->money->bills);
    if (good && base.trace.to_day - base.trace.from_day < REPORT_YEAR_DAYS - REPORT_MONTH_DAYS)
        report_omit(
            report, "Sizes of the plant",
            "less than a year of intervals is recorded of which production and consumption are known");
    else if (good && sweep_lacks(&base, contract))
        report_omit(report, "Sizes of the plant", "the contract has no group %s",
                    sweep_lacks(&base, contract));
    else if (good)
        good = write_section(report, &base);
    what_if_base_free(&base);
    return good;
}
