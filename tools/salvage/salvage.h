/* What is readable of a damaged record, in a new one.
 *
 * SQLite gives a damaged table up at its first bad page; here every page of
 * the file is looked at for itself. A whole page gives all its rows, whether
 * anything still points to it or not, a damaged one gives none: one bad page
 * costs the rows on it and no other. Then the accounts are made to add up
 * again (salvage_mend.c), so that the collector can go on from the new record.
 *
 * Nothing of the old files is changed. */
#ifndef METERBOOK_SALVAGE_H
#define METERBOOK_SALVAGE_H

#include "pages.h"
#include "shape.h"

struct salvage_count {
    int64_t rows, pages;
    int64_t damaged; /* pages of the table that could not be used */
    int64_t broken;  /* rows of which the rest, on other pages, was lost */
};

/* What became of the rows that a meter lacks. */
enum salvage_fate {
    FATE_FILLED,  /* their sum is known: spread over their time */
    FATE_OPEN,    /* of the day that was not closed: the collector fills it from the registers */
    FATE_MISSING, /* nothing is known about it */
    FATE_COUNT
};

struct salvage_span {
    int32_t meter;
    int64_t from_s, to_s, rows;
    enum salvage_fate fate;
};

enum { SALVAGE_SPANS = 4096, SALVAGE_NOTES = 32, SALVAGE_NOTE = 200 };

struct civil;
struct config;
struct day_list;

struct salvage {
    struct pages pages;
    sqlite3 *into;
    struct shape shapes[SHAPE_TABLES];
    struct salvage_count counts[SHAPE_TABLES];
    int32_t shape_count;
    bool lossy;          /* rows may be missing that were there */
    struct civil *civil; /* of the site; UTC where its settings were lost */
    int32_t interval_s;  /* of the newest settings, or of most rows */
    int64_t span_count;  /* of all; only SALVAGE_SPANS are kept */
    struct salvage_span spans[SALVAGE_SPANS];
    int32_t note_count;
    char notes[SALVAGE_NOTES][SALVAGE_NOTE];
    char why[SALVAGE_NOTE]; /* of a failure */
};

/* All of it: makes the record `to`, which must not exist, from the one at `from`.
 * `salvage` is zeroed before and given to salvage_finish() in any case. False, with the
 * reason in `why`, where nothing could be salvaged; then `to` does not exist. */
bool salvage_record(struct salvage *salvage, const char *from, const char *to, const struct config *config,
                    int64_t now_s);
void salvage_finish(struct salvage *salvage);

/* ---- the steps of it ---- */

void salvage_note(struct salvage *salvage, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Keeps the reason of the first failure; returns false. */
bool salvage_fail(struct salvage *salvage, const char *format, ...) __attribute__((format(printf, 2, 3)));
bool salvage_run(struct salvage *salvage, const char *sql);

/* Reads the rows of salvage->pages into salvage->into, which has the tables of the
 * schema and nothing in them. False where it failed. */
bool salvage_rows(struct salvage *salvage);

/* Makes runs, anchors and intervals consistent; notes what is missing of each
 * meter. `config`, NULL if there is none, knows the factors of meters whose
 * factor was lost. */
bool salvage_mend(struct salvage *salvage, const struct config *config);

/* The days to close anew: those that were closed, and with `civil`
 * those whose own row was lost. salvage_close_days() takes the list in any case. */
bool salvage_find_days(struct salvage *salvage, const struct civil *civil, struct day_list **list);

/* Closes them through the store; path NULL: only frees the list. The record must not be open. */
bool salvage_close_days(struct salvage *salvage, const char *path, struct day_list *list);

#endif
