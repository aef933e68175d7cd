#include "number.h"

#include <stdbool.h>
#include <stdio.h>

static uint64_t power_of_ten(int32_t exponent)
{
    uint64_t power = 1;
    while (exponent-- > 0)
        power *= 10;
    return power;
}

static uint64_t magnitude(int64_t value)
{
    return value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
}

static uint64_t rounded_magnitude(int64_t value, uint64_t cut)
{
    return magnitude(value) / cut + (magnitude(value) % cut >= (cut + 1) / 2 && cut > 1);
}

int64_t number_round(int64_t value, int32_t scale, int32_t decimals)
{
    int64_t rounded = (int64_t)rounded_magnitude(value, power_of_ten(scale - decimals));
    return value < 0 ? -rounded : rounded;
}

const char *number_print(char buffer[NUMBER_SIZE], int64_t value, int32_t scale, int32_t decimals,
                         char thousands)
{
    uint64_t cut = power_of_ten(scale - decimals);
    uint64_t rounded = rounded_magnitude(value, cut);
    char *at = &buffer[NUMBER_SIZE - 1];
    bool negative = value < 0 && rounded > 0; /* no "-0.000" */
    *at = '\0';
    for (int32_t i = 0; i < decimals; i++, rounded /= 10)
        *--at = (char)('0' + rounded % 10);
    if (decimals > 0)
        *--at = '.';
    int32_t digits = 0;
    do {
        if (thousands && digits > 0 && digits % 3 == 0)
            *--at = thousands;
        *--at = (char)('0' + rounded % 10);
        rounded /= 10;
        digits++;
    } while (rounded > 0);
    if (negative)
        *--at = '-';
    for (char *to = buffer; (*to++ = *at++) != '\0';)
        ;
    return buffer;
}

static int64_t share(int64_t part, int64_t whole, bool round)
{
    if (part == UNKNOWN || whole == UNKNOWN || whole <= 0)
        return UNKNOWN;
    uint64_t above = magnitude(part), below = (uint64_t)whole;
    /* beyond 9 GWh the last bits do not change a millionth */
    while (above > UINT64_MAX / SHARE_ONE / 2 || below > UINT64_MAX / SHARE_ONE / 2) {
        above /= 2;
        below /= 2;
    }
    if (below == 0)
        return UNKNOWN;
    uint64_t millionths = (above * SHARE_ONE + (round ? below / 2 : 0)) / below;
    if (millionths > INT64_MAX)
        return UNKNOWN;
    return part < 0 ? -(int64_t)millionths : (int64_t)millionths;
}

int64_t number_share(int64_t part, int64_t whole)
{
    return share(part, whole, true);
}

int64_t number_share_down(int64_t part, int64_t whole)
{
    return share(part, whole, false);
}

int32_t number_decimals_of_step(int64_t step, int32_t most)
{
    int32_t decimals = ENERGY_SCALE;
    while (decimals > 0 && step > 1) {
        step = (step + 9) / 10; /* a step of 8 Wh has no third decimal to trust */
        decimals--;
    }
    return decimals < most ? decimals : most;
}

int64_t number_sum(int64_t a, int64_t b)
{
    if (a == UNKNOWN)
        return b;
    return b == UNKNOWN ? a : a + b;
}
