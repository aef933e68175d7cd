/* The collector: strings decode, check, account, book and store together, and
 * is the only one that knows them all. One thread owns it; collect_turn()
 * drains the inbox, accounts, commits when an interval is due, and returns. */
#ifndef METERBOOK_COLLECT_H
#define METERBOOK_COLLECT_H

#include <stdbool.h>
#include <stdint.h>

#include "clock.h"
#include "config.h"
#include "inbox.h"
#include "logbook.h"

struct collect;

struct collect_setup {
    const struct config *config; /* outlives the collector */
    struct logbook *logbook;     /* heap, by date, NULL: none; the collector's, unless it cannot be created */
    uint32_t generation;         /* of this configuration: answers to older ones are dropped */
    const char *database;        /* path of the record */
    const char *boot;            /* id of this boot, at most 36 characters */
    struct inbox *inbox;
    struct clock clock;
    const char *latest; /* path of the file for `now`; NULL: none */
    /* Called when boot time gets a date or another one; NULL: nobody. */
    void (*on_grid)(void *self, int64_t offset_us);
    void *self;
};

/* Opens the record and takes up every account where it was left. NULL after a
 * line in the log; *fatal is true where trying again will not help. */
struct collect *collect_create(const struct collect_setup *setup, bool *fatal);
void collect_destroy(struct collect *collect);

void collect_turn(struct collect *collect);

/* People wrote more: takes the logbook over, between turns. */
void collect_use_logbook(struct collect *collect, struct logbook *logbook);

/* Writes what is complete, at the end. */
void collect_finish(struct collect *collect);

#endif
