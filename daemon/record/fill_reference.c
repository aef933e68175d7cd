#include "fill_reference.h"

#include <math.h>
#include <stddef.h>

enum { DAY_S = 86400 };

/* Kinds of days, the narrowest first: workdays, Saturdays and Sundays; workdays
 * and weekends; any day. Indexed by weekday, Sunday first. */
static const uint8_t kinds[][7] = {
    { 2, 0, 0, 0, 0, 0, 1 },
    { 1, 0, 0, 0, 0, 0, 1 },
    { 0, 0, 0, 0, 0, 0, 0 },
};

/* What reference days say of one interval. */
struct reference {
    double mean;
    double doubt; /* variance of the mean */
};

static int64_t weekday(int64_t day)
{
    return ((day + 4) % 7 + 7) % 7; /* 1970-01-01 was a Thursday */
}

static int64_t floor_to(int64_t value, int64_t unit)
{
    return value - (value % unit + unit) % unit;
}

/* The row at this time of another civil day; -1 also where that day skips it. */
static int64_t row_on(const struct fill *fill, int64_t day, int64_t of_day)
{
    int64_t local = day * DAY_S + of_day;
    int64_t start = local - civil_offset(fill->civil, local);
    start = local - civil_offset(fill->civil, start); /* the first guess may be past a change of the clock */
    if (start + civil_offset(fill->civil, start) != local)
        return -1;
    return fill->rows.row(fill->rows.self, start);
}

/* The average of another day's rows around a time of day; -1 without the row at that time itself. */
static double around(const struct fill *fill, int64_t day, int64_t of_day)
{
    int64_t length = fill->length_ms / 1000;
    int64_t step = (FILL_NEAR_STEP_S + length - 1) / length * length;
    int64_t at = row_on(fill, day, of_day), count = 1;
    double sum = (double)at;
    if (at < 0)
        return -1;
    for (int64_t off = step; off <= FILL_NEAR_S; off += step) {
        int64_t beside[] = { row_on(fill, day, of_day - off), row_on(fill, day, of_day + off) };
        for (int i = 0; i < 2; i++) {
            sum += beside[i] >= 0 ? (double)beside[i] : 0;
            count += beside[i] >= 0;
        }
    }
    return sum / (double)count;
}

/* The nearest days of one kind; false where there are too few. */
static bool refer(const struct fill *fill, const uint8_t kind[7], int64_t start_s, struct reference *result)
{
    int64_t local = start_s + civil_offset(fill->civil, start_s);
    int64_t of_day = local - floor_to(local, DAY_S), day = (local - of_day) / DAY_S;
    double sum = 0, squares = 0;
    int count = 0;
    for (int64_t far = 1; far <= FILL_DAYS && count < FILL_REFERENCES; far++) {
        for (int64_t other = day - far; other <= day + far; other += 2 * far) {
            if (kind[weekday(other)] != kind[weekday(day)])
                continue;
            double energy = around(fill, other, of_day);
            if (energy >= 0) {
                sum += energy;
                squares += energy * energy;
                count++;
            }
        }
    }
    if (count < FILL_LEAST)
        return false;
    double rest = squares - sum * sum / count;
    *result = (struct reference){ sum / count, rest > 0 ? rest / (count - 1) / count : 0 };
    return true;
}

/* The same of the narrowest kind that has enough. */
static bool refer_to_any(const struct fill *fill, int64_t start_s, struct reference *result)
{
    for (size_t i = 0; i < sizeof kinds / sizeof *kinds; i++)
        if (refer(fill, kinds[i], start_s, result))
            return true;
    return false;
}

/* The days' shape without what chance made of it. */
static double calmed(const struct fill *fill, double mean)
{
    return fill->level + (mean - fill->level) * (double)fill->share / 1000;
}

/* Level of the rows beside the gap over that of the shape there, in the shape's
 * measure: `scale` is what the shape is multiplied by in the gap. */
static double excess(const struct fill *fill, int64_t from_s, int64_t to_s, double scale)
{
    double measured = 0, shape = 0;
    int count = 0;
    for (int64_t at_s = from_s; at_s < to_s; at_s += fill->length_ms / 1000) {
        int64_t row = fill->rows.row(fill->rows.self, at_s);
        struct reference reference;
        if (row < 0 || !refer_to_any(fill, at_s, &reference))
            continue;
        measured += (double)row / scale;
        shape += calmed(fill, reference.mean);
        count++;
    }
    return count > 0 ? (measured - shape) / count : 0;
}

static void bend(struct fill *fill, double energy, int64_t intervals)
{
    int64_t length = fill->length_ms / 1000, from_s = floor_to(fill->from_ms / 1000, length);
    int64_t to_s = floor_to(fill->to_ms / 1000 + length - 1, length);
    int64_t beside_s =
        (FILL_END_S + length - 1) / length * length + length; /* the first may be measured in part */
    double scale = energy / (fill->level * (double)intervals);
    if (!(scale > 1e-6))
        return;
    fill->bend[0] = excess(fill, from_s - beside_s, from_s, scale) * FILL_BEND / 1000;
    fill->bend[1] = excess(fill, to_s, to_s + beside_s, scale) * FILL_BEND / 1000;
}

void fill_reference_begin(struct fill *fill)
{
    double sum = 0, squares = 0, doubt = 0, energy = (double)fill->energy;
    int64_t count = 0;
    fill->level = fill->bend[0] = fill->bend[1] = 0;
    fill->share = 1000;
    for (int64_t at = floor_to(fill->from_ms, fill->length_ms); at < fill->to_ms; at += fill->length_ms) {
        int64_t fixed = fill->fixed.row ? fill->fixed.row(fill->fixed.self, at / 1000) : -1;
        struct reference reference;
        if (fixed >= 0) {
            energy -= (double)fixed;
            continue;
        }
        if (!refer_to_any(fill, at / 1000, &reference))
            return; /* the method will give way */
        sum += reference.mean;
        squares += reference.mean * reference.mean;
        doubt += reference.doubt;
        count++;
    }
    if (count < 2 || sum <= 0)
        return;
    double spread = (squares - sum * sum / (double)count) / (double)(count - 1);
    double chance = doubt / (double)count * FILL_DOUBT / 1000;
    fill->level = sum / (double)count;
    fill->share = spread > chance ? llround(1000 * (1 - chance / spread)) : 0;
    bend(fill, energy, count);
}

/* From 1 at an end of the gap to 0 so far inside. */
static double nearness(int64_t away_ms)
{
    if (away_ms < 0)
        return 1; /* the middle of an interval that the gap only reaches into */
    return away_ms < FILL_BEND_MS ? 1 - (double)away_ms / FILL_BEND_MS : 0;
}

int64_t fill_reference_energy(const struct fill *fill, int64_t from_ms)
{
    struct reference reference;
    int64_t at_ms = floor_to(from_ms, fill->length_ms), middle_ms = at_ms + fill->length_ms / 2;
    if (!refer_to_any(fill, at_ms / 1000, &reference))
        return -1;
    double energy = calmed(fill, reference.mean) + fill->bend[0] * nearness(middle_ms - fill->from_ms) +
                    fill->bend[1] * nearness(fill->to_ms - middle_ms);
    return energy > 0 ? llround(energy) : 0;
}
