/* One row's energies as a bar: export, self-consumption, import, one after
 * the other. The first two together are what was made, the last two what was
 * used. Negative parts (small skews between meters) take no room. */
#ifndef METERBOOK_BAR_H
#define METERBOOK_BAR_H

#include <stdint.h>
#include <stdio.h>

#include "balance.h"
#include "terminal.h"

/* Length of the whole bar in mWh. */
int64_t bar_length(const struct balance *balance);

/* Draws the bar; `longest` mWh fill `columns`. */
void bar_print(FILE *out, const struct balance *balance, int64_t longest, int32_t columns,
               const struct terminal *terminal);

/* Says which sign is which. */
void bar_legend(FILE *out, const struct terminal *terminal);

#endif
