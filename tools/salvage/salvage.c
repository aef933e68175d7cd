#include "salvage.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "text.h"

enum { ROW_MOST = 4 << 20, SCHEMA = 0, NOBODY = -1, TREE_DEPTH = 40 };

/* What is known of a page. */
struct look {
    int8_t kind;   /* enum btree_kind */
    int8_t table;  /* by the shape of its rows */
    int8_t owner;  /* by the tree that it hangs in */
    int64_t first; /* its first key, for an order in which rows can be appended */
};

struct reader {
    struct salvage *salvage;
    struct look *looks; /* by page number */
    unsigned char *page, *rest, *row;
    sqlite3_stmt *insert;
};

void salvage_note(struct salvage *salvage, const char *format, ...)
{
    va_list arguments;
    if (salvage->note_count == SALVAGE_NOTES)
        return;
    va_start(arguments, format);
    vsnprintf(salvage->notes[salvage->note_count++], SALVAGE_NOTE, format, arguments);
    va_end(arguments);
}

bool salvage_fail(struct salvage *salvage, const char *format, ...)
{
    va_list arguments;
    if (salvage->why[0])
        return false;
    va_start(arguments, format);
    vsnprintf(salvage->why, SALVAGE_NOTE, format, arguments);
    va_end(arguments);
    return false;
}

bool salvage_run(struct salvage *salvage, const char *sql)
{
    if (sqlite3_exec(salvage->into, sql, NULL, NULL, NULL) == SQLITE_OK)
        return true;
    return salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
}

/* ---- what each page is ---- */

/* The table whose rows these are; NOBODY where they do not all fit one. */
static int8_t table_of(const struct salvage *salvage, const struct btree_page *page)
{
    uint32_t fits = UINT32_MAX;
    struct record_value values[RECORD_COLUMNS];
    bool keyed = page->kind != BTREE_LEAF;
    for (int32_t i = 0; i < page->cells; i++) {
        struct btree_cell cell = btree_cell(page, i);
        int32_t count = record_read(cell.bytes, cell.size, cell.local, values);
        for (int32_t t = 0; t < salvage->shape_count; t++)
            if (salvage->shapes[t].keyed != keyed || !shape_fits(&salvage->shapes[t], values, count))
                fits &= ~(UINT32_C(1) << t);
    }
    for (int8_t t = 0; t < salvage->shape_count && page->cells > 0; t++)
        if (fits & UINT32_C(1) << t)
            return t;
    return NOBODY;
}

static void look_at(struct reader *reader, uint32_t number)
{
    struct salvage *salvage = reader->salvage;
    struct look *look = &reader->looks[number];
    struct btree_page page = { 0 };
    *look = (struct look){ BTREE_NONE, NOBODY, NOBODY, 0 };
    if (salvage->pages.is_free[number] || !pages_read(&salvage->pages, number, reader->page))
        return;
    btree_read(&page, reader->page, salvage->pages.usable, number, salvage->pages.stated);
    look->kind = (int8_t)page.kind;
    if (page.kind == BTREE_NONE || page.kind == BTREE_INTERIOR)
        return;
    look->table = table_of(salvage, &page);
    if (page.cells > 0 && page.kind == BTREE_LEAF)
        look->first = btree_cell(&page, 0).key;
}

/* Gives a page and what hangs below it to a table. */
static void walk(struct reader *reader, uint32_t number, int8_t owner, int32_t depth)
{
    struct look *look = &reader->looks[number <= reader->salvage->pages.count ? number : 0];
    if (look == reader->looks)
        reader->salvage->counts[owner].damaged++; /* the file was cut in front of it */
    if (look == reader->looks || look->owner != NOBODY || depth > TREE_DEPTH)
        return;
    look->owner = owner;
    if (look->kind != BTREE_INTERIOR && look->kind != BTREE_KEY_INTERIOR)
        return;
    uint32_t *children = calloc(PAGE_MOST / 4, sizeof(children[0]));
    struct btree_page page = { 0 };
    int32_t count = 0;
    if (children && pages_read(&reader->salvage->pages, number, reader->page)) {
        btree_read(&page, reader->page, reader->salvage->pages.usable, number, reader->salvage->pages.stated);
        for (int32_t i = 0; page.kind != BTREE_NONE && i < page.cells; i++)
            children[count++] = btree_cell(&page, i).child;
        children[count++] = page.last_child;
    }
    for (int32_t i = 0; i < count; i++)
        walk(reader, children[i], owner, depth + 1);
    free(children);
}

