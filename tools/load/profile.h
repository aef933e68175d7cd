/* The average day: mean power by hour of the site's clock, month and class of weekday. Pure;
 * constant memory, no allocation. An hour that the clock passes over or shows twice counts with the time it
 * has. Energies mWh, powers mW, times UTC s. */
#ifndef METERBOOK_PROFILE_H
#define METERBOOK_PROFILE_H

#include <stdint.h>

#include "civil.h"

enum { PROFILE_MONTHS = 12, PROFILE_HOURS = 24, PROFILE_ALL = -1 };
enum profile_class { PROFILE_WORKDAY, PROFILE_SATURDAY, PROFILE_SUNDAY, PROFILE_CLASSES };

struct profile_cell {
    int64_t energy, seconds;
};

struct profile {
    const struct civil *civil;
    struct profile_cell cells[PROFILE_MONTHS][PROFILE_CLASSES][PROFILE_HOURS];
    int32_t days[PROFILE_MONTHS][PROFILE_CLASSES]; /* of which something was observed */
    int64_t day;                                   /* the newest */
};

void profile_init(struct profile *profile, const struct civil *civil);

/* An interval that was observed, in order of time; what an hour's end cuts is shared by time. */
void profile_add(struct profile *profile, int64_t from_s, int64_t to_s, int64_t energy);

/* `month` 0 to 11 and `class`; PROFILE_ALL: of all of them, weighted by observed time. */
struct profile_cell profile_hour(const struct profile *profile, int32_t month, int32_t class, int32_t hour);
int32_t profile_days(const struct profile *profile, int32_t month, int32_t class);

/* Mean power of a cell; UNKNOWN where nothing was observed. */
int64_t profile_power(const struct profile_cell *cell);

/* Energy of the average day: the means of its 24 hours; UNKNOWN where one is. */
int64_t profile_energy(const struct profile *profile, int32_t month, int32_t class);

#endif
