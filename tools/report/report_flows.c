/* The one reading of the span's intervals, from which hours, duration, demand and base load are made. */
#include "report.h"

enum { MOST_COLUMNS = 400 /* of a raster: a year by days, ten by weeks */, MINUTE = 60 };

const int64_t report_windows_s[REPORT_WINDOWS] = { 15 * MINUTE, 30 * MINUTE };

static void pass_month(void *self, const struct demand_scope *month)
{
    (void)self, (void)month; /* the span's peak is shown alone */
}

static void add_duration(struct duration *duration, const struct flow_piece *piece)
{
    if (piece->state == FLOW_OBSERVED)
        duration_add(duration, piece->energy, piece->to_s - piece->from_s);
}

static void add_hours(struct report *report, const struct flow *flow,
                      const struct flow_piece pieces[FLOW_COUNT])
{
    const struct balance balance = flow_balance(flow, &pieces[FLOW_IMPORT]);
    int64_t production = pieces[FLOW_PRODUCTION].energy, export = pieces[FLOW_EXPORT].energy;
    const int64_t energy[HOURS_TERMS] = {
        [HOURS_PRODUCTION] = production,
        [HOURS_IMPORT] = pieces[FLOW_IMPORT].energy,
        [HOURS_EXPORT] = export,
        [HOURS_CONSUMPTION] = pieces[FLOW_CONSUMPTION].energy,
        [HOURS_SELF_CONSUMPTION] = production == UNKNOWN || export == UNKNOWN ? UNKNOWN : production - export,
    };
    hours_add(&report->hours, report->inquiry->session.civil, pieces[0].from_s,
              (int32_t)(pieces[0].to_s - pieces[0].from_s), energy,
              balance.estimated == UNKNOWN ? 0 : balance.estimated);
}

/* Not a hole: those may be long, and know nothing. */
static void add_interval(struct report *report, const struct flow *flow, const struct flow_piece *piece)
{
    struct flow_piece pieces[FLOW_COUNT];
    for (int32_t of = 0; of < FLOW_COUNT; of++)
        flow_other(flow, piece, (enum flow_of)of, &pieces[of]);
    add_hours(report, flow, pieces);
    add_duration(&report->import_duration, &pieces[FLOW_IMPORT]);
    const struct flow_piece *load = &pieces[report->load];
    add_duration(&report->load_duration, load);
    if (load->state == FLOW_OBSERVED)
        baseload_add(&report->baseload, load->from_s, load->to_s, load->energy);
}

bool report_read_flows(struct report *report)
{
    const struct inquiry *inquiry = report->inquiry;
    const struct civil *civil = inquiry->session.civil;
    struct flow flow;
    struct flow_piece piece;
    if (!hours_init(&report->hours, inquiry->period.from_day, inquiry->period.to_day, MOST_COLUMNS))
        return report_out_of_memory();
    report->load = inquiry->head.total.balance.consumption == UNKNOWN ? FLOW_IMPORT : FLOW_CONSUMPTION;
    duration_init(&report->load_duration);
    duration_init(&report->import_duration);
    baseload_init(&report->baseload, civil);
    demand_init(&report->demand, civil, REPORT_WINDOWS, report_windows_s, pass_month, NULL);
    flow_init(&flow, inquiry, FLOW_IMPORT);
    for (int32_t of = 0; of < FLOW_COUNT; of++)
        flow_also(&flow, (enum flow_of)of);
    /* what lies before the record is not known either, but for the begin of its first day */
    int64_t day_s = civil_day_start(civil, civil_day_of(civil, flow.at_s));
    if (day_s > inquiry->from_s)
        demand_add(&report->demand, inquiry->from_s, day_s, UNKNOWN, false);
    while (flow_next(&flow, &piece)) {
        demand_add(&report->demand, piece.from_s, piece.to_s, piece.energy, piece.state == FLOW_OBSERVED);
        if (flow_has_rows(&flow, &piece))
            add_interval(report, &flow, &piece);
    }
    demand_end(&report->demand);
    report->base = baseload_end(&report->baseload);
    return flow_end(&flow);
}
