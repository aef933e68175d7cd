/* Numbers as people and programs read them: made from integers, digit by
 * digit, so that no locale and no binary fraction can change them. */
#ifndef METERBOOK_NUMBER_H
#define METERBOOK_NUMBER_H

#include <stddef.h>
#include <stdint.h>

/* A value that is not known. Never zero, never printed as a number. */
#define UNKNOWN INT64_MIN

enum {
    NUMBER_SIZE = 40, /* holds any number printed here */
    ENERGY_SCALE = 6, /* mWh in a kWh: 10^6 */
    SHARE_SCALE = 6,  /* shares are kept in millionths */
    SHARE_ONE = 1000000,
};

/* Prints value / 10^scale with `decimals` <= scale decimals (0..18), half away from
 * zero. `thousands` parts groups of three digits, 0 for none. Returns `buffer`. */
const char *number_print(char buffer[NUMBER_SIZE], int64_t value, int32_t scale, int32_t decimals,
                         char thousands);

/* What number_print() prints of a value that is not UNKNOWN, in units of its last decimal. */
int64_t number_round(int64_t value, int32_t scale, int32_t decimals);

/* part / whole in millionths, half away from zero; UNKNOWN where one of them
 * is unknown or the whole is not above zero. */
int64_t number_share(int64_t part, int64_t whole);

/* The same, cut towards zero: 1 only where nothing at all is missing. */
int64_t number_share_down(int64_t part, int64_t whole);

/* Decimals of a kWh that a register of this step (mWh, at least 1) has, at most `most`. */
int32_t number_decimals_of_step(int64_t step, int32_t most);

/* Sum that stays unknown while nothing is known: an unknown term is left out. */
int64_t number_sum(int64_t a, int64_t b);

#endif
