#include "muldiv.h"

#include <stddef.h>

struct wide wide_multiply(uint64_t a, uint64_t b)
{
    uint64_t a_low = (uint32_t)a, a_high = a >> 32;
    uint64_t b_low = (uint32_t)b, b_high = b >> 32;
    uint64_t low = a_low * b_low;
    uint64_t middle = a_high * b_low + (low >> 32); /* cannot overflow: (2^32-1)^2 + 2^32-1 < 2^64 */
    uint64_t other = a_low * b_high + (uint32_t)middle;
    return (struct wide){ .high = a_high * b_high + (middle >> 32) + (other >> 32),
                          .low = other << 32 | (uint32_t)low };
}

struct wide wide_divide(struct wide a, uint64_t divisor, uint64_t *remainder)
{
    struct wide quotient = { .high = a.high == 0 ? 0 : a.high / divisor };
    uint64_t rest = a.high == 0 ? 0 : a.high % divisor;
    if (rest == 0) { /* nearly always: most products fit 64 bits */
        quotient.low = a.low / divisor;
        rest = a.low % divisor;
    } else {
        for (int bit = 63; bit >= 0; bit--) { /* long division; rest < divisor before and after each step */
            bool carry = rest >> 63;
            rest = rest << 1 | (a.low >> bit & 1);
            if (carry || rest >= divisor) {
                rest -= divisor;
                quotient.low |= UINT64_C(1) << bit;
            }
        }
    }
    if (remainder != NULL) {
        *remainder = rest;
    }
    return quotient;
}

static uint64_t magnitude(int64_t a)
{
    return a < 0 ? -(uint64_t)a : (uint64_t)a;
}

static bool is_narrow(int64_t a)
{
    return a >= INT32_MIN && a <= INT32_MAX;
}

bool mul_div_fits(int64_t a, int64_t b, int64_t c, int64_t *result)
{
    if (is_narrow(a) && is_narrow(b)) { /* nearly always */
        int64_t product = a * b;
        *result = product / c - (product % c < 0); /* floor */
        return true;
    }
    uint64_t rest;
    struct wide quotient = wide_divide(wide_multiply(magnitude(a), magnitude(b)), (uint64_t)c, &rest);
    if (quotient.high != 0 || quotient.low > INT64_MAX) {
        /* -2^63 is a result that fits and whose magnitude does not */
        if ((a < 0) != (b < 0) && quotient.high == 0 && quotient.low == UINT64_C(1) << 63 && rest == 0) {
            *result = INT64_MIN;
            return true;
        }
        return false;
    }
    if ((a < 0) == (b < 0)) {
        *result = (int64_t)quotient.low;
    } else {
        *result = -(int64_t)quotient.low - (rest != 0); /* floor: away from zero below it */
    }
    return true;
}

int64_t mul_div(int64_t a, int64_t b, int64_t c)
{
    int64_t result = (a < 0) == (b < 0) ? INT64_MAX : INT64_MIN;
    mul_div_fits(a, b, c, &result);
    return result;
}
