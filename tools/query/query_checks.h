/* What the checks read of the record: rows as they are kept and as they count,
 * which differs where the logbook corrects them; register runs, factors, events, clocks. Loops are
 * as in query.h: set, then next until false. */
#ifndef METERBOOK_QUERY_CHECKS_H
#define METERBOOK_QUERY_CHECKS_H

#include "query.h"

enum { CHECK_COUNTERS = 6, CHECK_TEXT_SIZE = 40 };

/* Intervals that start in [from, to), by time and meter, as measured and as they count; power and voltage
 * are left out. */
void query_kept_rows(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_kept_row(struct query *query, struct interval_row *kept, struct interval_row *counted);

/* Reactive and apparent energy of the same. */
struct other_row {
    int64_t start_s;
    int32_t meter;
    int64_t energy[CHECK_COUNTERS]; /* counters 2 to 5; UNKNOWN */
};
void query_other_rows(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_other_row(struct query *query, struct other_row *row);

/* One counter's energy in [from, to); closed days stand for their intervals. */
int64_t query_counted(struct query *query, int32_t meter, int32_t counter, int64_t from_s, int64_t to_s);

/* What a meter was under a setting; false where it was not there. */
struct meter_facts {
    int64_t rated_w, peak_w; /* 0: not known */
    int64_t azimuth, tilt;   /* UNKNOWN */
    char accuracy_class[8];
};
bool query_meter_facts(struct query *query, int32_t setting, int32_t meter, struct meter_facts *facts);

/* The text of the newest setting in force before `to`, of the oldest before all of them, "" without;
 * valid until the next call. */
const char *query_setting_text(struct query *query, int64_t to_s, int32_t *setting);

/* Settings with a date in [from, to). */
int64_t query_settings_within(struct query *query, int64_t from_s, int64_t to_s, int64_t *first_s);

/* Has the meter any row that starts at or after this? */
bool query_goes_on(struct query *query, int32_t meter, int64_t from_s);

/* One meter's row of a closed day, as measured or as it counts. */
bool query_meter_day(struct query *query, int32_t meter, int64_t day, bool counted, struct day_row *row);

/* Register runs of the collector's own (what was entered is no run of it), by meter, counter, time. */
struct run_row {
    int64_t id;
    int32_t meter, counter;
    int64_t from_ms, first, step;
    uint64_t first_raw, last_raw;
    int64_t base_s, base, anchor_s, anchor;
    int64_t to_ms, last; /* UNKNOWN while it counts */
    char serial[CONFIG_SERIAL_SIZE], began[CHECK_TEXT_SIZE], ended[CHECK_TEXT_SIZE];
    int64_t factor[5]; /* CT primary and secondary, VT primary and secondary, reversed; UNKNOWN */
};
void query_runs(struct query *query);
bool query_next_run(struct query *query, struct run_row *row);

/* Events with a date in [from, to). */
struct seen_row {
    int64_t at_s;
    int32_t meter; /* 0: of no single one */
    int64_t count;
    char kind[CHECK_TEXT_SIZE];
};
void query_seen(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_seen(struct query *query, struct seen_row *row);

/* Instants at which a clock was set or changed its source. */
struct clock_row {
    int64_t at_s;
    char source[CHECK_TEXT_SIZE];
};
void query_clocks(struct query *query, int64_t from_s, int64_t to_s);
bool query_next_clock(struct query *query, struct clock_row *row);

#endif
