/* What a record holds, read through SQLite from the simulated disk. */
#ifndef METERBOOK_SIM_RECORD_H
#define METERBOOK_SIM_RECORD_H

#include "sim.h"

struct record_row {
    int64_t id, start_s, energy[2], estimated, unobserved_s, how;
    int32_t meter;
};

struct record {
    int64_t count, room;
    struct record_row *rows; /* in the order of their ids */
};

/* First column of the first row; the format makes the statement. */
int64_t record_ask(struct sim *sim, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* All interval rows, by start, then meter. */
void record_load(struct sim *sim, struct record *record);

/* Is every day's curve that of its rows? Says in the run's failure which is not. */
void record_check_curves(struct sim *sim);

#endif