static int8_t table_by_name(const struct salvage *salvage, const struct record_value *name)
{
    for (int8_t t = 1; t < salvage->shape_count; t++)
        if (name->bytes && strlen(salvage->shapes[t].name) == (size_t)name->size &&
            memcmp(salvage->shapes[t].name, name->bytes, (size_t)name->size) == 0)
            return t;
    return NOBODY;
}

/* Walks the trees whose roots a page of the schema names. */
static void walk_from(struct reader *reader, uint32_t number)
{
    struct salvage *salvage = reader->salvage;
    struct record_value values[RECORD_COLUMNS];
    struct btree_page page;
    unsigned char *schema = malloc(PAGE_MOST);
    if (schema && pages_read(&salvage->pages, number, schema)) {
        btree_read(&page, schema, salvage->pages.usable, number, salvage->pages.stated);
        for (int32_t i = 0; page.kind == BTREE_LEAF && i < page.cells; i++) {
            struct btree_cell cell = btree_cell(&page, i);
            int32_t count = record_read(cell.bytes, cell.size, cell.local, values);
            int8_t table = count == 5 ? table_by_name(salvage, &values[1]) : NOBODY;
            if (table != NOBODY && values[3].integer >= 1 && values[3].integer <= salvage->pages.stated)
                walk(reader, (uint32_t)values[3].integer, table, 0);
        }
    }
    free(schema);
}

/* ---- rows ---- */

/* Gathers a row that goes on over other pages; returns how much of it there is. */
static int64_t gather(struct reader *reader, const struct btree_cell *cell)
{
    const struct pages *pages = &reader->salvage->pages;
    int64_t have = cell->local;
    memcpy(reader->row, cell->bytes, (size_t)have);
    for (uint32_t number = cell->more; have < cell->size && number != 0;) {
        int64_t part = cell->size - have < pages->usable - 4 ? cell->size - have : pages->usable - 4;
        if (number > pages->count || pages->is_free[number] || reader->looks[number].kind != BTREE_NONE ||
            !pages_read(pages, number, reader->rest))
            break;
        memcpy(reader->row + have, reader->rest + 4, (size_t)part);
        have += part;
        number = pages_number(reader->rest);
    }
    return have;
}

static bool is_whole(const struct record_value *value)
{
    return value->type != RECORD_TEXT ||
           (value->bytes && text_is_valid((const char *)value->bytes, (size_t)value->size));
}

/* The text of a configuration may be lost without its settings: its hash goes
 * too, so that the collector keeps the text anew when it starts. */
static bool replace_text(const struct shape *shape, struct record_value *values)
{
    int32_t text = shape_column(shape, "text"), hash = shape_column(shape, "hash");
    static const unsigned char lost[] = "# lost";
    if (text < 0 || hash < 0 || shape->keyed || !is_whole(&values[hash]))
        return false;
    for (int32_t i = 0; i < shape->column_count; i++)
        if (i != text && !is_whole(&values[i]))
            return false;
    values[text] = (struct record_value){ .type = RECORD_TEXT, .bytes = lost, .size = sizeof(lost) - 1 };
    values[hash] = (struct record_value){ .type = RECORD_TEXT, .bytes = lost, .size = 0 };
    return true;
}

static void bind(sqlite3_stmt *insert, int32_t at, const struct record_value *value)
{
    switch (value->type) {
    case RECORD_NULL:
        sqlite3_bind_null(insert, at);
        break;
    case RECORD_INTEGER:
        sqlite3_bind_int64(insert, at, value->integer);
        break;
    case RECORD_REAL:
        sqlite3_bind_double(insert, at, value->real);
        break;
    case RECORD_TEXT:
        sqlite3_bind_text(insert, at, (const char *)value->bytes, (int)value->size, SQLITE_STATIC);
        break;
    case RECORD_BYTES:
        sqlite3_bind_blob(insert, at, value->bytes, (int)value->size, SQLITE_STATIC);
        break;
    }
}

