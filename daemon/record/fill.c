#include "fill.h"

#include <stddef.h>

#include "fill_reference.h"
#include "muldiv.h"

static int64_t floor_to(int64_t value, int64_t unit)
{
    return value - (value % unit + unit) % unit;
}

/* Finds both ends of the line. */
static void find_line(struct fill *fill)
{
    int64_t length = fill->length_ms;
    int64_t starts[] = { floor_to(fill->from_ms, length) - length,
                         floor_to(fill->to_ms + length - 1, length) };
    for (int i = 0; i < 2; i++) {
        fill->line_ms[i] = starts[i] + length / 2;
        fill->line[i] = fill->rows.row != NULL ? fill->rows.row(fill->rows.self, starts[i] / 1000) : -1;
    }
}

/* Height of the line at an instant, or -1. */
static int64_t line_at(const struct fill *fill, int64_t at_ms)
{
    const int64_t *ends = fill->line;
    if (ends[0] < 0 || ends[1] < 0)
        return -1;
    return ends[0] +
           mul_div(ends[1] - ends[0], at_ms - fill->line_ms[0], fill->line_ms[1] - fill->line_ms[0]);
}

static int64_t piece_end(const struct fill *fill, int64_t from_ms)
{
    int64_t end = floor_to(from_ms, fill->length_ms) + fill->length_ms;
    return end < fill->to_ms ? end : fill->to_ms;
}

/* Weight of the piece that starts at from_ms, or negative where the method has none. */
static int64_t weight(const struct fill *fill, int64_t from_ms)
{
    int64_t to_ms = piece_end(fill, from_ms), energy;
    switch (fill->method) {
    case FILL_SUN:
        return sun_weight(&fill->place, &fill->plane, from_ms, to_ms);
    case FILL_DAYLIGHT:
        return sun_daylight(&fill->place, from_ms, to_ms);
    case FILL_LINE:
        energy = line_at(fill, from_ms + (to_ms - from_ms) / 2);
        break;
    case FILL_REFERENCE:
        energy = fill_reference_energy(fill, from_ms);
        break;
    default:
        return to_ms - from_ms;
    }
    return mul_div(energy, to_ms - from_ms, fill->length_ms); /* of a whole interval: its share */
}

static int64_t fixed_energy(const struct fill *fill, int64_t from_ms)
{
    return fill->fixed.row != NULL
               ? fill->fixed.row(fill->fixed.self, floor_to(from_ms, fill->length_ms) / 1000)
               : -1;
}

/* Adds up the weights of the method; false where it has none for a piece, or only zeros for what is free. */
static bool add_up(struct fill *fill)
{
    bool free = false;
    fill->total = fill->fixed_total = 0;
    for (int64_t at = fill->from_ms; at < fill->to_ms; at = piece_end(fill, at)) {
        int64_t fixed = fixed_energy(fill, at);
        int64_t share = fixed >= 0 ? 0 : weight(fill, at);
        if (share < 0)
            return false;
        free = free || fixed < 0;
        fill->fixed_total += fixed >= 0 ? fixed : 0;
        fill->total += share;
    }
    return fill->total > 0 || !free;
}

void fill_begin(struct fill *fill)
{
    if (fill->method == FILL_REFERENCE && fill->to_ms - fill->from_ms <= FILL_DIRECT_MS)
        fill->method = FILL_LINE;
    find_line(fill);
    if (fill->method == FILL_REFERENCE)
        fill_reference_begin(fill);
    while (!add_up(fill) && fill->method != FILL_TIME)
        fill->method = fill->method == FILL_SUN ? FILL_DAYLIGHT : FILL_TIME;
    fill->at_ms = fill->from_ms;
    fill->sum = fill->fixed_sum = 0;
}

bool fill_next(struct fill *fill)
{
    if (fill->at_ms >= fill->to_ms)
        return false;
    int64_t fixed = fixed_energy(fill, fill->at_ms);
    if (fixed >= 0)
        fill->fixed_sum += fixed;
    else
        fill->sum += weight(fill, fill->at_ms);
    fill->at_ms = piece_end(fill, fill->at_ms);
    return true;
}

bool fill_fits(const struct fill *fill, int64_t energy)
{
    int64_t rest = energy - fill->fixed_total;
    return rest == 0 || (rest > 0 && fill->total > 0);
}

int64_t fill_account(const struct fill *fill, int64_t account, int64_t energy)
{
    int64_t rest = energy - fill->fixed_total;
    return account + fill->fixed_sum + (fill->total > 0 ? mul_div(rest, fill->sum, fill->total) : 0);
}
