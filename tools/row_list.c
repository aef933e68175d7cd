#include "row_list.h"

void row_list_begin(struct row_list *list, const struct answer *answer, struct walk *walk)
{
    *list = (struct row_list){ .answer = answer, .walk = walk, .total = answer->total };
    if (!walk)
        return;
    /* A collector may add to the record while rows are read: the total is theirs. */
    list->total.balance = balance_nothing;
    list->total.sources = 0;
}

const struct answer_row *row_list_next(struct row_list *list)
{
    if (!list->walk)
        return list->next < list->answer->row_count ? &list->answer->rows[list->next++] : NULL;
    const struct answer_row *row = walk_next(list->walk);
    if (row) {
        balance_add(&list->total.balance, &row->balance);
        list->total.sources |= row->sources;
    }
    return row;
}

enum row_unit row_list_unit(const struct row_list *list)
{
    return list->walk ? list->walk->unit : list->answer->unit;
}
