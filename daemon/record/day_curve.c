#include "day_curve.h"

#include <string.h>

enum { VARINT_BYTES = 9 /* of 63 bits */ };

static bool add(int64_t *sum, int64_t value)
{
    if (value < 0 || value > INT64_MAX - *sum)
        return false;
    *sum += value;
    return true;
}

/* ---- folding ---- */

static bool begin(struct day_curve *curve, int64_t from_s, int64_t to_s, int64_t interval_s)
{
    memset(curve, 0, sizeof *curve);
    curve->from_s = curve->next_s = from_s;
    if (to_s <= from_s || to_s - from_s > (int64_t)CURVE_QUARTERS * CURVE_QUARTER_S ||
        from_s % CURVE_QUARTER_S != 0 || to_s % CURVE_QUARTER_S != 0)
        return false;
    if (interval_s < 1 || interval_s > CURVE_QUARTER_S || CURVE_QUARTER_S % interval_s != 0)
        return false;
    curve->quarters = (int32_t)((to_s - from_s) / CURVE_QUARTER_S);
    curve->interval_s = (int32_t)interval_s;
    return true;
}

void day_curve_begin(struct day_curve *curve, int64_t from_s, int64_t to_s, int64_t interval_s)
{
    begin(curve, from_s, to_s, interval_s);
}

void day_curve_add(struct day_curve *curve, int64_t start_s, const int64_t values[CURVE_SERIES])
{
    bool first = curve->next_s == curve->from_s, good = start_s == curve->next_s;
    int64_t quarter = (start_s - curve->from_s) / CURVE_QUARTER_S;
    good = good && curve->interval_s > 0 && quarter < curve->quarters;
    for (int s = 0; s < CURVE_SERIES && good; s++) {
        bool known = values[s] != CURVE_UNKNOWN;
        if (first)
            curve->known[s] = known;
        good = curve->known[s] == known;
        if (good && known)
            good = add(&curve->sums[s], values[s]);
        if (good && known)
            curve->energy[s][quarter] += values[s];
    }
    curve->next_s += curve->interval_s;
    if (!good)
        curve->interval_s = 0;
}

/* ---- packing ---- */

static unsigned char *put(unsigned char *to, int64_t value)
{
    for (; value > 127; value >>= 7)
        *to++ = (unsigned char)(128 | (value & 127));
    *to++ = (unsigned char)value;
    return to;
}

static unsigned char *put_series(unsigned char *to, const int64_t *energy, int32_t quarters)
{
    for (int32_t q = 0, zeros = 0; q < quarters; q++) {
        if (energy[q] != 0) {
            to = put(to, energy[q]);
            continue;
        }
        zeros++;
        if (q + 1 == quarters || energy[q + 1] != 0) {
            *to++ = 0;
            to = put(to, zeros);
            zeros = 0;
        }
    }
    return to;
}

/* A counter that stands still is told from one that is not there. */
static bool has(const struct day_curve *curve, int series)
{
    bool counter = series == CURVE_IMPORT || series == CURVE_EXPORT;
    return counter ? curve->known[series] : curve->sums[series] != 0;
}

size_t day_curve_pack(const struct day_curve *curve, unsigned char bytes[CURVE_BYTES])
{
    unsigned char *to = bytes + 1;
    if (curve->interval_s == 0 || curve->next_s != curve->from_s + (int64_t)curve->quarters * CURVE_QUARTER_S)
        return 0;
    bytes[0] = 0;
    to = put(to, curve->interval_s);
    for (int s = 0; s < CURVE_SERIES; s++) {
        if (!has(curve, s))
            continue;
        bytes[0] |= (unsigned char)(1U << s);
        to = put_series(to, curve->energy[s], curve->quarters);
    }
    return (size_t)(to - bytes);
}

/* ---- unpacking ---- */

struct bytes {
    const unsigned char *at, *end;
};

/* -1 where it is none, or longer than it need be. */
static int64_t take(struct bytes *bytes)
{
    int64_t value = 0;
    for (int i = 0; i < VARINT_BYTES && bytes->at < bytes->end; i++) {
        unsigned char byte = *bytes->at++;
        value |= (int64_t)(byte & 127) << (7 * i);
        if (byte < 128)
            return byte == 0 && i > 0 ? -1 : value;
    }
    return -1;
}

static bool take_series(struct bytes *bytes, int64_t *energy, int32_t quarters, int64_t *sum)
{
    bool after_zeros = false;
    for (int32_t q = 0; q < quarters;) {
        int64_t value = take(bytes);
        if (value < 0)
            return false;
        if (value > 0) {
            if (!add(sum, value))
                return false;
            energy[q++] = value;
            after_zeros = false;
            continue;
        }
        int64_t zeros = take(bytes);
        if (zeros < 1 || zeros > quarters - q || after_zeros)
            return false;
        q += (int32_t)zeros;
        after_zeros = true;
    }
    return true;
}

bool day_curve_unpack(struct day_curve *curve, const unsigned char *bytes, size_t size, int64_t from_s,
                      int64_t to_s)
{
    if (!bytes || size < 2 || bytes[0] >> CURVE_SERIES != 0)
        return false;
    struct bytes rest = { bytes + 1, bytes + size };
    if (!begin(curve, from_s, to_s, take(&rest)))
        return false;
    curve->next_s = to_s;
    for (int s = 0; s < CURVE_SERIES; s++) {
        curve->known[s] = (bytes[0] & 1U << s) != 0;
        if (curve->known[s] && !take_series(&rest, curve->energy[s], curve->quarters, &curve->sums[s]))
            return false;
        if (!curve->known[s] && s <= CURVE_EXPORT)
            curve->sums[s] = CURVE_UNKNOWN;
    }
    return rest.at == rest.end;
}
