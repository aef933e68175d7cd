#include "demand.h"

#include "muldiv.h"
#include "number.h"
#include "period.h"

static struct demand_piece *piece_at(struct demand *demand, int64_t index)
{
    return &demand->ring[index % DEMAND_ROOM];
}

static void scope_begin(struct demand_scope *scope, int64_t from_s)
{
    *scope = (struct demand_scope){ .from_s = from_s, .to_s = from_s };
    for (int32_t i = 0; i < DEMAND_LENGTHS; i++)
        for (int32_t o = 0; o < DEMAND_OFFSETS; o++)
            scope->peaks[i][o] = (struct demand_peak){ UNKNOWN, 0, INT64_MIN };
}

void demand_init(struct demand *demand, const struct civil *civil, int32_t length_count,
                 const int64_t lengths[], void (*hear_month)(void *self, const struct demand_scope *month),
                 void *self)
{
    *demand = (struct demand){
        .civil = civil, .length_count = length_count, .hear_month = hear_month, .self = self
    };
    for (int32_t i = 0; i < length_count; i++)
        demand->length_s[i] = lengths[i];
    scope_begin(&demand->span, 0);
}

static bool is_aligned(const struct demand *demand, int64_t start_s, int64_t length_s)
{
    return (start_s + civil_offset(demand->civil, start_s)) % length_s == 0;
}

/* ---- months ---- */

static int64_t next_month_s(const struct civil *civil, int64_t at_s)
{
    return civil_day_start(civil, period_next_month(civil_day_of(civil, at_s)));
}

static void month_begin(struct demand *demand, int64_t from_s)
{
    scope_begin(&demand->month, from_s);
    demand->month_end_s = next_month_s(demand->civil, from_s);
}

static void month_end(struct demand *demand)
{
    demand->hear_month(demand->self, &demand->month);
    month_begin(demand, demand->month_end_s);
}

/* ---- windows that end in a stretch that was not watched ---- */

static int64_t add_limited(int64_t sum, const struct demand_piece *piece)
{
    return piece->unknown || sum == INT64_MAX ? INT64_MAX : sum + piece->energy;
}

/* The most that a window which ends inside the stretch had, if the first such end is this. */
static int64_t most_until(struct demand *demand, int64_t end_s, int64_t length_s)
{
    int64_t sum = add_limited(0, &demand->stretch);
    int64_t oldest = demand->next > DEMAND_ROOM ? demand->next - DEMAND_ROOM : 0;
    for (int64_t i = demand->next - 1; i >= oldest; i--) {
        const struct demand_piece *piece = piece_at(demand, i);
        if (piece->to_s <= end_s - length_s)
            break;
        sum = add_limited(sum, piece);
    }
    return sum;
}

static void raise_possible(struct demand_peak *peak, int64_t most)
{
    peak->possible = most > peak->possible ? most : peak->possible;
}

/* Windows that end later in the stretch hold less of what was watched before it. */
static void limit_in_stretch(struct demand *demand, struct demand_scope *scope, int64_t limit_s)
{
    int64_t from_s = demand->stretch.from_s;
    int64_t to_s = demand->stretch.to_s < limit_s ? demand->stretch.to_s : limit_s;
    int64_t step_s = demand->step_s > 0 ? demand->step_s : DEMAND_SHORTEST_INTERVAL_S;
    for (int32_t i = 0; i < demand->length_count; i++) {
        int64_t length_s = demand->length_s[i];
        int64_t end_s =
            from_s + step_s > scope->from_s + length_s ? from_s + step_s : scope->from_s + length_s;
        if (end_s <= to_s)
            raise_possible(&scope->peaks[i][DEMAND_WORST], most_until(demand, end_s, length_s));
        int64_t local_s = end_s - length_s + civil_offset(demand->civil, end_s - length_s);
        end_s += (length_s - local_s % length_s) % length_s;
        if (end_s <= to_s)
            raise_possible(&scope->peaks[i][DEMAND_ALIGNED], most_until(demand, end_s, length_s));
    }
}

static void drop_first(struct demand *demand, int32_t i)
{
    const struct demand_piece *piece = piece_at(demand, demand->window[i].tail++);
    demand->window[i].sum -= piece->unknown ? 0 : piece->energy;
    demand->window[i].unwatched -= !piece->watched;
    demand->window[i].unknown -= piece->unknown;
}