static bool put_row(struct reader *reader, int32_t table, const struct btree_cell *cell)
{
    struct salvage *salvage = reader->salvage;
    const struct shape *shape = &salvage->shapes[table];
    struct record_value values[RECORD_COLUMNS];
    int64_t have = cell->size <= ROW_MOST ? gather(reader, cell) : 0;
    int32_t count = have > 0 ? record_read(reader->row, cell->size, have, values) : -1;
    bool whole = count == shape->column_count, replaced = false;
    for (int32_t i = 0; i < count && whole; i++)
        whole = is_whole(&values[i]);
    if (!whole && count == shape->column_count)
        replaced = replace_text(shape, values);
    if (!whole)
        salvage->counts[table].broken++;
    if (!whole && !replaced)
        return true;
    for (int32_t i = 0; i < count; i++) {
        if (shape->columns[i].is_row_id)
            sqlite3_bind_int64(reader->insert, i + 1, cell->key);
        else
            bind(reader->insert, i + 1, &values[i]);
    }
    int result = sqlite3_step(reader->insert);
    sqlite3_reset(reader->insert);
    /* a row that breaks a rule of its table is no row */
    if (result == SQLITE_DONE)
        salvage->counts[table].rows += sqlite3_changes(salvage->into);
    else if (result == SQLITE_CONSTRAINT)
        salvage->counts[table].broken++;
    else
        return salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
    return true;
}

/* Keys that a page lacks between its first and its last were never there. */
static bool note_range(struct reader *reader, int32_t table, const struct btree_page *page)
{
    char sql[160];
    snprintf(sql, sizeof(sql), "INSERT OR IGNORE INTO temp.whole_page VALUES('%s', %lld, %lld)",
             reader->salvage->shapes[table].name, (long long)btree_cell(page, 0).key,
             (long long)btree_cell(page, page->cells - 1).key);
    return salvage_run(reader->salvage, sql);
}

static bool put_page(struct reader *reader, int32_t table, uint32_t number)
{
    struct pages *pages = &reader->salvage->pages;
    struct btree_page page = { 0 };
    if (!pages_read(pages, number, reader->page))
        return true;
    btree_read(&page, reader->page, pages->usable, number, pages->stated);
    bool good = true;
    for (int32_t i = 0; page.kind != BTREE_NONE && i < page.cells && good; i++) {
        struct btree_cell cell = btree_cell(&page, i);
        good = put_row(reader, table, &cell);
    }
    reader->salvage->counts[table].pages++;
    return good && (page.kind != BTREE_LEAF || page.cells == 0 || note_range(reader, table, &page));
}

static bool prepare_insert(struct reader *reader, const struct shape *shape)
{
    char sql[2048];
    size_t at = (size_t)snprintf(sql, sizeof(sql), "INSERT OR IGNORE INTO %s(", shape->name);
    for (int32_t i = 0; i < shape->column_count; i++)
        at += (size_t)snprintf(sql + at, sizeof(sql) - at, "%s%s", i ? ", " : "", shape->columns[i].name);
    at += (size_t)snprintf(sql + at, sizeof(sql) - at, ") VALUES(?");
    for (int32_t i = 1; i < shape->column_count; i++)
        at += (size_t)snprintf(sql + at, sizeof(sql) - at, ", ?");
    snprintf(sql + at, sizeof(sql) - at, ")");
    if (sqlite3_prepare_v2(reader->salvage->into, sql, -1, &reader->insert, NULL) == SQLITE_OK)
        return true;
    return salvage_fail(reader->salvage, "%s", sqlite3_errmsg(reader->salvage->into));
}

/* ---- all together ---- */

/* Pages that were given up may keep rows that were deleted. Where the list of
 * free pages is lost, only those of the tables' trees are sure; of `held`,
 * which lives by deleting, others are not taken. */
