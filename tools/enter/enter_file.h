/* A file that is entered: its header, its lines, and what each line tells the
 * series. The header is `time`, then a column per register: METER.import[kWh]
 * for a counter, METER.import[kWh/interval] for interval energies. */
#ifndef METERBOOK_ENTER_FILE_H
#define METERBOOK_ENTER_FILE_H

#include "csv.h"
#include "enter_batch.h"
#include "enter_time.h"

enum { ENTER_MAX_COLUMNS = 64 };

/* As declared on the command line. */
struct enter_form {
    char separator, decimal;
    bool stamp_end;     /* energies: the stamp is the interval's end */
    bool same_register; /* counters: the collector's first reading is their next */
    enum date_order order;
    bool has_length; /* `length` was declared, else it is that of the first two lines */
    struct enter_length length;
};

struct enter_column {
    int32_t field;  /* in the line */
    int32_t series; /* index */
    uint8_t counter;
    int64_t scale; /* mWh in the column's unit */
    int64_t step;  /* least amount that it showed so far, mWh */
};

/* A series of the file, filled in from the header. */
struct enter_group {
    struct enter_meter meter;
    bool other, energies;
    uint32_t mask;
    struct enter_series *series; /* in the batch */
    int64_t sum[COUNTER_COUNT];  /* energies so far: their register */
    int64_t end_ms;              /* of the last interval */
    bool begun;
};

struct enter_file {
    struct csv csv;
    struct enter_form form;
    struct enter_clock clock;
    int32_t field_count, column_count, group_count;
    struct enter_column columns[ENTER_MAX_COLUMNS];
    struct enter_group groups[ENTER_MAX_SERIES];
    int64_t lines, repeated; /* of data; equal to the one before */
    int64_t first_ms, last_ms;
    int64_t values[ENTER_MAX_COLUMNS]; /* of the last line; -1 empty */
};

/* Reads the header. Returns 0, or -1 with csv.why. */
int enter_file_begin(struct enter_file *file, FILE *stream, const char *name, const struct enter_form *form,
                     const struct civil *civil, struct store_enter *enter);

/* Takes the length of the intervals from the first two lines, where it is needed
 * and not declared. The file must be begun anew after it. */
int enter_file_measure(struct enter_file *file);

/* Any interval energies in it? */
bool enter_file_has_energies(const struct enter_file *file);

/* Adds the file's series to a batch. Returns 0 or -1. */
int enter_file_attach(struct enter_file *file, struct enter_batch *batch);

/* The next line goes to the series. Returns 1, 0 at the end, -1 (csv.why) or
 * -2 (*result says what the batch said). */
int enter_file_line(struct enter_file *file, struct enter_batch *batch, enum enter_result *result);

#endif
