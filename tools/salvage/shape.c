#include "shape.h"

#include <stdio.h>
#include <string.h>

static const struct shape schema_shape = {
    .name = "sqlite_schema",
    .column_count = 5,
    .columns = { { "type", RECORD_TEXT, true, false },
                 { "name", RECORD_TEXT, true, false },
                 { "tbl_name", RECORD_TEXT, true, false },
                 { "rootpage", RECORD_INTEGER, true, false },
                 { "sql", RECORD_TEXT, false, false } },
};

static const char select_columns[] =
    "SELECT name, type, \"notnull\", pk FROM pragma_table_xinfo(?1) WHERE hidden = 0 "
    "ORDER BY ?2 AND pk = 0, ?2 * pk, cid";

static enum record_type type_of(const unsigned char *declared)
{
    static const struct {
        const char *name;
        enum record_type type;
    } types[] = { { "TEXT", RECORD_TEXT }, { "REAL", RECORD_REAL }, { "BLOB", RECORD_BYTES } };
    for (size_t i = 0; declared && i < sizeof(types) / sizeof(types[0]); i++)
        if (strcmp((const char *)declared, types[i].name) == 0)
            return types[i].type;
    return RECORD_INTEGER;
}

static bool read_columns(sqlite3 *database, struct shape *shape)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(database, select_columns, -1, &statement, NULL) != SQLITE_OK)
        return false;
    sqlite3_bind_text(statement, 1, shape->name, -1, SQLITE_STATIC);
    sqlite3_bind_int(statement, 2, shape->keyed);
    int result;
    while ((result = sqlite3_step(statement)) == SQLITE_ROW && shape->column_count < RECORD_COLUMNS) {
        struct shape_column *column = &shape->columns[shape->column_count++];
        snprintf(column->name, sizeof(column->name), "%s", (const char *)sqlite3_column_text(statement, 0));
        column->type = type_of(sqlite3_column_text(statement, 1));
        column->is_row_id = !shape->keyed && sqlite3_column_int(statement, 3) > 0;
        column->needed = !column->is_row_id && sqlite3_column_int(statement, 2) != 0;
    }
    sqlite3_finalize(statement);
    return result == SQLITE_DONE && shape->column_count > 0;
}

bool shapes_read(sqlite3 *database, struct shape shapes[SHAPE_TABLES], int32_t *count)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(
            database,
            "SELECT name, wr FROM pragma_table_list WHERE schema = 'main' AND type = 'table' "
            "AND name NOT LIKE 'sqlite_%' ORDER BY (SELECT rowid FROM sqlite_schema AS s WHERE s.name = "
            "pragma_table_list.name)",
            -1, &statement, NULL) != SQLITE_OK)
        return false;
    shapes[0] = schema_shape;
    *count = 1;
    bool good = true;
    int result;
    while ((result = sqlite3_step(statement)) == SQLITE_ROW && good && *count < SHAPE_TABLES) {
        struct shape *shape = &shapes[(*count)++];
        *shape = (struct shape){ .keyed = sqlite3_column_int(statement, 1) != 0 };
        snprintf(shape->name, sizeof(shape->name), "%s", (const char *)sqlite3_column_text(statement, 0));
        good = read_columns(database, shape);
    }
    sqlite3_finalize(statement);
    return good && result == SQLITE_DONE;
}

static bool column_fits(const struct shape_column *column, const struct record_value *value)
{
    if (column->is_row_id)
        return value->type == RECORD_NULL;
    if (value->type == RECORD_NULL)
        return !column->needed;
    /* a REAL without fraction is kept as a whole number */
    return value->type == column->type || (column->type == RECORD_REAL && value->type == RECORD_INTEGER);
}

bool shape_fits(const struct shape *shape, const struct record_value *values, int32_t count)
{
    if (count != shape->column_count)
        return false;
    for (int32_t i = 0; i < count; i++)
        if (!column_fits(&shape->columns[i], &values[i]))
            return false;
    return true;
}

int32_t shape_column(const struct shape *shape, const char *name)
{
    for (int32_t i = 0; i < shape->column_count; i++)
        if (strcmp(shape->columns[i].name, name) == 0)
            return i;
    return -1;
}
