/* Load duration of a span, and the base load. */
#include <stdio.h>
#include <stdlib.h>

#include "baseload.h"
#include "duration.h"
#include "flow.h"
#include "muldiv.h"

static const struct sheet_column columns[] = {
    { "flow", { "", "" }, "", SHEET_TEXT, 0, true },
    { "point", { "", "" }, "", SHEET_TEXT, 0, false },
    { "share_of_time", { "in this share", "of the time" }, "%", SHEET_SHARE, 0, false },
    { "power_kw", { "at", "least" }, "kW", SHEET_NUMBER, ENERGY_SCALE, false },
    { "hours", { "for", "hours" }, "h", SHEET_NUMBER, 3, false },
    { "energy_kwh", { "flowed", "then" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "energy_share", { "of", "all" }, "%", SHEET_SHARE, 0, false },
    { "above_kwh", { "above", "this" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), HOUR = 3600, UP_TO = 3 };

static const struct {
    int64_t share; /* of the time, millionths */
    const char *name;
} wanted[] = {
    { 0, "highest" }, { 1000, "" },   { 10000, "" },        { 50000, "" },
    { 100000, "" },   { 250000, "" }, { 500000, "median" }, { 750000, "" },
    { 900000, "" },   { 950000, "" }, { 990000, "" },       { SHARE_ONE, "lowest" },
};
enum { POINTS = sizeof(wanted) / sizeof(wanted[0]) };

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct flow flow;
    struct duration duration;
    struct baseload baseload;
    int64_t base, span_s; /* mW; what pieces there are of */
    struct sheet sheet;
    char title[FLOW_TITLE_SIZE];
};

static bool feed(struct work *work)
{
    struct flow_piece piece;
    duration_init(&work->duration);
    baseload_init(&work->baseload, work->inquiry.session.civil);
    while (flow_next(&work->flow, &piece)) {
        work->span_s += piece.to_s - piece.from_s;
        if (piece.state != FLOW_OBSERVED)
            continue;
        duration_add(&work->duration, piece.energy, piece.to_s - piece.from_s);
        baseload_add(&work->baseload, piece.from_s, piece.to_s, piece.energy);
    }
    work->base = baseload_end(&work->baseload);
    return flow_end(&work->flow);
}

/* Use is what a base load is of: where production is not known, what was bought by night is all of it. */
static bool has_base(const struct work *work)
{
    if (work->flow.meter)
        return work->flow.of == FLOW_IMPORT;
    bool consumption_known = work->inquiry.head.total.balance.consumption != UNKNOWN;
    return work->flow.of == FLOW_CONSUMPTION || (work->flow.of == FLOW_IMPORT && !consumption_known);
}

static struct sheet_cell number(int64_t value, int32_t decimals)
{
    return (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static void add_row(struct work *work, const char *name, const struct duration_point *point)
{
    struct sheet_cell *row = sheet_row(&work->sheet);
    int32_t decimals = number_decimals_of_step(work->flow.step, UP_TO);
    bool table = work->options->format == FORMAT_TABLE;
    if (!row)
        return;
    row[0].text = work->flow.name;
    row[1].text = *name || table ? name : NULL;
    row[2] = (struct sheet_cell){ .value = point->share, .decimals = 1 };
    row[3] = number(point->power, flow_decimals(&work->flow, HOUR));
    row[4] = number(mul_div(point->seconds, 1000, HOUR), 1);
    row[5] = number(point->energy, decimals);
    row[6] =
        (struct sheet_cell){ .value = number_share(point->energy, work->duration.energy), .decimals = 1 };
    row[7] = number(point->above, decimals);
}

static void add_points(struct work *work)
{
    struct duration_point points[POINTS];
    int64_t shares[POINTS];
    for (int32_t i = 0; i < POINTS; i++)
        shares[i] = wanted[i].share;
    duration_points(&work->duration, POINTS, shares, points);
    /* a share of the time is of many intervals: digits are those that an hour's mean has */
    for (int32_t i = 0; i < POINTS; i++)
        add_row(work, wanted[i].name, &points[i]);
}

static void add_base(struct work *work)
{
    char watts[NUMBER_SIZE], share[NUMBER_SIZE];
    sheet_note(&work->sheet, "base load: of each night the whole hour with the least of it (01:00 to 05:00 "
                             "by the clock); nine nights "
                             "in ten this or more (common practice, no source)");
    if (work->base == UNKNOWN) {
        sheet_note(&work->sheet, "base load not yet determinable: %d of %d nights",
                   (int)work->baseload.nights, BASELOAD_LEAST_NIGHTS);
        return;
    }
    struct duration_point base = { .share = SHARE_ONE,
                                   .power = work->base,
                                   .seconds = work->duration.seconds };
    base.energy = mul_div(work->base, base.seconds, HOUR);
    base.above = work->duration.energy - base.energy;
    int64_t of_all = number_share(base.energy, work->duration.energy);
    add_row(work, "base load", &base);
    sheet_note(&work->sheet, "base load %s W in %d nights; all day long that is %s %% of the %s",
               number_print(watts, work->base, 3, 0, ','), (int)work->baseload.nights,
               of_all == UNKNOWN ? "-" : number_print(share, of_all, SHARE_SCALE - 2, 1, 0), work->flow.name);
}

static void add_notes(struct work *work)
{
    char share[NUMBER_SIZE], hours[NUMBER_SIZE], width[NUMBER_SIZE];
    const struct duration *duration = &work->duration;
    sheet_note(&work->sheet, "of observed intervals alone: %s h, %s %% of the time the record has of it",
               number_print(hours, mul_div(duration->seconds, 10, HOUR), 1, 1, ','),
               number_print(share, number_share_down(duration->seconds, work->span_s) / 1000, 1, 1, 0));
    sheet_note(&work->sheet, "powers are means of the intervals, told apart by %s W",
               number_print(width, duration->width / 100, 1, 1, ','));
}

static enum exit_code answer(struct work *work)
{
    inquiry_head(&work->inquiry, &work->sheet);
    if (!feed(work))
        return EXIT_RECORD;
    if (work->duration.seconds == 0)
        return flow_missing(&work->flow);
    add_notes(work);
    add_points(work);
    if (has_base(work))
        add_base(work);
    work->sheet.title = flow_title(&work->flow, "load duration", work->title);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_duration(const struct options *options, const char *const *arguments)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    enum exit_code code = flow_open(&work->inquiry, options, arguments[0]);
    if (code == EXIT_ANSWERED) {
        sheet_init(&work->sheet, "duration", work->inquiry.session.civil, columns, COLUMN_COUNT);
        code = flow_choose(&work->flow, &work->inquiry, FLOW_CONSUMPTION, false, options) ? answer(work)
                                                                                          : EXIT_USAGE;
    }
    sheet_free(&work->sheet);
    inquiry_close(&work->inquiry);
    free(work);
    return code;
}
