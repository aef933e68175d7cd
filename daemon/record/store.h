/* The record as the daemon (and `meterbook enter`) writes it: every INSERT of
 * the project. One connection, one owner thread; no function logs. Functions
 * that can fail return 0 or an enum store_result below 0 and leave a text for
 * store_why(). Statements are prepared once, at open. */
#ifndef METERBOOK_STORE_H
#define METERBOOK_STORE_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "quantity.h"

enum store_result {
    STORE_OK = 0,
    STORE_BUSY = -1, /* another process holds the lock for longer than 5 s */
    STORE_FULL = -2, /* the disk is full */
    STORE_IO = -3,   /* reading, writing or syncing failed: close, reopen, look */
    STORE_CORRUPT = -4,
    STORE_NEWER = -5, /* written by a newer version */
    STORE_ALIEN = -6, /* not a record */
    STORE_READONLY = -7,
    STORE_MISSING = -8, /* cannot be opened: directory missing, no permission */
    STORE_FAILED = -9,  /* anything else: our mistake */
};

#define STORE_NULL INT64_MIN

struct store;

/* Hard limit on SQLite's memory, for the whole process; before the first open. */
void store_limit_memory(int64_t bytes);

/* Opens or makes the record. On failure *out is NULL and `why` says more. */
int store_open(struct store **out, const char *path, char why[256]);
void store_close(struct store *store);
/* Before closing a record whose file is not at its path any more: puts into the file what its log holds. */
void store_detach(struct store *store);
const char *store_why(const struct store *store);

/* A failed commit has rolled back: nothing of the transaction is in the record. */
int store_begin(struct store *store);
int store_commit(struct store *store);
void store_rollback(struct store *store);
/* Is a transaction under way? Some failures roll back by themselves. */
bool store_is_begun(const struct store *store);

/* ---- writing, inside a transaction ---- */

/* Energies in mWh, STORE_NULL where the meter has no such quantity. */
struct store_row {
    int64_t start_s;
    int32_t meter;
    bool counts;                   /* has an interval row (else only momentary values) */
    int64_t energy[COUNTER_COUNT]; /* by counter */
    bool other_energy;             /* has a row in `energy` */
    int64_t estimated, unobserved_s, how;
    int64_t other_unobserved_s, other_how;
    int64_t power, power_min, power_max; /* W */
    int64_t voltage;                     /* 0.01 V */
    bool momentary;                      /* has a row in `momentary` */
    int64_t value[QUANTITY_COUNT];       /* thousandths; only those of the table `momentary` */
};
int store_add_row(struct store *store, const struct store_row *row);
/* The row of reactive and apparent energy alone (its book may close later). */
int store_add_energy(struct store *store, const struct store_row *row);

struct store_run {
    int64_t id; /* 0 until stored */
    int32_t meter, counter;
    int64_t factor;
    int64_t from_ms, first;
    uint64_t first_raw;
    int64_t step;
    int64_t base_s, base; /* anchor, when stored for the first time */
    int64_t doubt;        /* per mille; 0 = metered, see its class */
    char serial[33];
    const char *began;
    int64_t to_ms, last; /* ended != NULL */
    uint64_t last_raw;
    const char *ended;
};
/* Inserts (id 0; sets id) or ends a run. */
int store_put_run(struct store *store, struct store_run *run);
int store_move_anchor(struct store *store, int64_t run, int64_t anchor_s, int64_t anchor);
/* Moves the anchors of all open runs to their frontiers: from there on the
 * interval has another length than interval_s. */
int store_move_anchors(struct store *store, int64_t interval_s);

/* Makes the day row of a meter, and the day's curve (day_curve.h), from its interval rows: whoever changes
 * rows of a closed day does it again. */
int store_close_day(struct store *store, int32_t meter, int64_t day, int64_t from_s, int64_t to_s,
                    int64_t interval_s);

/* Rows of the derived grid meter for intervals from from_s on for which all
 * meters of both lists have rows and it has none: netted over the interval,
 * marked as estimated. `done_s` gets the end of the newest derived row. */
int store_derive(struct store *store, int64_t from_s, int64_t interval_s, const int32_t *consumption,
                 int32_t consumption_count, const int32_t *production, const bool *by_export,
                 int32_t production_count, int64_t *done_s);

int store_add_event(struct store *store, int64_t at_ms, const char *boot, int64_t boot_ms, const char *kind,
                    int32_t meter, const char *bus, int64_t count, const char *text);
/* after_s: end of the newest row now. */
int store_add_clock(struct store *store, const char *boot, int64_t from_ms, int64_t offset_ms,
                    const char *source, int64_t doubt_ms, int64_t after_s);

