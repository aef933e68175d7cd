/* One flow of the site, or of one meter, interval by interval in time: what demand, load
 * duration and the average day are made of. Nothing in it is shared out by guess: each piece says
 * whether its energy was watched where it stands. Reads a month of the record at most per
 * transaction, in constant memory. */
#ifndef METERBOOK_FLOW_H
#define METERBOOK_FLOW_H

#include "inquiry.h"

enum flow_of {
    FLOW_IMPORT,
    FLOW_EXPORT,
    FLOW_CONSUMPTION,
    FLOW_PRODUCTION,
    FLOW_APPARENT, /* what one meter's counter of apparent import counts, mVAh */
    FLOW_COUNT
};

enum flow_state {
    FLOW_OBSERVED, /* every meter behind it was read all through it, or entered as measured, or slept */
    FLOW_PLACED,   /* its energy flowed in this stretch of such pieces, not surely in this one: part of it
                    * was not observed or filled in, the power failed, or the clock stepped */
    FLOW_UNKNOWN,  /* a meter behind it has no row or no counter here, a register was set anew, or sealed
                    * readings speak, which know no intervals */
};

struct flow_piece {
    int64_t from_s, to_s; /* an interval; a hole may be longer */
    int64_t energy;       /* mWh; UNKNOWN where the state is */
    enum flow_state state;
};

enum { FLOW_NAME_SIZE = CONFIG_NAME_SIZE + 24, FLOW_TITLE_SIZE = 3 * CONFIG_NAME_SIZE + 160 };

struct flow {
    const struct inquiry *inquiry;
    enum flow_of of;
    int32_t meter;             /* of this meter alone; 0: of the balance */
    char name[FLOW_NAME_SIZE]; /* "import", "export of 'Roof'" */
    int64_t step;              /* mWh: the coarsest register behind it in the span */
    /* where the reading stands */
    int64_t at_s, reach_s; /* end of the last piece, and of the record within the span */
    int64_t chunk_s;       /* end of what the open transaction reads */
    int32_t hint;
    struct meter_range meters; /* behind it, by number */
    bool reading, has_row, has_group;
    struct interval_row row;
    struct flow_piece group;               /* the next interval that has rows */
    const struct arrangement *arrangement; /* of the group; NULL before the first */
    struct balance balance;                /* of its rows; of one meter's flow not asked for */
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
    enum flow_state states[ARRANGEMENT_MAX_METERS]; /* of their rows */
    unsigned wanted[ARRANGEMENT_MAX_METERS];        /* by which flows, one bit each */
};

/* A flow of the balance (not FLOW_APPARENT); keep `inquiry` open. */
void flow_init(struct flow *flow, const struct inquiry *inquiry, enum flow_of of);
/* Of one meter: its import, export or apparent import. */
void flow_init_meter(struct flow *flow, const struct inquiry *inquiry, enum flow_of of,
                     const struct arranged_meter *meter);

/* What `--of` and `--meter` ask for (flow_choose.c); without --of a meter's delivery or import, else
 * `otherwise`, or import where the balance does not know the consumption. `apparent`: that is allowed too.
 * False, said on stderr, for what there is not. */
bool flow_choose(struct flow *flow, struct inquiry *inquiry, enum flow_of otherwise, bool apparent,
                 const struct options *options);

/* The record and the span of a question about flows (no span: all), with the head of whose flow it is: of one
 * meter's that --meter names, which then speaks for itself on a site that has no balance too. */
enum exit_code flow_open(struct inquiry *inquiry, const struct options *options, const char *word);

/* Says on stderr why a flow has no observed interval; the code to end with. */
enum exit_code flow_missing(const struct flow *flow);

/* "Hill House, highest demand, import, 2026-03-01 to 2026-03-31, Europe/Berlin". Returns `title`. */
const char *flow_title(const struct flow *flow, const char *what, char title[FLOW_TITLE_SIZE]);

/* Decimals of a kW that a mean over so many seconds deserves: its last digit is half a register step at
 * least. */
int32_t flow_decimals(const struct flow *flow, int64_t seconds);

/* The next piece; pieces follow one another without hole or overlap, from the first interval
 * that the record has in the span to where the record or the span ends. False at the end and where reading
 * failed. */
bool flow_next(struct flow *flow, struct flow_piece *piece);

/* Before the first flow_next(): lets it read what another flow of the balance needs, too. */
void flow_also(struct flow *flow, enum flow_of of);

/* Of the interval that flow_next() gave last: the same piece of another flow of the balance, and the balance
 * as far as its rows go, nothing in a hole. So one reading serves several. */
bool flow_has_rows(const struct flow *flow, const struct flow_piece *piece); /* no hole */
void flow_other(const struct flow *flow, const struct flow_piece *piece, enum flow_of of,
                struct flow_piece *other);
struct balance flow_balance(const struct flow *flow, const struct flow_piece *piece);

/* Ends the reading, early too. False, said on stderr, where it failed. */
bool flow_end(struct flow *flow);

#endif
