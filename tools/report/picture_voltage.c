/* How often which voltage was, a row of plain bars a phase, with the limits. */
#include <stdlib.h>

#include "html.h"
#include "picture.h"
#include "supply_read.h"

enum {
    ROW = 700,  /* tenths of a pixel a phase */
    TOP = 160,  /* of it above the bars */
    AROUND = 2, /* V beside what was measured */
    LABEL_V = 5,
    MOST_LABELS = 8,
    MILLI = 1000,
};

static const char *const names[SUPPLY_PHASES] = { "L1", "L2", "L3" };

struct drawing {
    const struct supply *supply;
    struct svg svg;
    int32_t from_v, to_v;
    uint32_t most; /* ten minutes in the fullest volt */
};

/* The volts that the picture shows: what was measured and the limits. */
static void measure(struct drawing *drawing)
{
    const struct supply_limits *limits = &drawing->supply->limits;
    int32_t low = SUPPLY_VOLTS, high = 0;
    for (int32_t p = 0; p < SUPPLY_PHASES; p++)
        for (int32_t v = 0; v < SUPPLY_VOLTS; v++) {
            uint32_t count = drawing->supply->histogram[p][v];
            if (count == 0)
                continue;
            low = v < low ? v : low;
            high = v > high ? v : high;
            drawing->most = count > drawing->most ? count : drawing->most;
        }
    if (limits->low / MILLI < low)
        low = (int32_t)(limits->low / MILLI);
    if (limits->high / MILLI > high)
        high = (int32_t)(limits->high / MILLI);
    drawing->from_v = low - AROUND;
    drawing->to_v = high + 1 + AROUND;
}

static int32_t x_of(const struct drawing *drawing, int64_t mv)
{
    int64_t from = (int64_t)drawing->from_v * MILLI, to = (int64_t)drawing->to_v * MILLI;
    return (int32_t)((mv - from) * SVG_WHOLE / (to - from));
}

static void draw_phase(struct drawing *drawing, int32_t phase, int32_t top)
{
    const struct supply_limits *limits = &drawing->supply->limits;
    struct svg *svg = &drawing->svg;
    int32_t foot = top + ROW;
    char text[WORDS_SIZE];
    for (int32_t v = drawing->from_v; v < drawing->to_v; v++) {
        uint32_t count = v >= 0 && v < SUPPLY_VOLTS ? drawing->supply->histogram[phase][v] : 0;
        if (count == 0)
            continue;
        bool outside = (int64_t)v * MILLI >= limits->high || ((int64_t)v + 1) * MILLI <= limits->low;
        int32_t height = (int32_t)((int64_t)count * (ROW - TOP) / drawing->most);
        height = height < 20 ? 20 : height; /* what was there once shows too */
        int32_t x = x_of(drawing, (int64_t)v * MILLI);
        svg_rect(svg, outside ? "warn" : "plain", x, x_of(drawing, ((int64_t)v + 1) * MILLI) - x,
                 foot - height, foot);
    }
    /* how much of the time the highest bar is */
    int64_t share = number_share(drawing->most, drawing->supply->total.phases[phase].valid);
    fprintf(svg->out, "<line class=\"g\" x2=\"100%%\" y1=\"%d\" y2=\"%d\"/>", (int)(top + TOP) / 10,
            (int)(top + TOP) / 10);
    fprintf(svg->out, "<text class=\"y\" x=\"-6\" y=\"%d\">%s</text>", (int)(top + TOP) / 10,
            words_share(text, share));
    fprintf(svg->out, "<line class=\"z\" x2=\"100%%\" y1=\"%d\" y2=\"%d\"/>", (int)foot / 10, (int)foot / 10);
    fprintf(svg->out, "<text class=\"y\" x=\"-6\" y=\"%d\">%s</text>\n", (int)(foot - (ROW - TOP) / 2) / 10,
            names[phase]);
}

static void draw_limit(struct drawing *drawing, int64_t mv, bool left)
{
    char text[NUMBER_SIZE], label[WORDS_SIZE];
    snprintf(label, sizeof(label), "%s V", number_print(text, mv, 3, 1, 0));
    svg_mark(&drawing->svg, x_of(drawing, mv), label, left);
}

static void draw(const struct report *report, const struct supply *supply, const char *sentence)
{
    struct drawing drawing = { .supply = supply };
    char title[REPORT_SENTENCE], label[WORDS_SIZE];
    int32_t rows = 0;
    measure(&drawing);
    for (int32_t p = 0; p < SUPPLY_PHASES; p++)
        rows += supply->phases >> p & 1;
    snprintf(title, sizeof(title), "Voltages of 10 minutes, %s", report->span);
    picture_open(report);
    svg_open(&drawing.svg, report->out, "picture-voltage", rows * ROW / 10, title, sentence);
    for (int32_t p = 0, row = 0; p < SUPPLY_PHASES; p++)
        if (supply->phases & 1U << p)
            draw_phase(&drawing, p, ROW * row++);
    draw_limit(&drawing, supply->limits.low, false);
    draw_limit(&drawing, supply->limits.high, true);
    int32_t every = LABEL_V;
    while ((drawing.to_v - drawing.from_v) / every > MOST_LABELS)
        every *= 2;
    for (int32_t v = drawing.from_v / every * every + every; v < drawing.to_v; v += every) {
        snprintf(label, sizeof(label), "%d V", (int)v);
        svg_label(&drawing.svg, x_of(&drawing, (int64_t)v * MILLI), label, v / every % 2 == 1);
    }
    picture_measured(&drawing.svg, report);
    svg_close(&drawing.svg);
    const struct picture_key keys[] = { { true, "plain", "within \u00b110 %" }, { true, "warn", "outside" } };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    report_sentence(report, "A bar is the share of the time in which a voltage was within that volt.");
    picture_close(report, sentence);
}