struct store_held {
    int64_t id;
    int64_t ms; /* boot time */
    int32_t meter, counter;
    int64_t account; /* continuous over the register runs of this boot */
    int64_t shift;   /* of that account over the register's own; not 0 after a reset */
    int64_t value, step;
    uint64_t raw;
    int64_t unobserved_s;
    int64_t power, power_min, power_max, voltage; /* of the meter's lowest counter only; else STORE_NULL */
};
int store_add_held(struct store *store, const char *boot, const struct store_held *held);
/* Those of a boot up to an id. */
int store_drop_held(struct store *store, const char *boot, int64_t last_id);
/* Held rows of boots that ended are marked: their own boot will not date them any more. */
int store_mark_undated(struct store *store, const char *boot);

/* Records a configuration as loaded; the same as the newest one is not
 * recorded twice. from_ms STORE_NULL while undated. *setting gets its id. */
int store_put_setting(struct store *store, const struct config *config, const char *boot, int64_t boot_ms,
                      int64_t from_ms, int64_t *setting);
/* Dates the settings and events of this boot that are undated. */
int store_date_boot(struct store *store, const char *boot, int64_t offset_ms);
/* Factor row of a meter under a setting; an equal newest one is used again.
 * With another one, what the meter held under the old is forgotten: its
 * registers still have that energy. */
int store_put_factor(struct store *store, const struct config_meter *meter, int64_t setting, int64_t *factor);

/* ---- reading, at start and at day close ---- */

/* An open run with its account at the frontier. */
struct store_open_run {
    int64_t id, step;
    int64_t frontier_s; /* end of the meter's newest row, or the anchor's boundary */
    int64_t known_s;    /* the same of the newest row for which this counter was read */
    int64_t account;    /* anchor + rows */
    int64_t ct_primary, ct_secondary, vt_primary, vt_secondary;
    bool reversed;
    char serial[33];
};
/* Returns 1 when there is one, 0 when not. */
int store_read_run(struct store *store, int32_t meter, int32_t counter, int64_t interval_s,
                   struct store_open_run *run);
/* Was this run stored (by a commit that was thought to have failed)? *id: 0 if not. */
int store_find_run(struct store *store, const struct store_run *run, int64_t *id);
/* Id of the newest event; 0 without. */
int store_last_event(struct store *store, int64_t *id);
/* Did the last collector that noted its start also note its end (true without
 * any), and was that in this boot? */
int store_last_end(struct store *store, const char *boot, bool *well, bool *same_boot);
/* Sum of a counter's rows in [from_s, to_s); 0 without. */
int store_sum(struct store *store, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s,
              int64_t *sum);
/* End of the newest row of all meters or of one (0 = all); 0 without. */
int store_newest(struct store *store, int32_t meter, int64_t interval_s, int64_t *end_s);
/* Length of an interval under the newest recorded setting; 0 without. */
int store_last_interval(struct store *store, int64_t *interval_s);
/* Start of a meter's oldest row from from_s on; 0 without. */
int store_oldest(struct store *store, int32_t meter, int64_t from_s, int64_t *start_s);
/* Is there a row of this key (in `interval`, `energy` or `momentary`)? 1, 0 or a failure. */
int store_has_row(struct store *store, int64_t id);
/* The newest clock row of this boot. Returns 1 when there is one, 0 when not. */
int store_read_clock(struct store *store, const char *boot, int64_t *offset_ms, char source[16]);
/* Who vouched for the newest clock of other boots. Returns 1, or 0 where there is none. */
int store_clock_before(struct store *store, const char *boot, char source[16]);
/* Where the rows of earlier boots ended when this one was first dated. Returns 1, or 0 where it is not. */
int store_boot_after(struct store *store, const char *boot, int64_t *after_s);
/* The next boot, in their order, that ended without a clock; *id: 0 for the first.
 * Returns 1 when there is one, 0 when not. */
int store_next_undated(struct store *store, int64_t *id, char boot[40]);
/* The newest held row of a counter in a boot. Returns 1 when there is one, 0 when not. */
int store_last_held(struct store *store, const char *boot, int32_t meter, int32_t counter,
                    struct store_held *held);
/* Held rows of a boot with a higher id, as they were written (each meter's are in order of time),
 * at most `limit`; returns how many, or a failure. */
int store_read_held(struct store *store, const char *boot, int64_t after_id, struct store_held *held,
                    int32_t limit);
/* The same of one counter: id, ms and account only. */
int store_read_held_of(struct store *store, const char *boot, int32_t meter, int32_t counter,
                       int64_t after_id, struct store_held *held, int32_t limit);

#endif
