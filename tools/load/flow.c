#include "flow.h"

#include <stdio.h>
#include <string.h>

#include "muldiv.h"
#include "query_apparent.h"
#include "schema.h"
#include "stamp.h"

static const char *const names[FLOW_COUNT] = { "import", "export", "consumption", "production",
                                               "apparent import" };

/* ---- what is asked for ---- */

static unsigned bit(enum use use)
{
    return 1U << use;
}

/* The meters that a flow is made of, by use, one bit each; balance.c has the sums. */
static unsigned uses_of(const struct arrangement *arrangement, enum flow_of of)
{
    const int32_t *count = arrangement->count;
    bool real_grid = count[USE_GRID] > 0 && !arrangement->derived;
    switch (of) {
    case FLOW_IMPORT:
        return bit(count[USE_GRID] > 0 ? USE_GRID : USE_CONSUMPTION);
    case FLOW_EXPORT:
        return bit(USE_GRID) | bit(USE_GROSS);
    case FLOW_PRODUCTION:
        return bit(USE_PRODUCTION) | bit(USE_GROSS);
    default:
        if (!real_grid)
            return bit(USE_CONSUMPTION);
        return bit(USE_PRODUCTION) | bit(USE_GROSS) | bit(USE_GRID) | bit(USE_STORAGE) | bit(USE_GENERATOR);
    }
}

/* Terms that must not be left to sealed meters. */
static unsigned terms_of(enum flow_of of)
{
    static const unsigned terms[FLOW_COUNT] = { 1U << TERM_IMPORT, 1U << TERM_EXPORT, TERMS_ALL,
                                                1U << TERM_PRODUCTION };
    return terms[of];
}

static int64_t value_of(const struct balance *balance, enum flow_of of)
{
    const int64_t values[FLOW_COUNT] = { balance->import, balance->export, balance->consumption,
                                         balance->production, UNKNOWN };
    return values[of];
}

static bool takes(const struct flow *flow, const struct arrangement *arrangement,
                  const struct arranged_meter *meter, enum flow_of of)
{
    return flow->meter ? meter->number == flow->meter
                       : (bit(meter->use) & uses_of(arrangement, of)) != 0 && meter->use != USE_NONE;
}

static void widen(struct meter_range *range, int32_t number)
{
    range->first = number < range->first ? number : range->first;
    range->last = number > range->last ? number : range->last;
}

static void start(struct flow *flow)
{
    const struct answer *head = &flow->inquiry->head;
    flow->at_s = flow->inquiry->from_s;
    if (head->site.has_rows && head->site.first_s > flow->at_s)
        flow->at_s = head->site.first_s;
    flow->reach_s = head->record_s < flow->inquiry->to_s ? head->record_s : flow->inquiry->to_s;
    flow->chunk_s = flow->at_s;
    flow->step = 1;
    flow->meters = (struct meter_range){ INT32_MAX, 0 };
    for (int32_t i = 0; i < head->history.count; i++)
        for (int32_t j = 0; j < head->history.arrangements[i].meter_count; j++) {
            const struct arrangement *arrangement = &head->history.arrangements[i];
            if (!takes(flow, arrangement, &arrangement->meters[j], flow->of))
                continue;
            int64_t step = query_step(flow->inquiry->session.query, arrangement->meters[j].number,
                                      flow->inquiry->from_s, flow->inquiry->to_s);
            flow->step = step > flow->step ? step : flow->step;
            widen(&flow->meters, arrangement->meters[j].number);
        }
}

void flow_also(struct flow *flow, enum flow_of of)
{
    const struct history *history = &flow->inquiry->head.history;
    for (int32_t i = 0; i < history->count; i++)
        for (int32_t j = 0; j < history->arrangements[i].meter_count; j++)
            if (takes(flow, &history->arrangements[i], &history->arrangements[i].meters[j], of))
                widen(&flow->meters, history->arrangements[i].meters[j].number);
}

void flow_init(struct flow *flow, const struct inquiry *inquiry, enum flow_of of)
{
    *flow = (struct flow){ .inquiry = inquiry, .of = of };
    snprintf(flow->name, sizeof(flow->name), "%s", names[of]);
    start(flow);
}

