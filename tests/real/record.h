/* What a record says of a series: its totals, its rows in the cuts; for all
 * tests of the real series. */
#ifndef METERBOOK_REAL_RECORD_H
#define METERBOOK_REAL_RECORD_H

#include <sqlite3.h>

#include "series.h"

struct record {
    sqlite3 *db;
    sqlite3_stmt *row;
};

/* Each ends the program where it cannot. */
void record_open(struct record *record, const char *path);
void record_close(struct record *record);
/* First column of the first row; ?1 is the meter's number, ?2 the counter. */
int64_t record_ask(struct record *record, const char *sql, int meter, int counter);

/* The register at the record's last row, mWh, and at its first reading. */
struct record_total {
    int64_t first, last;
    int64_t runs; /* 1 unless the counter broke */
};

/* Prints (or only if it is off) the data's first and last register beside the
 * record's; false where they are not the same to the unit. */
bool record_check(const struct dataset *series, int meter, int counter, const struct record_total *total,
                  bool print);

/* Scores of all counters of a series, and of all homes together. */
struct scores {
    struct score of[SERIES_METERS][2][KNIFE_LENGTHS];
};

void record_score(struct record *record, const struct dataset *series, const struct cut cuts[], int count,
                  struct scores *scores);
void scores_add(struct scores *sum, const struct scores *scores);
bool scores_print(const struct dataset *series, const struct scores *scores);

/* Calls `run` with every series (of the homes the first three unless all are
 * asked for) that METERBOOK_REAL_SERIES does not leave out, prints the scores
 * that it adds up, and the homes' together. False where one is worse than it
 * must be or `run` said so; *found: how many there were. */
bool series_each(bool (*run)(const struct dataset *series, struct scores *scores), int *found);

/* METERBOOK_REAL_SEED, METERBOOK_REAL_RUNS ... */
int64_t environment(const char *name, int64_t otherwise);

#endif
