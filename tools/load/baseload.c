#include "baseload.h"

#include "number.h"

enum { HOUR = 3600, DAY_HOURS = 24 };

#define NINE_OF_TEN (SHARE_ONE / 10 * 9)

void baseload_init(struct baseload *baseload, const struct civil *civil)
{
    duration_init(&baseload->least_hours);
    baseload->civil = civil;
    baseload->hour_s = baseload->day = INT64_MIN;
    baseload->watched_s = baseload->energy = 0;
    baseload->least = UNKNOWN;
    baseload->nights = 0;
}

static void end_hour(struct baseload *baseload)
{
    if (baseload->watched_s == HOUR && (baseload->least == UNKNOWN || baseload->energy < baseload->least))
        baseload->least = baseload->energy;
    baseload->watched_s = baseload->energy = 0;
}

static void end_night(struct baseload *baseload)
{
    if (baseload->least != UNKNOWN) {
        duration_add(&baseload->least_hours, baseload->least, HOUR);
        baseload->nights++;
    }
    baseload->least = UNKNOWN;
}

void baseload_add(struct baseload *baseload, int64_t from_s, int64_t to_s, int64_t energy)
{
    int64_t local_s = from_s + civil_offset(baseload->civil, from_s);
    int64_t hour_s = from_s - local_s % HOUR, hour = local_s / HOUR % DAY_HOURS,
            day = local_s / HOUR / DAY_HOURS;
    if (hour < BASELOAD_FROM_HOUR || hour >= BASELOAD_TO_HOUR || to_s > hour_s + HOUR)
        return;
    if (hour_s != baseload->hour_s)
        end_hour(baseload);
    if (day != baseload->day)
        end_night(baseload);
    baseload->hour_s = hour_s;
    baseload->day = day;
    baseload->watched_s += to_s - from_s;
    baseload->energy += energy;
}

int64_t baseload_end(struct baseload *baseload)
{
    struct duration_point point;
    end_hour(baseload);
    end_night(baseload);
    if (baseload->nights < BASELOAD_LEAST_NIGHTS)
        return UNKNOWN;
    duration_points(&baseload->least_hours, 1, (int64_t[]){ NINE_OF_TEN }, &point);
    return point.power;
}
