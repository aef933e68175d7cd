/* One page of an SQLite table and the rows on it. Pure, for any bytes: a page
 * is taken as a whole or not at all, because a row beside damage cannot be told
 * from damage.
 *
 * File format: https://www.sqlite.org/fileformat2.html, "B-tree Pages" and "Record Format". */
#ifndef METERBOOK_BTREE_H
#define METERBOOK_BTREE_H

#include <stdbool.h>
#include <stdint.h>

enum btree_kind {
    BTREE_NONE,         /* not a page of a table, or not a whole one */
    BTREE_LEAF,         /* rows by whole number */
    BTREE_INTERIOR,     /* children of a table of such rows */
    BTREE_KEY_LEAF,     /* rows by their own columns (WITHOUT ROWID) */
    BTREE_KEY_INTERIOR, /* children, and a row between each two */
};

/* A page as it was read: page 1 has the file's header in front. */
struct btree_page {
    const unsigned char *bytes;
    int32_t usable, start; /* where the page's own header stands: 100 on page 1, else 0 */
    uint32_t page_count;   /* of the file */
    enum btree_kind kind;
    int32_t cells;
    uint32_t last_child; /* interior */
};

struct btree_cell {
    int64_t key;    /* rows by whole number */
    uint32_t child; /* interior, 0 otherwise */
    int64_t size;   /* of the row; 0 without */
    int32_t local;  /* bytes of it on this page, */
    uint32_t more;  /* the rest begins on this page */
    const unsigned char *bytes;
};

/* Looks the whole page through: every cell inside it, none over another, no
 * byte unaccounted for, whole-number keys ascending. */
void btree_read(struct btree_page *page, const unsigned char *bytes, int32_t usable, uint32_t number,
                uint32_t page_count);

/* Cell 0 .. cells - 1 of a page that was found whole. */
struct btree_cell btree_cell(const struct btree_page *page, int32_t index);

enum { RECORD_COLUMNS = 40 };

enum record_type { RECORD_NULL, RECORD_INTEGER, RECORD_REAL, RECORD_TEXT, RECORD_BYTES };

struct record_value {
    enum record_type type;
    int64_t integer;
    double real;
    const unsigned char *bytes; /* inside the row */
    int64_t size;
};

/* The values of a row of `size` bytes; returns how many, -1 where it is not a
 * row. `have` may be less than `size`: then values of which bytes are missing
 * have `bytes` NULL. */
int32_t record_read(const unsigned char *row, int64_t size, int64_t have,
                    struct record_value values[RECORD_COLUMNS]);

#endif
