/* Outages, told apart: of the grid or one of its phases, of the computer, of a
 * bus, of a meter, of an inverter. A sleeping inverter is none.
 *
 * Nothing of it is stored: the record holds changes of state (events) and rows,
 * and an outage is what lies between two of them. So it follows every better
 * date, survives salvage as far as its events do, and a better rule holds for
 * the years before it too.
 *
 * outages_read() takes the events of all time, outages_keep() chooses a span;
 * outages_infer() adds grid outages that only the counters know of and
 * outages_find_inverters() production that stopped by day; outages_cut() takes
 * from each kind what another explains, outages_estimate() says what was not
 * made. */
#ifndef METERBOOK_OUTAGES_H
#define METERBOOK_OUTAGES_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "number.h"

struct arrangement;
struct query;

enum outage_kind {
    OUTAGE_GRID,
    OUTAGE_PHASE,
    OUTAGE_COMPUTER,
    OUTAGE_BUS,
    OUTAGE_METER,
    OUTAGE_INVERTER,
    OUTAGE_KINDS
};

enum { OUTAGE_KNOWN_SIZE = 160 };

struct outage {
    enum outage_kind kind;
    int32_t meter;              /* number, 0 none */
    char bus[CONFIG_NAME_SIZE]; /* of the bus or the meter; "" none */
    char phase[4];              /* "L2" */
    bool part;                  /* inverter: a part, beside a production meter or not */
    int64_t from_ms, to_ms;     /* UTC; to UNKNOWN: it lasts */
    int64_t doubt_ms;           /* it may be so much shorter; or longer, by what clocks are off */
    char known[OUTAGE_KNOWN_SIZE];
    int64_t not_made; /* mWh that production would have brought, an estimate; UNKNOWN */
    /* computer */
    bool new_boot;     /* ended by a boot */
    int64_t booted_ms; /* that began here */
    /* while they are read */
    bool cut;  /* seen until its process ended; may be seen again by the next */
    bool gone; /* explained by others */
};

struct outages {
    struct outage *list; /* heap; by from_ms, after outages_cut() */
    int32_t count, room;
    bool memory_out;
    int64_t now_ms;
};

extern const char *const outage_kind_words[OUTAGE_KINDS];

/* Between query_begin() and query_end(). What still lasts is looked at from now_ms. */
void outages_read(struct outages *outages, struct query *query, int64_t now_ms);
/* Keeps what touches [from, to). */
void outages_keep(struct outages *outages, int64_t from_ms, int64_t to_ms);
void outages_infer(struct outages *outages, struct query *query, const struct arrangement *arrangement);
/* Looks at the intervals of [from, to). */
void outages_find_inverters(struct outages *outages, struct query *query,
                            const struct arrangement *arrangement, int64_t from_s, int64_t to_s);
void outages_cut(struct outages *outages, struct query *query);
void outages_estimate(struct outages *outages, struct query *query, const struct arrangement *arrangement);
void outages_free(struct outages *outages);

/* Adds a copy; NULL without memory. */
struct outage *outages_add(struct outages *outages, const struct outage *outage);

/* Its end, or now while it lasts. */
int64_t outage_end_ms(const struct outages *outages, const struct outage *outage);

/* How long outages of a kind lasted inside [from, to), overlaps once, and how many began in it. */
struct outage_sum {
    int32_t count;
    int64_t ms;
    int64_t not_made; /* of those that began in it; UNKNOWN */
};
struct outage_sum outages_sum(const struct outages *outages, enum outage_kind kind, int64_t from_ms,
                              int64_t to_ms);

#endif