void flow_init_meter(struct flow *flow, const struct inquiry *inquiry, enum flow_of of,
                     const struct arranged_meter *meter)
{
    *flow = (struct flow){ .inquiry = inquiry, .of = of, .meter = meter->number };
    snprintf(flow->name, sizeof(flow->name), "%s of '%s'", names[of], meter->name);
    start(flow);
}

const char *flow_title(const struct flow *flow, const char *what, char title[FLOW_TITLE_SIZE])
{
    const struct inquiry *inquiry = flow->inquiry;
    char from[STAMP_SIZE], to[STAMP_SIZE];
    bool one_day = inquiry->period.to_day - inquiry->period.from_day == 1;
    stamp_date(from, inquiry->session.civil, inquiry->from_s);
    stamp_date(to, inquiry->session.civil, inquiry->to_s - 1);
    snprintf(title, FLOW_TITLE_SIZE, "%s, %s, %s, %s%s%s, %s", inquiry->head.site.name, what, flow->name,
             from, one_day ? "" : " to ", one_day ? "" : to, inquiry->head.site.zone);
    return title;
}

int32_t flow_decimals(const struct flow *flow, int64_t seconds)
{
    enum { HOUR_S = 3600, MOST = 3 };
    return number_decimals_of_step(mul_div(flow->step, HOUR_S, 2 * seconds), MOST);
}

/* ---- reading ---- */

static void end_chunk(struct flow *flow)
{
    if (flow->reading)
        query_end(flow->inquiry->session.query);
    flow->reading = false;
}

static bool next_row(struct flow *flow)
{
    struct query *query = flow->inquiry->session.query;
    return flow->of == FLOW_APPARENT ? query_next_apparent(query, &flow->row)
                                     : query_next_interval(query, &flow->row);
}

/* The next row; opens a transaction per month. */
static bool read_row(struct flow *flow)
{
    struct query *query = flow->inquiry->session.query;
    const struct civil *civil = flow->inquiry->session.civil;
    while (!flow->has_row && !query_error(query)) {
        if (flow->reading && next_row(flow)) {
            flow->has_row = true;
            return true;
        }
        end_chunk(flow);
        if (flow->chunk_s >= flow->reach_s)
            return false;
        int64_t from_s = flow->chunk_s;
        flow->chunk_s = civil_day_start(civil, period_next_month(civil_day_of(civil, from_s)));
        if (flow->chunk_s > flow->reach_s)
            flow->chunk_s = flow->reach_s;
        query_begin(query);
        flow->reading = true;
        if (flow->of == FLOW_APPARENT)
            query_apparent(query, flow->meter, from_s, flow->chunk_s);
        else
            query_energies_of(query, from_s, flow->chunk_s, flow->meters);
    }
    return flow->has_row;
}

static enum flow_state state_of_row(const struct interval_row *row)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    if (row->how & HOW_RUN_CHANGE)
        return FLOW_UNKNOWN;
    bool placed = row->unobserved > 0 || row->estimated != 0 || method == HOW_INTERPOLATED ||
                  method == HOW_ESTIMATED || row->how & (HOW_CLOCK | HOW_POWER_FAILED);
    return placed ? FLOW_PLACED : FLOW_OBSERVED;
}

/* That of the worst meter behind it. */
static enum flow_state state_of(const struct flow *flow, const struct arrangement *arrangement,
                                enum flow_of of)
{
    enum flow_state worst = FLOW_OBSERVED;
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        if (flow->wanted[i] >> of & 1 && flow->states[i] > worst)
            worst = flow->states[i];
    return worst;
}

static int64_t energy_of(const struct flow *flow, const struct arrangement *arrangement, int64_t start_s,
                         enum flow_of of)
{
    for (int32_t i = 0; flow->meter && i < arrangement->meter_count; i++)
        if (arrangement->meters[i].number == flow->meter)
            return of == FLOW_EXPORT ? flow->energy[i].export : flow->energy[i].import;
    if (flow->meter || sources_sealed(flow->inquiry->sources, start_s) & terms_of(of))
        return UNKNOWN;
    return value_of(&flow->balance, of);
}

