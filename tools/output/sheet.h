/* An answer that is a plain list of rows, whatever they hold: what the
 * commands show that are no balance. Filled in by a command, printed by the
 * forms of output. */
#ifndef METERBOOK_SHEET_H
#define METERBOOK_SHEET_H

#include <stdbool.h>
#include <stdint.h>

#include "answer.h"
#include "civil.h"
#include "options.h"

enum sheet_kind {
    SHEET_TEXT,
    SHEET_NUMBER,  /* in 10^-scale of the unit */
    SHEET_SHARE,   /* millionths; a table shows per cent */
    SHEET_INSTANT, /* UTC s */
    SHEET_DATE,    /* the same; a table shows the civil day only */
};

struct sheet_column {
    const char *key;     /* in CSV and JSON */
    const char *head[2]; /* in a table, two lines */
    const char *unit;    /* under them, "" without */
    enum sheet_kind kind;
    int32_t scale;
    bool data_only; /* not in a table */
};

struct sheet_cell {
    const char *text; /* kept by the caller; NULL: not known */
    int64_t value;    /* UNKNOWN */
    int32_t decimals; /* of a number in a table, at most `scale` */
    bool thousands;   /* a table parts them */
};

enum { SHEET_COLUMNS = 24 };

struct sheet {
    const char *name;  /* the command's */
    const char *title; /* first line of a table */
    const struct civil *civil;
    const struct sheet_column *columns;
    int32_t column_count;
    struct sheet_cell (*rows)[SHEET_COLUMNS]; /* heap */
    int32_t row_count, row_room;
    char marks[ANSWER_MAX_MARKS][MARK_SIZE]; /* what the head line says of every figure below */
    int32_t mark_count;
    char (*notes)[NOTE_SIZE]; /* heap */
    int32_t note_count, note_room;
    bool failed; /* memory was out: something is missing */
};

void sheet_init(struct sheet *sheet, const char *name, const struct civil *civil,
                const struct sheet_column *columns, int32_t column_count);
void sheet_free(struct sheet *sheet);

/* Adds a row of unknown cells; NULL without memory. */
struct sheet_cell *sheet_row(struct sheet *sheet);
void sheet_note(struct sheet *sheet, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Adds a mark to the head line; what does not fit is left out. */
void sheet_mark(struct sheet *sheet, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Prints it on stdout in the form that the options ask for; the marks and notes of a CSV go
 * to stderr. False, said on stderr, where memory was out. */
bool sheet_print(const struct sheet *sheet, const struct options *options);

#endif
