/* The book of one meter: dated accounts in, rows of whole intervals out.
 *
 * Between two readings each counter's account is a straight line; where the
 * line crosses the end of an interval, the account is fixed once, and that one
 * value ends one row and begins the next. So rows add up to the account
 * exactly, over gaps, restarts and changed register runs alike.
 *
 * Accounts here are continuous over register runs: `offset` carries a counter
 * across a rollover or a reset. Pure; mWh and UTC ms; no allocation. */
#ifndef METERBOOK_BOOK_H
#define METERBOOK_BOOK_H

#include <stdbool.h>
#include <stdint.h>

enum { BOOK_COUNTERS = 6 };

/* A row as the book knows it: the energies of [start, start + length). */
struct book_row {
    int64_t start_ms;
    int64_t energy[BOOK_COUNTERS];  /* mWh */
    int64_t account[BOOK_COUNTERS]; /* continuous account at the row's end */
    int64_t estimated;              /* mWh placed by filling, all counters */
    int64_t unobserved_ms;
    uint16_t how; /* enum row_method | enum row_flag */
};

struct book {
    int32_t count;                /* counters in use, 0 .. BOOK_COUNTERS */
    int64_t length_ms;            /* of an interval */
    bool open;                    /* has a frontier */
    int64_t frontier_ms;          /* end of the last row taken (start of the next) */
    int64_t fixed[BOOK_COUNTERS]; /* account at the frontier */
    int64_t from_ms, to_ms;       /* the span between the last two readings */
    int64_t from[BOOK_COUNTERS], to[BOOK_COUNTERS];
    bool gap;                         /* nobody watched between them */
    int64_t estimated, unobserved_ms; /* of the row that is being filled */
    uint16_t how;
    int64_t off_from_ms, off_to_ms; /* see book_off() */
    int64_t off_most[BOOK_COUNTERS];
    bool stood; /* in the span that is being taken all flowed at once, at its beginning */
};

void book_init(struct book *book, int32_t count, int64_t length_ms);

/* First reading ever: the row that holds it begins unobserved. */
void book_begin(struct book *book, int64_t at_ms, const int64_t account[]);

/* Takes up a stored book: its frontier and the accounts there. */
void book_resume(struct book *book, int64_t frontier_ms, const int64_t account[]);

/* The accounts at a later instant. `gap`: the span since the last one was not
 * watched. While rows of the last span are still to be taken (the disk is
 * full), the span is stretched instead: shape is lost, energy is not. An
 * instant that is not later than the last (the clock was held) changes the
 * account, not the date. */
void book_read(struct book *book, int64_t at_ms, const int64_t account[], bool gap, uint16_t flags);

/* Power failed, or the process ended without notice: from then on to the next
 * reading nobody watched. Rows that this touches carry HOW_POWER_FAILED,
 * whatever the counters did in them. Where no counter rose by more than
 * most[] (what may have flowed before the failure and after), the supply was out
 * as well: what flowed belongs to the first row and not to the outage. NULL:
 * nothing is known of the supply. After book_resume(). */
void book_off(struct book *book, int64_t from_ms, const int64_t most[]);

/* Adds flags to the row being filled. */
void book_flag(struct book *book, uint16_t flags);

/* End of the row being filled: the next boundary, UTC ms. */
int64_t book_due_ms(const struct book *book);

/* Start of the interval that an instant lies in, UTC ms. */
int64_t book_start_of(const struct book *book, int64_t utc_ms);

/* Nobody watched for so long in the row being filled, though nothing flowed. */
void book_unobserved(struct book *book, int64_t ms);

/* Takes the next complete row; false when the last reading has not passed its end. */
bool book_take(struct book *book, struct book_row *row);

#endif