static void fill_piece(const struct flow *flow, const struct arrangement *arrangement, enum flow_of of,
                       struct flow_piece *piece)
{
    piece->energy = energy_of(flow, arrangement, piece->from_s, of);
    piece->state = state_of(flow, arrangement, of);
    if (piece->energy == UNKNOWN)
        piece->state = FLOW_UNKNOWN;
    if (piece->state == FLOW_UNKNOWN)
        piece->energy = UNKNOWN;
}

/* Once for each arrangement, not for each instant. */
static void begin_arrangement(struct flow *flow, const struct arrangement *arrangement)
{
    flow->arrangement = arrangement;
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        flow->wanted[i] = 0;
        for (int32_t of = 0; of < FLOW_COUNT; of++)
            if (takes(flow, arrangement, &arrangement->meters[i], (enum flow_of)of))
                flow->wanted[i] |= 1U << of;
    }
}

/* Gathers the rows of the next instant that has any. */
static bool read_group(struct flow *flow)
{
    if (!read_row(flow))
        return false;
    int64_t start_s = flow->row.start_s;
    const struct arrangement *arrangement = history_at(&flow->inquiry->head.history, start_s, &flow->hint);
    if (arrangement != flow->arrangement)
        begin_arrangement(flow, arrangement);
    memset(flow->energy, 0, (size_t)arrangement->meter_count * sizeof(flow->energy[0]));
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        flow->states[i] = FLOW_UNKNOWN;
    while (read_row(flow) && flow->row.start_s == start_s) {
        const struct interval_row *row = &flow->row;
        for (int32_t i = 0; i < arrangement->meter_count; i++) {
            if (arrangement->meters[i].number != row->meter)
                continue;
            flow->energy[i] = (struct meter_energy){ true, row->import, row->export, row->estimated };
            flow->states[i] = state_of_row(row);
        }
        flow->has_row = false;
    }
    if (!flow->meter)
        flow->balance = balance_of(arrangement, flow->energy);
    flow->group.from_s = start_s;
    flow->group.to_s = start_s + arrangement->interval_s;
    fill_piece(flow, arrangement, flow->of, &flow->group);
    flow->has_group = true;
    return true;
}

static bool give_hole(struct flow *flow, int64_t to_s, struct flow_piece *piece)
{
    *piece = (struct flow_piece){ flow->at_s, to_s, UNKNOWN, FLOW_UNKNOWN };
    flow->at_s = to_s;
    return true;
}

bool flow_next(struct flow *flow, struct flow_piece *piece)
{
    /* rows that overlap what was given (the interval's length changed off the grid) are passed over */
    while (flow->has_group || read_group(flow)) {
        if (flow->group.from_s > flow->at_s)
            return give_hole(flow, flow->group.from_s, piece);
        flow->has_group = false;
        if (flow->group.from_s < flow->at_s)
            continue;
        *piece = flow->group;
        flow->at_s = piece->to_s;
        return true;
    }
    if (query_error(flow->inquiry->session.query) || flow->at_s >= flow->reach_s)
        return false;
    return give_hole(flow, flow->reach_s, piece);
}

/* A hole is given in front of the next interval. */
bool flow_has_rows(const struct flow *flow, const struct flow_piece *piece)
{
    return flow->arrangement && piece->from_s == flow->group.from_s;
}

void flow_other(const struct flow *flow, const struct flow_piece *piece, enum flow_of of,
                struct flow_piece *other)
{
    *other = (struct flow_piece){ piece->from_s, piece->to_s, UNKNOWN, FLOW_UNKNOWN };
    if (flow_has_rows(flow, piece))
        fill_piece(flow, flow->arrangement, of, other);
}

struct balance flow_balance(const struct flow *flow, const struct flow_piece *piece)
{
    return flow_has_rows(flow, piece) ? flow->balance : balance_nothing;
}

bool flow_end(struct flow *flow)
{
    end_chunk(flow);
    if (query_error(flow->inquiry->session.query))
        session_failed(&flow->inquiry->session);
    return !query_error(flow->inquiry->session.query);
}
