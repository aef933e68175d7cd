/* The record as rows of plain structs.
 *
 * The record is opened read-only, by whoever may read its files, while the
 * collector writes to it or after it stopped. Everything between query_begin()
 * and query_end() sees one state of it; keep that short, a reader that stays
 * holds up the collector's checkpoints. The pairs nest: the outermost counts.
 *
 * The first failure sticks: every later call does nothing, loops end, and
 * query_error() says what happened. */
#ifndef METERBOOK_QUERY_H
#define METERBOOK_QUERY_H

#include <stdbool.h>
#include <stdint.h>

#include "balance.h"

struct query;

/* The newest settings and the reach of the record. */
struct site {
    char name[CONFIG_NAME_SIZE];
    char zone[CONFIG_NAME_SIZE];
    int32_t interval_s, poll_ms;
    int32_t setting; /* id of the newest settings */
    bool has_rows;
    int64_t first_s, last_s; /* starts of the oldest and the newest interval */
};

struct setting_row {
    int32_t id;
    int64_t from_ms; /* UNKNOWN: loaded under an untrusted clock */
    int32_t interval_s;
};

struct interval_row {
    int64_t start_s;
    int32_t meter;
    int64_t import, export, estimated; /* mWh; UNKNOWN: no such counter */
    int64_t unobserved;                /* s */
    int32_t how;
    int64_t power, voltage; /* W, 0.01 V; UNKNOWN: none */
    int64_t reactive;       /* mvarh imported; query_apparent() alone sets it */
};

struct day_row {
    int64_t day;
    int32_t meter;
    int64_t from_s, to_s;
    int64_t import, export, estimated; /* mWh; UNKNOWN: no such counter */
    int64_t unobserved;                /* s */
    int32_t rows, expected, flags;
};

/* A correction in force, of some span. */
struct correction_row {
    char what[12];        /* ratio, exchanged, swapped, exchange */
    int32_t meter, other; /* other: 0 without */
    int64_t from_s, to_s;
    int64_t up, down; /* of a ratio: energies were multiplied by up / down */
    int64_t added;    /* by an exchange: import and export, mWh */
};

/* Returns NULL without memory only; then ask query_error(). */
struct query *query_open(const char *path);
void query_close(struct query *query);

/* NULL while all is well. A sentence, lower case, without a full stop. */
const char *query_error(const struct query *query);

void query_begin(struct query *query);
void query_end(struct query *query);

/* False where the record holds no settings yet. */
bool query_site(struct query *query, struct site *site);

/* All settings, in the order in which they were loaded. */
void query_settings(struct query *query);
bool query_next_setting(struct query *query, struct setting_row *row);

/* The meters of one setting, prepared for the balance and holding for all time. */
bool query_meters(struct query *query, const struct setting_row *setting, struct arrangement *arrangement);

/* Meters by their numbers, first to last: others cost least if they need not be read. */
struct meter_range {
    int32_t first, last;
};

/* Intervals that start in [from, to), by time and meter: set, then next until false. */
void query_intervals(struct query *query, int64_t from_s, int64_t to_s);
void query_intervals_of(struct query *query, int64_t from_s, int64_t to_s, struct meter_range meters);
/* The same without power and voltage: for who reads many and needs neither. */
void query_energies_of(struct query *query, int64_t from_s, int64_t to_s, struct meter_range meters);
bool query_next_interval(struct query *query, struct interval_row *row);

/* The same from the newest on. */
void query_intervals_back(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_interval_back(struct query *query, struct interval_row *row);

/* The closed rows of one civil day, by meter; or those of days in [from, to) of which all intervals are
 * there, by day and meter, without the numbers of these. */
void query_day(struct query *query, int64_t day);
void query_whole_days_of(struct query *query, int64_t from_day, int64_t to_day, struct meter_range meters);
bool query_next_day(struct query *query, struct day_row *row);

/* Start of a meter's account without a hole: of what the collector read, or of data that were entered
 * before it, up to an hour from it; INT64_MAX without. */
int64_t query_begin_of(struct query *query, int32_t meter);

/* The first register run that the collector read. */
struct first_run {
    int64_t from_s;
    int64_t first, step;              /* mWh */
    int64_t ratio_above, ratio_below; /* what the register showed times this is `first` */
};

/* Of a register as the meter shows it: of one that is wired the other way round, our import
 * is its export. False where it has none. */
bool query_first_run(struct query *query, int32_t meter, bool export, struct first_run *row);

/* Where entered register runs begin and end that reach into [from, to): all of them
 * together. False without any. */
bool query_entered(struct query *query, int64_t from_s, int64_t to_s, int64_t *first_s, int64_t *last_s);

/* Corrections that cover some of [from, to), in the order in which they are applied. */
void query_corrections(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_correction(struct query *query, struct correction_row *row);
/* By how much they changed a meter's intervals in [from, to); false where they did not. */
bool query_changed_by(struct query *query, int32_t meter, int64_t from_s, int64_t to_s, int64_t *import,
                      int64_t *export);
/* Are some of them still to be applied there? */
bool query_correcting(struct query *query, int64_t from_s, int64_t to_s);

/* Coarsest step (mWh) of a meter's active counters that counted in the span; at least 1. */
int64_t query_step(struct query *query, int32_t meter, int64_t from_s, int64_t to_s);

#endif
