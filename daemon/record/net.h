/* The derived grid meter: import and export of a site that meters production
 * and whole consumption but not the grid.
 *
 * Pure. At every common instant (end of each poll cycle) and at every interval
 * boundary the step x = (C - C_last) - (P - P_last) goes to import where it is
 * positive, else to export. So in every row exactly I - E = dC - dP with
 * 0 <= I <= dC and 0 <= E <= dP. While one side is ahead of the other (a
 * silent meter) the netting is not live: such rows are netted whole from the
 * stored rows once both sides have them (store_derive). */
#ifndef METERBOOK_NET_H
#define METERBOOK_NET_H

#include <stdbool.h>
#include <stdint.h>

enum { NET_MAX_METERS = 16 };

struct net_side {
    int32_t meter;       /* number in the record */
    bool production;     /* else consumption */
    bool seen;           /* has crossed a boundary */
    int64_t boundary_ms; /* last boundary crossed */
    int64_t fixed;       /* account there */
    int64_t now;         /* account at the last reading */
    bool fresh;          /* which came after the last step */
};

struct net_row {
    int64_t start_ms;
    int64_t import, export; /* mWh */
};

struct net {
    int32_t count;
    int64_t length_ms;
    bool live;
    int64_t frontier_ms;    /* while live: start of the interval being netted */
    int64_t last;           /* consumption - production at the last step */
    int64_t import, export; /* since the frontier */
    struct net_side sides[NET_MAX_METERS];
};

void net_init(struct net *net, int64_t length_ms);
/* Returns the side's index, or -1 when there are too many. */
int32_t net_add(struct net *net, int32_t meter, bool production);

/* A side's account at its last reading. */
void net_now(struct net *net, int32_t side, int64_t account);

/* End of a cycle: one step, if every side was told since the last one and all are in the same interval. */
void net_step(struct net *net);

/* A side crossed a boundary. Returns true and fills `row` when that completes
 * a live row. */
bool net_cross(struct net *net, int32_t side, int64_t boundary_ms, int64_t account, struct net_row *row);

#endif
