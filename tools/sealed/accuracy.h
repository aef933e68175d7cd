/* What a meter or a current transformer of a class may be off by, as published, at
 * power factor 1 and rated conditions. Pure tables; shares in millionths of the energy.
 *
 * Loads are millionths of the rated current. Between two loads of a table the limit of the lower one
 * stands, which is the wider. Below the lowest a class promises nothing: its limit stands and `below` says
 * so. */
#ifndef METERBOOK_ACCURACY_H
#define METERBOOK_ACCURACY_H

#include <stdbool.h>
#include <stdint.h>

#include "number.h"

struct accuracy_limit {
    int64_t share; /* UNKNOWN: no such class */
    bool below;
};

/* The widest that any class allows at rated current: what is further off is so whatever the class. */
enum { ACCURACY_WIDEST_METER = 35000, ACCURACY_WIDEST_CT = 30000 };

/* Words as in the configuration, "0.5S", "B" ...; load UNKNOWN: at rated current. */
struct accuracy_limit accuracy_meter(const char *class_word, int64_t load);
struct accuracy_limit accuracy_ct(const char *class_word, int64_t load);

/* Root of the sum of the squares: what errors that know nothing of one another come to. */
int64_t accuracy_root_sum_square(const int64_t *parts, int32_t count);

#endif