static bool is_wanted(const struct reader *reader, uint32_t number, int32_t table, bool in_tree)
{
    const struct look *look = &reader->looks[number];
    bool row_page =
        look->kind == BTREE_LEAF || look->kind == BTREE_KEY_LEAF || look->kind == BTREE_KEY_INTERIOR;
    if (!row_page || look->table != table || (look->owner == table) != in_tree)
        return false;
    if (in_tree)
        return true;
    return look->owner == NOBODY &&
           (reader->salvage->pages.free_known || strcmp(reader->salvage->shapes[table].name, "held") != 0);
}

struct ordered {
    int64_t first;
    uint32_t number;
};

static int compare(const void *a, const void *b)
{
    const struct ordered *left = a, *right = b;
    if (left->first != right->first)
        return left->first < right->first ? -1 : 1;
    return left->number < right->number ? -1 : left->number > right->number;
}

static bool put_table(struct reader *reader, int32_t table, struct ordered *order)
{
    uint32_t count = reader->salvage->pages.count;
    bool good = prepare_insert(reader, &reader->salvage->shapes[table]);
    for (int32_t pass = 0; pass < 2 && good; pass++) {
        size_t found = 0;
        for (uint32_t n = 1; n <= count; n++)
            if (is_wanted(reader, n, table, pass == 0))
                order[found++] = (struct ordered){ reader->looks[n].first, n };
        qsort(order, found, sizeof(order[0]), compare);
        for (size_t i = 0; i < found && good; i++)
            good = put_page(reader, table, order[i].number);
    }
    sqlite3_finalize(reader->insert);
    reader->insert = NULL;
    return good;
}

/* Pages that a tree leads to and that are not what should be there. */
static void count_damage(struct reader *reader)
{
    for (uint32_t n = 1; n <= reader->salvage->pages.count; n++) {
        const struct look *look = &reader->looks[n];
        bool whole = look->kind == BTREE_INTERIOR || look->table == look->owner;
        bool empty = look->kind != BTREE_NONE && look->table == NOBODY;
        if (look->owner != NOBODY && (look->kind == BTREE_NONE || !(whole || empty)))
            reader->salvage->counts[look->owner].damaged++;
        /* its parent is gone, and so may others of its children be */
        reader->salvage->lossy |= look->owner == NOBODY && look->table > SCHEMA;
    }
    const struct pages *pages = &reader->salvage->pages;
    reader->salvage->lossy |= !pages->headed || pages->stated > pages->count || pages->cut || pages->log_lost;
    for (int32_t t = 0; t < reader->salvage->shape_count; t++)
        reader->salvage->lossy |= reader->salvage->counts[t].damaged > 0;
}

static bool read_all(struct reader *reader)
{
    struct salvage *salvage = reader->salvage;
    uint32_t count = salvage->pages.count;
    struct ordered *order = calloc((size_t)count + 1, sizeof(order[0]));
    if (!order)
        return salvage_fail(salvage, "out of memory");
    for (uint32_t n = 1; n <= count; n++)
        look_at(reader, n);
    for (uint32_t n = 1; n <= count; n++)
        if (reader->looks[n].table == SCHEMA)
            walk_from(reader, n);
    count_damage(reader);
    bool good = salvage_run(salvage, "CREATE TEMP TABLE whole_page(name TEXT, first INTEGER, last INTEGER, "
                                     "PRIMARY KEY(name, first)) WITHOUT ROWID; BEGIN");
    for (int32_t t = 1; t < salvage->shape_count && good; t++)
        good = put_table(reader, t, order);
    good = good && salvage_run(salvage, "COMMIT");
    free(order);
    return good;
}

bool salvage_rows(struct salvage *salvage)
{
    struct reader reader = { .salvage = salvage };
    reader.looks = calloc((size_t)salvage->pages.count + 1, sizeof(reader.looks[0]));
    reader.page = malloc(PAGE_MOST);
    reader.rest = malloc(PAGE_MOST);
    reader.row = malloc(ROW_MOST);
    bool good = reader.looks && reader.page && reader.rest && reader.row;
    good = good ? read_all(&reader) : salvage_fail(salvage, "out of memory");
    free(reader.looks);
    free(reader.page);
    free(reader.rest);
    free(reader.row);
    return good;
}
