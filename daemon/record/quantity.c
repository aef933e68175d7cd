#include "quantity.h"

#include <string.h>

static const struct quantity_info table[QUANTITY_COUNT] = {
#define X(symbol, name, unit, kind, obis) { name, unit, KIND_##kind, obis },
    QUANTITY_TABLE(X)
#undef X
};

const struct quantity_info *quantity_info(enum quantity q)
{
    return &table[q];
}

enum quantity quantity_by_name(const char *name)
{
    int q = 0;
    while (q < QUANTITY_COUNT && strcmp(table[q].name, name) != 0)
        q++;
    return (enum quantity)q;
}
