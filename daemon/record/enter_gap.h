/* The stored rows of a gap in the collector's account with the rows at its ends
 * that were measured in part, and what was entered for it. Heap, as long as the
 * gap. */
#ifndef METERBOOK_ENTER_GAP_H
#define METERBOOK_ENTER_GAP_H

#include "store_enter.h"

struct enter_gap_rows {
    int32_t count, room;
    bool first_edge, last_edge; /* see struct enter_gap */
    struct enter_row *rows;     /* oldest first, without a hole; none but the edges was measured */
    struct enter_row *result;
    const struct enter_row **entered; /* NULL where nothing was */
    int32_t *waiting;                 /* the caller's number of what was entered */
    enum enter_verdict *verdict;
};

/* Reads the gap that holds the row at start_s. Returns 0, or -1: the record
 * (store_why()) or memory. */
int enter_gap_read(struct enter_gap_rows *gap, struct store_enter *enter, const struct enter_series *series,
                   int64_t start_s, int64_t length_s, const struct enter_limits *limits);

/* Lays an entered row beside the stored one; one that has none there,
 * or an edge, is passed over. */
void enter_gap_offer(struct enter_gap_rows *gap, const struct enter_row *entered, int32_t waiting);

void enter_gap_free(struct enter_gap_rows *gap);

#endif
