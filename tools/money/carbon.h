/* Emissions that a plant avoids, by dated published factors, and what it stands for itself. The two are never
 * one sum.
 *
 * Masses are millionths of a kg, factors millionths of a kg per kWh, energies mWh. */
#ifndef METERBOOK_CARBON_H
#define METERBOOK_CARBON_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"

enum { CARBON_NAME_SIZE = 64, CARBON_TEXT_SIZE = 120, CARBON_FACTORS = 200 };

/* Of all that is generated, or of what stands still when more is made here. */
enum carbon_kind { CARBON_AVERAGE, CARBON_MARGINAL, CARBON_KINDS };

struct carbon_factor {
    char name[CARBON_NAME_SIZE];
    enum carbon_kind kind;
    int64_t from_day, to_day; /* civil days that it is for: [from, to) */
    int64_t per_kwh;
    char edition[CARBON_TEXT_SIZE], source[CARBON_NAME_SIZE];
};

struct carbon_factors {
    int32_t count;
    struct carbon_factor factors[CARBON_FACTORS];
};

/* Reads a file of factors; every problem is said as "file:line: what, what is allowed". NULL after at least
 * one error. free() takes it. */
struct carbon_factors *carbon_load(const char *path, struct problems *problems);

/* How well a factor fits a day. */
enum carbon_fit { CARBON_OF_THE_DAY, CARBON_EARLIER, CARBON_LATER };

/* The factor of a name and kind for a day: of the day, else the newest before it, else the first after it;
 * NULL where there is none at all. */
const struct carbon_factor *carbon_at(const struct carbon_factors *factors, const char *name,
                                      enum carbon_kind kind, int64_t day, enum carbon_fit *fit);

int64_t carbon_of(int64_t energy, int64_t per_kwh);

/* Energy that would have had to be generated elsewhere: what is used where it is made is not lost on the way;
 * a share (millionths) of the rest is. */
int64_t carbon_with_losses(int64_t self_consumption, int64_t losses);

#endif
