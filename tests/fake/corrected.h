/* A record with corrections: for tests that run the real collector on site.h and disk.h. Each
 * fails the test that calls it. */
#ifndef METERBOOK_FAKE_CORRECTED_H
#define METERBOOK_FAKE_CORRECTED_H

#include "site.h"

enum { DUMP_TABLES = 32 };

/* All tables but that of events, by their contents. */
struct dump {
    int count;
    char tables[DUMP_TABLES][40];
    uint64_t hashes[DUMP_TABLES];
};
void dump_record(struct dump *dump);
void dump_same(const struct dump *a, const struct dump *b);

/* Meters "house", "roof", "barn", "shed" from 21 September 2026, 16:13 local time on; started. */
void corrected_begin(struct site *site, uint64_t seed, int count, const enum meter_role roles[]);
/* Powers that change all the time. */
void corrected_live(struct site *site, int64_t seconds);

/* Turns without time: what is due is applied. */
void corrected_settle(struct site *site);
/* The logbook says this from now on, and it is applied. */
void corrected_write(struct site *site, const char *text);

/* What must hold of corrected rows and days, and that what was measured is as without them. */
void corrected_audit(const struct site *site);
/* Corrected rows are what applying everything anew gives. */
void corrected_audit_anew(struct site *site);

#endif
