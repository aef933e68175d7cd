/* Shape of a gap: where the energy that is known from the counters at both
 * ends of a gap is placed inside it.
 *
 * A gap [from, to) is cut by the interval boundaries into pieces, each with a
 * weight w_k >= 0; the account at the end of piece k is
 *
 *     B(k) = A0 + mul_div(G, w_1 + .. + w_k, W)
 *
 * so pieces add up to G exactly and never run backwards. Two passes over the
 * same weights (fill_begin, then fill_next piece by piece) need no buffer:
 * a gap may be as long as it likes. Pure; UTC ms, mWh; no allocation.
 *
 *     fill_begin(&fill);
 *     if (!fill_fits(&fill, G)) refuse, naming G and fill.fixed_total;
 *     while (fill_next(&fill))
 *         B(fill.at_ms) = fill_account(&fill, A0, G);
 *
 * G = 0 needs no filling: a counter cannot run back, every row is a measured 0. */
#ifndef METERBOOK_FILL_H
#define METERBOOK_FILL_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"
#include "sun.h"

enum {
    FILL_DIRECT_MS = 7200000, /* up to two hours: point to point */
    FILL_REFERENCES = 8,      /* reference days averaged, where there are so many */
    FILL_LEAST = 3,           /* and where there are fewer than these: no reference */
    FILL_DAYS = 35,           /* looked for so many days before and after */
    FILL_NEAR_S = 2700,       /* on each of them averaged over this time before and after, */
    FILL_NEAR_STEP_S = 900,   /* at least so far apart: one evening's kettle is no shape */
    /* How the days' shape is used. Chosen on the seventeen homes of Fontana that
     * tests/real names, by the mean absolute error; the other series are checks. */
    FILL_DOUBT = 500,       /* thousandths of their scatter that pull it towards the even line, */
    FILL_BEND = 700,        /* thousandths of the way it goes to meet the rows at the gap's ends, */
    FILL_BEND_MS = 7200000, /* less and less up to so far inside; */
    FILL_END_S = 3600,      /* their level is that of so much time */
};

enum fill_method {
    FILL_TIME,      /* evenly */
    FILL_LINE,      /* along the line from the interval before the gap to the one after */
    FILL_REFERENCE, /* days of the same kind: workdays, Saturdays, Sundays */
    FILL_SUN,       /* clear sky of a plane, nothing at night */
    FILL_DAYLIGHT,  /* evenly while the sun is above -1 degree: production that no clear sky explains */
};

/* Energy in mWh of the interval that starts at start_s, or -1: absent,
 * estimated, partly unobserved, or touched by a power failure. */
struct fill_rows {
    int64_t (*row)(void *self, int64_t start_s);
    void *self;
};

struct fill {
    /* set by the caller, who keeps what the pointers point to */
    int64_t from_ms, to_ms, length_ms; /* the gap, from < to; length of an interval */
    enum fill_method method;           /* the one wanted; after fill_begin the one used */
    const struct civil *civil;         /* for reference days */
    struct fill_rows rows;             /* the same counter on other days; for line and reference */
    struct sun_place place;            /* for the sun */
    struct sun_plane plane;
    /* Entered rows, which stay: the energy that falls into the gap, by the start
     * of the interval, or -1. No function: none. */
    struct fill_rows fixed;
    int64_t energy; /* of the gap, for reference days: they meet both ends; 0: they do not */

    /* kept here */
    double level;                /* of the reference days over the gap, mWh per interval */
    int64_t share;               /* of their shape that is no chance, thousandths */
    double bend[2];              /* mWh per interval at the gap's start and end */
    int64_t line_ms[2], line[2]; /* the ends of the line: middle of the row and its energy */
    int64_t total, fixed_total;  /* weights of the pieces not fixed; energy of the fixed */
    int64_t at_ms;               /* end of the last piece taken */
    int64_t sum, fixed_sum;      /* up to there */
};

/* First pass. Chooses the method: FILL_REFERENCE gives way to FILL_LINE in gaps
 * of up to two hours, and to FILL_TIME where a piece finds too few reference
 * days of its own kind, of workdays or weekends, and of any kind. FILL_LINE
 * needs both rows. FILL_SUN gives way to FILL_DAYLIGHT where it sees no sun,
 * and this to FILL_TIME. The rows must answer alike until the last piece is
 * taken; asks about 60 rows a piece for reference days, nearest first. */
void fill_begin(struct fill *fill);

/* Takes the next piece: up to the next boundary or the gap's end. False when there is none. */
bool fill_next(struct fill *fill);

/* Is the known energy enough for the fixed pieces, and a place free for the rest? */
bool fill_fits(const struct fill *fill, int64_t energy);

/* The account at at_ms, for the account at the gap's start and the gap's energy. */
int64_t fill_account(const struct fill *fill, int64_t account, int64_t energy);

#endif
