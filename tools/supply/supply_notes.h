/* What must be known to read the figures of the supply, as notes of a sheet: what the
 * weeks are held against, and what the whole span says in a sentence each. */
#ifndef METERBOOK_SUPPLY_NOTES_H
#define METERBOOK_SUPPLY_NOTES_H

#include "sheet.h"
#include "supply_read.h"

/* How it was measured and by what, with the mark "indicative". */
void supply_note_source(struct sheet *sheet, const struct supply_answer *answer, int32_t interval_s);
/* What voltages are held against. */
void supply_note_limits(struct sheet *sheet, const struct supply_answer *answer);
void supply_note_throttle(struct sheet *sheet, const struct supply_answer *answer);
void supply_note_frequency(struct sheet *sheet, const struct supply_answer *answer, int32_t interval_s);
void supply_note_unbalance(struct sheet *sheet, const struct supply_answer *answer);
void supply_note_export(struct sheet *sheet, const struct supply_answer *answer);
void supply_note_lost(struct sheet *sheet, const struct supply_answer *answer);

#endif
