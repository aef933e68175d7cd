#include "money.h"

#include <stddef.h>
#include <string.h>

#include "muldiv.h"

int64_t round_to(int64_t value, int64_t unit, enum round_how how)
{
    uint64_t size = value < 0 ? 0 - (uint64_t)value : (uint64_t)value, step = (uint64_t)unit;
    uint64_t whole = size / step, rest = size % step, half = step - rest;
    bool up = false;
    switch (how) {
    case ROUND_HALF_UP:
        up = rest >= half && rest > 0;
        break;
    case ROUND_HALF_EVEN:
        up = rest > half || (rest == half && whole % 2 == 1);
        break;
    case ROUND_UP:
        up = rest > 0;
        break;
    default:
        break;
    }
    int64_t rounded = (int64_t)((whole + up) * step);
    return value < 0 ? -rounded : rounded;
}

int64_t multiply_round(int64_t a, int64_t b, int64_t c)
{
    bool negative = (a < 0) != (b < 0);
    uint64_t rest, size_a = a < 0 ? 0 - (uint64_t)a : (uint64_t)a,
                   size_b = b < 0 ? 0 - (uint64_t)b : (uint64_t)b;
    struct wide result = wide_divide(wide_multiply(size_a, size_b), (uint64_t)c, &rest);
    if (rest >= (uint64_t)c - rest && ++result.low == 0)
        result.high++;
    if (result.high > 0 || result.low > INT64_MAX)
        return negative ? -INT64_MAX : INT64_MAX;
    return negative ? -(int64_t)result.low : (int64_t)result.low;
}

int64_t money_of(int64_t quantity, int64_t rate)
{
    return multiply_round(quantity, rate, QUANTITY_ONE);
}

int32_t currency_decimals(const char *code)
{
    static const struct {
        const char *code;
        int32_t decimals;
    } others[] = {
        { "BHD", 3 }, { "BIF", 0 }, { "CLP", 0 }, { "DJF", 0 }, { "GNF", 0 }, { "IQD", 3 },
        { "ISK", 0 }, { "JOD", 3 }, { "JPY", 0 }, { "KMF", 0 }, { "KRW", 0 }, { "KWD", 3 },
        { "LYD", 3 }, { "OMR", 3 }, { "PYG", 0 }, { "RWF", 0 }, { "TND", 3 }, { "UGX", 0 },
        { "VND", 0 }, { "VUV", 0 }, { "XAF", 0 }, { "XOF", 0 }, { "XPF", 0 },
    };
    if (strlen(code) != 3 || strspn(code, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != 3)
        return -1;
    for (size_t i = 0; i < sizeof(others) / sizeof(others[0]); i++)
        if (strcmp(code, others[i].code) == 0)
            return others[i].decimals;
    return 2;
}