static void push(struct demand *demand, const struct demand_piece *piece)
{
    for (int32_t i = 0; i < demand->length_count; i++)
        if (demand->window[i].tail == demand->next - DEMAND_ROOM)
            drop_first(demand, i); /* its place is needed */
    *piece_at(demand, demand->next++) = *piece;
    for (int32_t i = 0; i < demand->length_count; i++) {
        demand->window[i].sum += piece->unknown ? 0 : piece->energy;
        demand->window[i].unwatched += !piece->watched;
        demand->window[i].unknown += piece->unknown;
    }
}

static void end_stretch(struct demand *demand)
{
    if (!demand->stretch_open)
        return;
    limit_in_stretch(demand, &demand->span, INT64_MAX);
    limit_in_stretch(demand, &demand->month, demand->month_end_s);
    while (demand->stretch.to_s > demand->month_end_s) {
        demand->month.to_s = demand->month_end_s;
        month_end(demand);
        limit_in_stretch(demand, &demand->month, demand->month_end_s);
    }
    demand->month.to_s = demand->span.to_s = demand->stretch.to_s;
    push(demand, &demand->stretch);
    demand->stretch_open = false;
}

/* ---- windows that end with an interval that was watched ---- */

static void take_window(struct demand_scope *scope, int32_t i, enum demand_offset offset, int64_t start_s,
                        int64_t energy, int64_t most)
{
    struct demand_peak *peak = &scope->peaks[i][offset];
    if (start_s < scope->from_s)
        return;
    if (energy == UNKNOWN) {
        raise_possible(peak, most);
    } else if (peak->energy == UNKNOWN || energy > peak->energy) {
        peak->energy = energy;
        peak->start_s = start_s;
    }
}

static void end_window(struct demand *demand, int32_t i, int64_t end_s)
{
    int64_t start_s = end_s - demand->length_s[i];
    while (piece_at(demand, demand->window[i].tail)->to_s <= start_s)
        drop_first(demand, i); /* the newest ends later */
    int64_t begin_s = piece_at(demand, demand->window[i].tail)->from_s;
    bool whole = begin_s == start_s && demand->window[i].unwatched == 0;
    if (begin_s > start_s)
        return; /* what was before the first piece is not asked for */
    int64_t energy = whole ? demand->window[i].sum : UNKNOWN;
    int64_t most = demand->window[i].unknown > 0 ? INT64_MAX : demand->window[i].sum;
    bool aligned = is_aligned(demand, start_s, demand->length_s[i]);
    struct demand_scope *const scopes[] = { &demand->span, &demand->month };
    for (int32_t s = 0; s < 2; s++) {
        take_window(scopes[s], i, DEMAND_WORST, start_s, energy, most);
        if (aligned)
            take_window(scopes[s], i, DEMAND_ALIGNED, start_s, energy, most);
    }
}

static void add_watched(struct demand *demand, const struct demand_piece *piece)
{
    end_stretch(demand);
    while (piece->from_s >= demand->month_end_s)
        month_end(demand);
    demand->step_s = piece->to_s - piece->from_s;
    push(demand, piece);
    demand->span.to_s = demand->month.to_s = piece->to_s;
    demand->span.observed_s += demand->step_s;
    demand->month.observed_s += demand->step_s;
    for (int32_t i = 0; i < demand->length_count; i++)
        end_window(demand, i, piece->to_s);
}

void demand_add(struct demand *demand, int64_t from_s, int64_t to_s, int64_t energy, bool watched)
{
    struct demand_piece piece = { from_s, to_s, energy, watched, energy == UNKNOWN };
    if (demand->month_end_s == 0) {
        scope_begin(&demand->span, from_s);
        month_begin(demand, from_s);
    }
    if (watched && !piece.unknown) {
        add_watched(demand, &piece);
    } else if (demand->stretch_open) {
        demand->stretch.to_s = to_s;
        demand->stretch.unknown |= piece.unknown;
        demand->stretch.energy += piece.unknown ? 0 : energy;
    } else {
        demand->stretch_open = true;
        demand->stretch = piece;
        demand->stretch.watched = false;
        demand->stretch.energy = piece.unknown ? 0 : energy;
    }
}

void demand_end(struct demand *demand)
{
    if (demand->month_end_s == 0)
        return;
    end_stretch(demand);
    demand->hear_month(demand->self, &demand->month);
}

int64_t demand_power(const struct demand_peak *peak, int64_t length_s)
{
    return peak->energy == UNKNOWN ? UNKNOWN : mul_div(peak->energy, 3600, length_s);
}

bool demand_at_least(const struct demand_peak *peak)
{
    return peak->energy != UNKNOWN && peak->possible > peak->energy;
}
