/* The meters that a record ever had, under their newest names. */
#ifndef METERBOOK_METERS_H
#define METERBOOK_METERS_H

#include "history.h"
#include "session.h"

struct meters {
    int32_t count;
    struct arranged_meter list[HISTORY_MAX_METERS]; /* by number */
};

/* False, said on stderr, where the record cannot be read or has no settings yet. The derived grid
 * meter is among them where it counts in the balance. */
bool meters_read(struct meters *meters, struct session *session);

/* The number of the meter of this name or number. What it is mistaken for, or which there are, goes to
 * stderr. */
enum exit_code meters_find(struct session *session, const char *word, int32_t *number);

#endif
