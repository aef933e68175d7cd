/* What a row of each table looks like in the file, as the schema says it: by
 * this a page is known for a table's when nothing that points to it is left. */
#ifndef METERBOOK_SHAPE_H
#define METERBOOK_SHAPE_H

#include <sqlite3.h>
#include <stdbool.h>
#include <stdint.h>

#include "btree.h"

enum { SHAPE_TABLES = 32, SHAPE_NAME = 40 };

struct shape_column {
    char name[SHAPE_NAME];
    enum record_type type;
    bool needed;    /* NOT NULL */
    bool is_row_id; /* kept as the row's number, NULL in the row */
};

struct shape {
    char name[SHAPE_NAME];
    bool keyed;           /* WITHOUT ROWID */
    int32_t column_count; /* in the order in which the file has them, without computed ones */
    struct shape_column columns[RECORD_COLUMNS];
};

/* Table 0 is the schema's own, the others those of the database. False where it cannot be read. */
bool shapes_read(sqlite3 *database, struct shape shapes[SHAPE_TABLES], int32_t *count);

/* Can these values be a row of that table? Those whose bytes are missing count by their type. */
bool shape_fits(const struct shape *shape, const struct record_value *values, int32_t count);

/* Index of a column, -1 where there is none of that name. */
int32_t shape_column(const struct shape *shape, const char *name);

#endif
