/* One meter as the collector knows it: its gate, its accounts, its books, the
 * samples of the interval that is going on. No I/O, no clock, no allocation. */
#ifndef METERBOOK_METER_H
#define METERBOOK_METER_H

#include <stdbool.h>
#include <stdint.h>

#include "account.h"
#include "book.h"
#include "check.h"
#include "config.h"
#include "decode.h"
#include "plan.h"
#include "reading.h"
#include "samples.h"
#include "store.h"

/* What stands in front of a meter and multiplies a quantity: nothing, a CT, a VT, both. */
enum factor_kind { FACTOR_NONE, FACTOR_CURRENT, FACTOR_VOLTAGE, FACTOR_BOTH, FACTOR_KINDS };

/* Active energy and the others are accounted apart: a meter whose reactive
 * registers fail still has its account of active energy. */
enum { SERIES_ACTIVE, SERIES_OTHER, SERIES_COUNT };

struct counter_state {
    struct account account;
    int64_t offset;       /* continuous account = account + offset, over register runs */
    struct store_run run; /* the open run; id 0 until stored */
    bool open;            /* `run` and `account` are valid */
    int64_t new_id;       /* of the run, in the commit that is under way */
    uint64_t raw;         /* of the last reading */
    int64_t today;        /* rows since local midnight, mWh */
};

struct series {
    uint32_t mask; /* bit c: has counter c */
    struct check check;
    struct book book;
    bool heard;                    /* last_ms is valid */
    bool skipped;                  /* the clock was put ahead: what it skipped was not watched */
    int64_t midnight_s;            /* end of the civil day whose rows are being stored; 0 unknown */
    int64_t closed_s;              /* the same after the commit that is under way */
    int64_t last_ms;               /* boot time of the last accounted reading */
    int64_t last_power[2];         /* import, export: at that reading, mW */
    bool holding, hold_unobserved; /* while the clock is not trusted */
    int64_t hold_slice;            /* boot time / interval of the last reading held */
};

/* Answers that are not believed, one after the other. */
enum episode_kind {
    EPISODE_GATE,   /* counters that the gate dropped */
    EPISODE_RANGE,  /* registers that are no value */
    EPISODE_WINDOW, /* momentary values outside their window */
    EPISODE_JITTER, /* counters a step or two back */
    EPISODE_KINDS
};
enum { EPISODE_TEXT = 160 };
struct episode {
    bool open;
    int64_t began_ms, last_ms; /* boot time */
    int64_t more;              /* after the first */
};

struct meter {
    const struct config_meter *config;
    int32_t index;
    int64_t up[FACTOR_KINDS], down[FACTOR_KINDS]; /* what values are multiplied and divided by */
    const struct plan *plan;                      /* last one that an answer came with */
    uint32_t edition;                             /* of it */
    struct decoder decoders[MAP_MAX_POINTS];      /* of its points */
    struct series series[SERIES_COUNT];
    struct counter_state counters[COUNTER_COUNT];
    struct samples samples;
    struct reading pending; /* being put together from the answers of this cycle */
    bool pending_stamped;
    uint64_t raw[QUANTITY_COUNT]; /* of its momentary values: registers' bits */
    struct episode episodes[EPISODE_KINDS];
    int64_t factor;         /* row id of the factor in force */
    char serial[TEXT_SIZE]; /* last read from the meter */
    bool lost;
    int64_t read_ms;        /* boot time of the last complete reading, -1 without */
    int64_t power, voltage; /* of it: mW, mV; STORE_NULL unknown */
    int64_t today_end_s;    /* end of the civil day that `today` counts */
};

/* What meter_account() tells its caller, one call per accounted reading. */
struct accounted {
    int64_t boot_ms;
    int64_t last_ms;                              /* of the reading before; -1 none since it was taken up */
    bool gap;                                     /* not watched since the last one */
    uint16_t flags;                               /* for the row */
    int64_t account[SERIES_COUNT][BOOK_COUNTERS]; /* continuous */
    int32_t ended_count;
    struct store_run ended[COUNTER_COUNT]; /* runs that this reading ended */
};

void meter_init(struct meter *meter, const struct config_meter *config, int32_t index,
                const struct config_site *site);

/* The counters that a plan reads, by the meter's direction: bit c. */
uint32_t meter_counters(const struct meter *meter, const struct plan *plan);

/* Takes the counters that a plan reads. */
void meter_set_plan(struct meter *meter, const struct plan *plan, const struct config_site *site);

/* Back to before its first plan; what is in the record is to be taken up again. */
void meter_forget(struct meter *meter);

/* Decodes one request's registers, by the plan set, into the pending reading and applies the
 * meter's factors. Returns how many values were out of range; *refused: the first. */
int32_t meter_decode(struct meter *meter, const struct plan *plan, uint16_t request,
                     const uint16_t *registers, int64_t boot_us, const struct point **refused);

/* Does the reading have all counters of the series? */
bool series_complete(const struct series *series, const struct reading *reading);

/* Position of a counter in the series; -1 where it is not in it. */
int32_t series_position(const struct series *series, int32_t counter);

/* Moves the accounts of one series by one accepted reading. `ended` as in
 * struct verdict, or NULL when all runs go on. */
void meter_account(struct meter *meter, int which, const struct reading *reading, const enum run_end *ended,
                   struct accounted *out);

/* Adds a reading's momentary values to the interval that starts at start_ms. */
void meter_sample(struct meter *meter, const struct reading *reading, int64_t start_ms);

/* Fills a row from a book's row and, where they belong to it, the samples. */
void meter_row(struct meter *meter, int which, const struct book_row *from, struct store_row *row);

#endif