/* Weeks of all phases that complied, of those with a verdict. */
static int32_t count_weeks(const struct supply_answer *answer, int32_t *told)
{
    int32_t complied = 0;
    *told = 0;
    for (int32_t w = 0; w < answer->week_count; w++) {
        bool all = true, any = false;
        for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
            if (!(answer->supply.phases & 1U << p))
                continue;
            enum supply_verdict verdict = supply_verdict(&answer->supply.limits, &answer->weeks[w], p);
            any = any || verdict < SUPPLY_TOO_FEW;
            all = all && (verdict == SUPPLY_COMPLIES || verdict == SUPPLY_COMPLIES_NEARLY);
        }
        *told += any;
        complied += any && all;
    }
    return complied;
}

static void say(const struct supply_answer *answer, char sentence[REPORT_SENTENCE])
{
    const struct supply *supply = &answer->supply;
    int64_t least = UNKNOWN, most = UNKNOWN, valid = 0, outside = 0;
    char low[NUMBER_SIZE], high[NUMBER_SIZE], share[WORDS_SIZE], limits[2][NUMBER_SIZE];
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        const struct supply_phase *phase = &supply->total.phases[p];
        if (phase->valid == 0)
            continue;
        least = least == UNKNOWN || phase->least < least ? phase->least : least;
        most = most == UNKNOWN || phase->most > most ? phase->most : most;
        valid += phase->valid;
        outside += phase->outside;
    }
    if (valid == 0) {
        snprintf(sentence, REPORT_SENTENCE, "No ten minutes have a valid voltage.");
        return;
    }
    snprintf(sentence, REPORT_SENTENCE,
             "Voltages were between %s and %s V; %s of the 10 minutes of all phases lay outside %s to %s V. "
             "Indicative: a meter that is polled sees no dips.",
             number_print(low, least, 3, 1, 0), number_print(high, most, 3, 1, 0),
             words_share(share, number_share(outside, valid)),
             number_print(limits[0], supply->limits.low, 3, 1, 0),
             number_print(limits[1], supply->limits.high, 3, 1, 0));
}

static void write_table(const struct report *report, const struct supply *supply)
{
    static const char *const heads[][2] = {
        { "valid", "10 min" }, { "lowest", "V" },  { "mean", "V" },
        { "highest", "V" },    { "outside", "%" }, { "over level", "h" }
    };
    char number[NUMBER_SIZE];
    html_table_open(report->out, "Table of voltages");
    html_row_open(report->out);
    html_column(report->out, "phase", "");
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++)
        html_column(report->out, heads[i][0], heads[i][1]);
    html_row_close(report->out);
    for (int32_t p = 0; p < SUPPLY_PHASES; p++) {
        const struct supply_phase *phase = &supply->total.phases[p];
        if (phase->valid == 0)
            continue;
        html_row_open(report->out);
        html_row_head(report->out, names[p]);
        html_cell(report->out, number_print(number, phase->valid, 0, 0, ','));
        html_cell(report->out, number_print(number, phase->least, 3, 1, 0));
        html_cell(report->out, number_print(number, phase->sum / phase->valid, 3, 1, 0));
        html_cell(report->out, number_print(number, phase->most, 3, 1, 0));
        html_cell(report->out,
                  number_print(number, number_share(phase->outside, phase->valid), SHARE_SCALE - 2, 2, 0));
        html_cell(report->out, number_print(number, (int64_t)phase->throttled * 10 / 6, 1, 1, ','));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

static void write_section(struct report *report, const struct supply_answer *answer)
{
    char sentence[REPORT_SENTENCE], level[NUMBER_SIZE];
    int32_t told, complied = count_weeks(answer, &told);
    report_open(report);
    say(answer, sentence);
    draw(report, &answer->supply, sentence);
    write_table(report, &answer->supply);
    if (told > 0)
        report_sentence(report, "Of %d whole weeks %d comply with the counting rule of EN 50160.", (int)told,
                        (int)complied);
    else
        report_sentence(report, "No whole week has enough valid values for a verdict after EN 50160.");
    report_sentence(
        report, "Level at which inverters are taken to throttle: %s V. Measured by '%s', where it is wired.",
        number_print(level, answer->supply.limits.throttle, 3, 1, 0), answer->meter.name);
}

bool section_voltage(struct report *report)
{
    struct supply_answer *answer = calloc(1, sizeof(*answer));
    if (!answer)
        return report_out_of_memory();
    enum supply_result result = supply_read(answer, report->inquiry, 0);
    if (result == SUPPLY_READY)
        write_section(report, answer);
    else if (result == SUPPLY_TOO_COARSE)
        report_omit(report, "Voltage", "its intervals are longer than the ten minutes that EN 50160 counts");
    else if (result == SUPPLY_FAILED)
        session_failed(&report->inquiry->session);
    else
        report_omit(report, "Voltage", "no meter measured a voltage in this span");
    supply_answer_free(answer);
    free(answer);
    return result != SUPPLY_FAILED;
}
