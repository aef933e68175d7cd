/* Counts what the project's own code allocates, not SQLite nor the simulated
 * disk below it. Needs an allocator that can be stood before: not with the
 * sanitizers. */
#ifndef METERBOOK_SIM_ALLOCATION_H
#define METERBOOK_SIM_ALLOCATION_H

#include <stdbool.h>
#include <stdint.h>

/* Before the first use of SQLite. False: nothing is counted. */
bool allocation_install(void);
void allocation_count(bool on);
/* Since the beginning, while counting was on. */
int64_t allocation_counted(void);

#endif
