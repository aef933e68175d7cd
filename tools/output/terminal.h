/* What stdout can show. */
#ifndef METERBOOK_TERMINAL_H
#define METERBOOK_TERMINAL_H

#include <stdbool.h>
#include <stdint.h>

#include "options.h"

struct terminal {
    int32_t columns; /* 0: no limit */
    bool bars;
    bool colour;
    bool utf8;
};

/* Asks stdout, the locale's character set, COLUMNS, NO_COLOR and the options. */
struct terminal terminal_of(const struct options *options);

#endif
