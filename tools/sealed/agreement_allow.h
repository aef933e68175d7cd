/* What the classes and steps of both sides allow of a row, and which of our meters a term is made of. */
#ifndef METERBOOK_AGREEMENT_ALLOW_H
#define METERBOOK_AGREEMENT_ALLOW_H

#include "agreement.h"
#include "history.h"

/* Adds the class of the row's one sealed meter; its energy must be known. */
void agreement_allow_theirs(struct agreement_row *row, const struct config *config);

/* Adds the classes and steps of ours; both energies must be known. The query's failure is left to
 * query_error(). */
void agreement_allow(struct agreement_row *row, const struct config *config, struct query *query,
                     const struct history *history);

struct agreement_side agreement_side(const struct config *config, const struct history *history,
                                     enum balance_term term);

#endif
