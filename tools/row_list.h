/* The rows of an answer on their way out: its own, or those of a walk over the same span, of any
 * length, which are never all there at once. */
#ifndef METERBOOK_ROW_LIST_H
#define METERBOOK_ROW_LIST_H

#include "walk.h"

struct row_list {
    const struct answer *answer;
    struct walk *walk; /* NULL: the answer's own */
    int32_t next;
    struct answer_row total; /* once there are no more: of the rows given out */
};

void row_list_begin(struct row_list *list, const struct answer *answer, struct walk *walk);

/* Valid until the next call; NULL at the end, where the walk failed too. */
const struct answer_row *row_list_next(struct row_list *list);

/* What the rows are. */
enum row_unit row_list_unit(const struct row_list *list);

#endif
