#include "curve.h"

#include "muldiv.h"
#include "walk.h"

bool curve_read_day(struct curve *curve, const struct inquiry *whole, int64_t day)
{
    struct inquiry inquiry = *whole; /* the same, of one day */
    struct walk walk;
    const struct civil *civil = inquiry.session.civil;
    inquiry.period = (struct period){ day, day + 1 };
    curve->from_s = civil_day_start(civil, day);
    curve->length_s = (int32_t)(civil_day_start(civil, day + 1) - curve->from_s);
    curve->count = 0;
    walk_begin(&walk, &inquiry, ROW_INTERVAL);
    for (const struct answer_row *row; (row = walk_next(&walk)) && curve->count < CURVE_ROOM;) {
        const struct balance *balance = &row->balance;
        struct curve_point *point = &curve->points[curve->count++];
        const int64_t energy[HOURS_TERMS] = { balance->production, balance->import, balance->export,
                                              balance->consumption, balance->self_consumption };
        point->from_s = (int32_t)(row->from_s - curve->from_s);
        point->to_s = (int32_t)(row->to_s - curve->from_s);
        point->estimated = balance->estimated != UNKNOWN && balance->estimated != 0;
        for (int32_t t = 0; t < HOURS_TERMS; t++)
            point->power[t] =
                energy[t] == UNKNOWN ? UNKNOWN : mul_div(energy[t], CURVE_HOUR_S, row->to_s - row->from_s);
    }
    return walk_end(&walk);
}

void curve_average(struct curve *curve, const struct hours *hours)
{
    curve->from_s = UNKNOWN;
    curve->length_s = HOURS_A_DAY * CURVE_HOUR_S;
    curve->count = HOURS_A_DAY;
    for (int32_t hour = 0; hour < HOURS_A_DAY; hour++) {
        struct curve_point *point = &curve->points[hour];
        *point = (struct curve_point){ .from_s = hour * CURVE_HOUR_S, .to_s = (hour + 1) * CURVE_HOUR_S };
        for (int32_t t = 0; t < HOURS_TERMS; t++)
            point->power[t] = hours_power(&hours->all[hour], (enum hours_term)t);
    }
}
