#include "nonactive.h"

#include "number.h"

/* Square root, to the nearest. */
static int64_t root(uint64_t square)
{
    uint64_t result = 0, bit = UINT64_C(1) << 62, rest = square;
    while (bit > rest)
        bit >>= 2;
    for (; bit != 0; bit >>= 2) {
        if (rest >= result + bit) {
            rest -= result + bit;
            result = (result >> 1) + bit;
        } else {
            result >>= 1;
        }
    }
    return (int64_t)(rest > result ? result + 1 : result);
}

static uint64_t squared(int64_t value)
{
    return (uint64_t)value * (uint64_t)value;
}

int64_t nonactive_of(int64_t apparent, int64_t reactive, int64_t import, int64_t export)
{
    if (apparent != UNKNOWN && (import > 0 || export == 0))
        return apparent > import ? root(squared(apparent) - squared(import)) : 0;
    return reactive == UNKNOWN || reactive >= 0 ? reactive : -reactive;
}

int64_t apparent_of(int64_t import, int64_t nonactive)
{
    return root(squared(import) + squared(nonactive));
}
