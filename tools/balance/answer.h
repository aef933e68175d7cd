/* The balance of a span, in rows: what `day`, `month` and `year` print.
 *
 * Rows come from closed days where every meter of the balance has one and the
 * settings did not change in it, else from the intervals themselves, within one
 * read transaction. Where sealed meters speak, their reading periods are shared
 * out to days and longer rows; shorter ones do not get a figure of them. Weeks are those of ISO 8601. Rows
 * add up to the total exactly. */
#ifndef METERBOOK_ANSWER_H
#define METERBOOK_ANSWER_H

#include <stdbool.h>
#include <stdint.h>

#include "balance.h"
#include "civil.h"
#include "history.h"
#include "period.h"
#include "query.h"
#include "sources.h"

enum row_unit { ROW_INTERVAL, ROW_HOUR, ROW_DAY, ROW_WEEK, ROW_MONTH, ROW_YEAR };

/* Which figures are asked for; all zero: the balance as it counts. */
struct answer_what {
    int32_t meter; /* not 0: this meter's own counters alone, as import and export */
    /* Without every interval that is estimated, interpolated or not observed whole by every meter of
     * the balance; lost_s is then what was left out. Takes no `sources`. */
    bool measured_only;
    bool record_alone; /* the inquiry reads no sources */
    bool single;       /* the figures are of single meters: a site without a balance has them too */
    bool fine; /* leave out sealed readings as hours do, whatever the rows: for what is said of hours */
};

/* Who spoke for a row. */
enum row_source { SOURCE_RECORD = 1, SOURCE_SEALED = 2, SOURCE_BOTH = 3 };

/* What only an answer's row can be, beside enum row_flag. */
enum answer_flag {
    ROW_PRORATED = 1 << 16, /* its ends cut a reading period: it has a share of it */
    ROW_GUESSED = 1 << 17,  /* a reading that nobody took bounds one of its reading periods */
    ROW_ENTERED = 1 << 18,  /* some of its intervals were entered from elsewhere */
};

struct answer_row {
    int64_t from_s, to_s;      /* UTC */
    int64_t span_s;            /* of it what the record has, and speaks for */
    int64_t lost_s;            /* of that what the least observed meter was not observed */
    int32_t flags;             /* enum row_flag of all its rows, enum answer_flag */
    int32_t sources;           /* enum row_source, one bit each */
    int64_t doubt[TERM_COUNT]; /* mWh that its dates may have put on the wrong side of its ends; UNKNOWN:
                                * doubt.h was not asked, or has none to tell of */
    int64_t prorated;          /* mWh of all terms that are shares of reading periods its ends cut; UNKNOWN */
    struct balance balance;
};

/* A stretch of a row in which each term has one source. */
struct answer_piece {
    int64_t from_s, to_s;
    int32_t row;
    unsigned sealed;          /* terms that sealed meters speak for, one bit each */
    bool before;              /* the record begins after it */
    struct balance_part part; /* where they do: what the record knows of the others */
    const struct arrangement *arrangement;
};

enum {
    ANSWER_MAX_NOTES = 32,
    NOTE_SIZE = 400,
    ANSWER_MAX_MARKS = 8,
    MARK_SIZE = 64,
    ANSWER_MAX_CORRECTIONS = 4
};

struct answer {
    const char *name; /* "day", "month", "year", "totals" */
    enum row_unit unit;
    struct answer_what what;
    struct site site;
    const struct civil *civil; /* the caller's */
    int64_t from_s, to_s;      /* the whole span */
    int64_t record_s;          /* end of the newest interval in the record */
    int64_t reach_s;           /* the same, or of sealed readings that speak; at most to_s */
    struct answer_row total;
    struct answer_row *rows; /* heap; without those before the record begins and after it ends */
    int32_t row_count;
    struct history history;
    const struct sources *sources; /* the caller's; NULL: the record alone */
    struct answer_piece *pieces;   /* heap; by time */
    int32_t piece_count, piece_room;
    int64_t *observed_s;                   /* heap: per row and slot */
    int64_t last_s[HISTORY_MAX_METERS];    /* per slot: end of its newest row in the span, INT64_MIN none */
    int64_t present_s[HISTORY_MAX_METERS]; /* per slot: time for which it has rows in the span */
    int64_t production_step, grid_step, coarsest_step; /* mWh: what the registers can tell */
    int32_t mark_count;
    char marks[ANSWER_MAX_MARKS][MARK_SIZE]; /* the same in a few words, for the head line */
    int32_t correction_count;                /* of meters that a figure uses; only the first few are kept */
    struct correction_row corrections[ANSWER_MAX_CORRECTIONS];
    bool correcting; /* some are still to be applied */
    bool waiting;    /* there are readings that no clock has dated yet */
    int32_t note_count;
    char notes[ANSWER_MAX_NOTES][NOTE_SIZE]; /* what must be known to read the figures */
};

enum answer_result { ANSWER_READY, ANSWER_NO_DATA, ANSWER_FAILED };

/* Fills `answer`, to be given to answer_free() whatever the result. `sources` may be NULL. With
 * ANSWER_NO_DATA the first note says why; with ANSWER_FAILED query_error()
 * says it, or memory is out. answer->name is left to the caller. Rows of an hour fall
 * back to intervals where the interval does not divide an hour. */
enum answer_result answer_build(struct answer *answer, struct query *query, const struct civil *civil,
                                const struct sources *sources, struct period period, enum row_unit unit);
enum answer_result answer_build_of(struct answer *answer, struct query *query, const struct civil *civil,
                                   const struct sources *sources, struct period period, enum row_unit unit,
                                   struct answer_what what);
void answer_free(struct answer *answer);

/* Millionths of the row's span so far in which every meter of the balance was observed; UNKNOWN before it
 * began. */
int64_t answer_observed_share(const struct answer_row *row);

/* Are sealed readings left out, because rows are too short for a share of them? */
bool answer_is_fine(const struct answer *answer);

/* Terms for which sealed meters speak somewhere in the span, one bit each. */
unsigned answer_sealed_terms(const struct answer *answer);

/* Seconds of [from, to) in which the record speaks and a figure needs the meter of this slot. */
int64_t answer_used_s(const struct answer *answer, int32_t slot, int64_t from_s, int64_t to_s);

/* Adds a line to the notes, or a few words to the marks; what does not fit is left out. */
void answer_note(struct answer *answer, const char *format, ...) __attribute__((format(printf, 2, 3)));
void answer_mark(struct answer *answer, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* notes.c: fills in the marks and the notes once the figures stand. */
void answer_make_notes(struct answer *answer);

#endif
