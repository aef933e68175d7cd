/* Private to bills*.c and opening.c: credit that a site brought along, as the contract has it by block of the
 * day or the logbook in one sum. */
#ifndef METERBOOK_OPENING_H
#define METERBOOK_OPENING_H

#include "bills.h"

/* Are the contract's credits of blocks that there are, within which netting is? False, said on stderr. */
bool opening_check(const struct bills *bills, const char *path);

/* Takes the newest that is dated at a bill's first day or before it, once; it stands for all credit that
 * there was. Of one day the contract's energy goes before the logbook's. */
void opening_take(struct bills *bills, int64_t from_day, struct opening *opening);

#endif
