/* What production would have brought while it was stopped: the same hours of
 * the days around it, scaled by how the hours beside it compare. An estimate,
 * shown apart and in no sum of energies. */
#include "muldiv.h"
#include "outages.h"
#include "stretch.h"

enum {
    DAY_S = 86400,
    BESIDE_S = 3 * 3600, /* hours before and behind that tell what weather it was */
    DAYS = 6,            /* nearest days averaged */
    LOOKED_AT = 60,      /* of so many */
    TELLING = 5,         /* the hours beside must bring a fifth of those in question */
    BRIGHTEST = 2,       /* no day is more than so many times the days around it */
};

struct work {
    const struct outages *outages;
    struct query *query;
    const struct arranged_meter *meter;
};

static int64_t made(const struct work *work, struct meter_sum sum)
{
    return work->meter->delivers_by_export ? sum.export : sum.import;
}

/* Was production stopped in it? */
static bool is_touched(const struct work *work, int64_t from_s, int64_t to_s)
{
    for (int32_t i = 0; i < work->outages->count; i++) {
        const struct outage *outage = &work->outages->list[i];
        bool stops = outage->kind == OUTAGE_GRID ||
                     (outage->kind == OUTAGE_INVERTER && outage->meter == work->meter->number);
        if (stops && outage->from_ms < to_s * 1000 && outage_end_ms(work->outages, outage) > from_s * 1000)
            return true;
    }
    return false;
}

/* The hours before and behind a piece, at its day or another; UNKNOWN where production was stopped. */
static int64_t beside(const struct work *work, const struct stretch *piece, int64_t shift_s)
{
    struct stretch before = *piece, after = *piece;
    before.from_s = piece->from_s - BESIDE_S;
    before.to_s = piece->from_s;
    after.from_s = piece->to_s;
    after.to_s = piece->to_s + BESIDE_S;
    if (is_touched(work, before.from_s + shift_s, before.to_s + shift_s) ||
        is_touched(work, after.from_s + shift_s, after.to_s + shift_s))
        return UNKNOWN;
    return made(work, stretch_sum(&before, shift_s)) + made(work, stretch_sum(&after, shift_s));
}

/* At most a day; UNKNOWN where too few days know. */
static int64_t estimate_piece(const struct work *work, const struct stretch *piece)
{
    struct meter_sum sum;
    int64_t usual = 0, usual_beside = 0, own = beside(work, piece, 0);
    int32_t days = 0;
    for (int32_t i = 0; i < LOOKED_AT && days < DAYS; i++) {
        int64_t shift_s = stretch_shift_s(piece, i);
        if (is_touched(work, piece->from_s + shift_s, piece->to_s + shift_s) || !stretch_day(piece, i, &sum))
            continue;
        int64_t there = own == UNKNOWN ? UNKNOWN : beside(work, piece, shift_s);
        if (there == UNKNOWN)
            own = UNKNOWN;
        else
            usual_beside += there;
        usual += made(work, sum);
        days++;
    }
    if (days < STRETCH_LEAST)
        return UNKNOWN;
    int64_t expected = usual / days;
    if (own != UNKNOWN && usual_beside * TELLING >= usual && usual_beside > 0) {
        int64_t most = usual_beside / days * BRIGHTEST;
        expected = mul_div(expected, (own < most ? own : most) * days, usual_beside);
    }
    int64_t missing = expected - made(work, stretch_sum(piece, 0));
    return missing > 0 ? missing : 0;
}

static int64_t estimate(const struct work *work, const struct outage *outage)
{
    struct stretch whole =
        stretch_of(work->query, work->meter->number, outage->from_ms, outage_end_ms(work->outages, outage));
    int64_t total = 0;
    for (struct stretch piece = whole; piece.from_s < whole.to_s; piece.from_s = piece.to_s) {
        piece.to_s = piece.from_s + DAY_S < whole.to_s ? piece.from_s + DAY_S : whole.to_s;
        int64_t missing = estimate_piece(work, &piece);
        if (missing == UNKNOWN)
            return UNKNOWN;
        total += missing;
    }
    return total;
}

void outages_estimate(struct outages *outages, struct query *query, const struct arrangement *arrangement)
{
    for (int32_t i = 0; i < outages->count; i++) {
        struct outage *outage = &outages->list[i];
        for (int32_t m = 0; m < arrangement->meter_count; m++) {
            struct work work = { outages, query, &arrangement->meters[m] };
            bool plant = work.meter->use == USE_PRODUCTION || work.meter->use == USE_GROSS;
            if ((outage->kind == OUTAGE_GRID && plant) ||
                (outage->kind == OUTAGE_INVERTER && outage->meter == work.meter->number))
                outage->not_made = number_sum(outage->not_made, estimate(&work, outage));
        }
    }
}
