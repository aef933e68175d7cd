/* Reads a span of the record once and feeds every check with it. */
#ifndef METERBOOK_VALIDATE_WALK_H
#define METERBOOK_VALIDATE_WALK_H

#include "civil.h"
#include "config.h"
#include "history.h"
#include "logbook.h"
#include "period.h"
#include "query_checks.h"
#include "validate.h"
#include "validate_block.h"
#include "validate_spike.h"
#include "validate_sum.h"
#include "validate_sun.h"
#include "validate_time.h"
#include "validate_use.h"

enum { VALIDATE_METERS = 2 * ARRANGEMENT_MAX_METERS, METER_NUMBERS = 1024, UNDATED_LENGTHS = 8 };

/* How the energies of a span were found. */
struct shares {
    int64_t energy, interpolated, estimated, entered, corrected; /* mWh, both directions */
    int64_t rows, unobserved_s;
    int64_t stepped, back_dated, re_dated; /* intervals with these flags */
};

struct validate_meter {
    struct arranged_meter arranged; /* as set at the end of the span */
    struct meter_facts facts;
    const char *serial;                     /* the configured one, "" not stated */
    int64_t step;                           /* coarsest of its registers, mWh */
    struct interval_row held, held_counted; /* the newest row: its end is sure once the next one is read */
    bool holds;
    struct time_check time;
    struct day_check day, counted; /* as measured, as it counts */
    struct block block;
    struct spike_check spike;
    struct sun_check sun;
    struct shares shares;
    int32_t cursor[CHECK_COUNTERS]; /* index of the run that a counter is in; -1 none */
    struct tally tallies[ITEM_COUNT];
};

/* A civil day or more of the whole site. */
struct site_sum {
    int64_t use, production;        /* mWh; UNKNOWN */
    int64_t parts, parts_whole;     /* where all are known: sum of the parts, of the production meters */
    int64_t metered, metered_whole; /* the consumption meter, the balance */
};

/* An hour of the whole site: long enough for registers that count in steps. */
struct site_hour {
    int64_t hour; /* since 1970 */
    struct meter_energy energy[ARRANGEMENT_MAX_METERS];
    int32_t rows[ARRANGEMENT_MAX_METERS];
    bool doubtful; /* filled in part, or the clock stepped */
};

/* A megabyte: for the heap. */
struct validate {
    /* set by the caller */
    struct query *query;
    const struct civil *civil;
    struct period period;
    int64_t now_s;
    struct config_checks checks;
    const struct config *facts;    /* what stood in force at the span's end; NULL not known */
    const struct config *config;   /* the file at hand, for sealed meters; NULL none */
    const struct logbook *logbook; /* sorted; NULL none */

    /* filled in */
    int64_t from_s, to_s;
    bool memory_out;
    struct history history;
    int32_t hint;                     /* into it */
    int32_t undated[UNDATED_LENGTHS]; /* of intervals, of settings that never got a date */
    int32_t undated_count;
    int32_t meter_count;
    struct validate_meter meters[VALIDATE_METERS];
    int16_t index[METER_NUMBERS]; /* by number, -1 none */
    struct run_row *runs;         /* heap: all of the record, by meter, counter, time */
    struct run_check *run_checks; /* heap, beside them */
    int32_t run_count;
    int64_t day, day_s, next_day_s; /* the civil day that is being read */
    struct use_check use;
    struct site_sum month, span;
    struct site_hour in_hour; /* the hour that is being read */
    int64_t below, exported;  /* of the day: what hours exported beyond what there was, and all */
    int32_t compared_days;    /* of span */
    int64_t rows;
    bool correcting; /* corrections of the span are still to be applied */
    struct tally site[ITEM_COUNT];
    struct tally sealed[CONFIG_MAX_SEALED];
};

/* Runs all checks over the period. False where the query failed or memory was out. Inside
 * one read transaction. Give it to validate_free() in any case. */
bool validate_run(struct validate *validate);
void validate_free(struct validate *validate);

/* Then the sealed meters, in transactions of its own: validate_sealed.c. */
void validate_sealed(struct validate *validate);

/* Parts of validate_run(), in the order in which they run: */

/* validate_runs.c */
bool validate_runs_read(struct validate *validate);
void validate_runs_row(struct validate *validate, struct validate_meter *meter, int32_t counter,
                       int64_t start_s, int64_t energy);
void validate_runs_end(struct validate *validate);

/* validate_site.c */
void validate_site_begin(struct validate *validate);
void validate_site_row(struct validate *validate, const struct interval_row *counted);
void validate_site_day(struct validate *validate);
void validate_site_end(struct validate *validate);

/* validate_seen.c */
void validate_seen(struct validate *validate);

#endif
