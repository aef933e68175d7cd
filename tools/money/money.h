/* Amounts of money: integers in millionths of the currency's unit, never a binary fraction.
 *
 * A product of an energy and a rate is made of 128 bits (muldiv.h) and cut to 64; what does not fit is the
 * largest amount, which no bill of a house reaches. */
#ifndef METERBOOK_MONEY_H
#define METERBOOK_MONEY_H

#include <stdbool.h>
#include <stdint.h>

#define MONEY_ONE    INT64_C(1000000)
/* Quantities in a bill: millionths too, of a kWh (a mWh), kW, day, month ... */
#define QUANTITY_ONE INT64_C(1000000)

enum round_how {
    ROUND_HALF_UP,   /* half away from zero, as bills are written */
    ROUND_HALF_EVEN, /* half to the even neighbour */
    ROUND_DOWN,      /* towards zero: cut */
    ROUND_UP,        /* away from zero */
    ROUND_HOW_COUNT
};

/* To a multiple of `unit` (millionths, above 0). */
int64_t round_to(int64_t value, int64_t unit, enum round_how how);

/* a * b / c to the nearest, half away from zero; c > 0. */
int64_t multiply_round(int64_t a, int64_t b, int64_t c);

/* A quantity at a rate, both in millionths, in millionths. */
int64_t money_of(int64_t quantity, int64_t rate);

/* Decimals of a currency by its ISO 4217 code; -1: no such code is known here. From memory: the codes that
 * have other than two. Any other three capital letters have two. */
int32_t currency_decimals(const char *code);

#endif
