#include "btree.h"

#include <string.h>

#include "pages.h"

static int32_t half(const unsigned char *bytes)
{
    return bytes[0] << 8 | bytes[1];
}

/* Reads a number of 1 to 9 bytes below `end`; returns the byte after it, NULL where it does not end. */
static const unsigned char *varint(const unsigned char *at, const unsigned char *end, int64_t *value)
{
    uint64_t result = 0;
    for (int32_t i = 0; i < 9 && at < end; i++) {
        unsigned char byte = *at++;
        if (i == 8 || byte < 0x80) {
            result = i == 8 ? result << 8 | byte : result << 7 | byte;
            memcpy(value, &result, sizeof(result)); /* two's complement */
            return at;
        }
        result = result << 7 | (byte & 0x7f);
    }
    return NULL;
}

static bool is_interior(enum btree_kind kind)
{
    return kind == BTREE_INTERIOR || kind == BTREE_KEY_INTERIOR;
}

static enum btree_kind kind_of(unsigned char type)
{
    switch (type) {
    case 0x0d:
        return BTREE_LEAF;
    case 0x05:
        return BTREE_INTERIOR;
    case 0x0a:
        return BTREE_KEY_LEAF;
    case 0x02:
        return BTREE_KEY_INTERIOR;
    default:
        return BTREE_NONE;
    }
}

/* How many bytes of a row stay on its page. */
static int32_t local_part(const struct btree_page *page, int64_t size)
{
    int32_t usable = page->usable;
    int32_t most = page->kind == BTREE_LEAF ? usable - 35 : (usable - 12) * 64 / 255 - 23;
    int32_t least = (usable - 12) * 32 / 255 - 23;
    if (size <= most)
        return (int32_t)size;
    int32_t part = least + (int32_t)((size - least) % (usable - 4));
    return part <= most ? part : least;
}

/* The cell at an offset; its length, 0 where it is none. */
static int32_t parse(const struct btree_page *page, int32_t offset, struct btree_cell *cell)
{
    const unsigned char *start = page->bytes + offset, *end = page->bytes + page->usable, *at = start;
    *cell = (struct btree_cell){ 0 };
    if (is_interior(page->kind)) {
        if (end - at < 4)
            return 0;
        cell->child = pages_number(at);
        at += 4;
    }
    if (page->kind != BTREE_INTERIOR) {
        at = varint(at, end, &cell->size);
        if (!at || cell->size < 1 || cell->size > INT32_MAX)
            return 0;
    }
    if (page->kind == BTREE_LEAF || page->kind == BTREE_INTERIOR)
        at = varint(at, end, &cell->key);
    if (!at)
        return 0;
    if (page->kind != BTREE_INTERIOR) {
        cell->bytes = at;
        cell->local = local_part(page, cell->size);
        if (cell->local > end - at)
            return 0;
        at += cell->local;
    }
    if (cell->local < cell->size) {
        if (end - at < 4)
            return 0;
        cell->more = pages_number(at);
        at += 4;
    }
    int32_t length = (int32_t)(at - start);
    return length < 4 ? 4 : length;
}

/* Marks bytes as in use; false where one is already, or lies outside the content. */
static bool take(unsigned char *used, const struct btree_page *page, int32_t content, int32_t at,
                 int32_t length)
{
    if (at < content || length > page->usable - at)
        return false;
    for (int32_t i = at; i < at + length; i++)
        if (used[i]++)
            return false;
    return true;
}

static bool take_free(unsigned char *used, const struct btree_page *page, int32_t content)
{
    int32_t block = half(page->bytes + page->start + 1);
    while (block != 0) {
        if (block < content || block > page->usable - 4)
            return false;
        int32_t next = half(page->bytes + block), length = half(page->bytes + block + 2);
        if (length < 4 || (next != 0 && next <= block) || !take(used, page, content, block, length))
            return false;
        block = next;
    }
    return true;
}

static bool cell_is_right(const struct btree_page *page, const struct btree_cell *cell,
                          const struct btree_cell *before)
{
    bool whole_number = page->kind == BTREE_LEAF || page->kind == BTREE_INTERIOR;
    if (is_interior(page->kind) && (cell->child < 1 || cell->child > page->page_count))
        return false;
    if (cell->more != 0 && cell->more > page->page_count && page->page_count > 0)
        return false;
    return !whole_number || !before || cell->key > before->key;
}

static bool look_through(const struct btree_page *page)
{
    unsigned char used[PAGE_MOST] = { 0 };
    const unsigned char *header = page->bytes + page->start;
    int32_t content = half(header + 5), pointers = page->start + (is_interior(page->kind) ? 12 : 8);
    struct btree_cell cell, before;
    content = content == 0 ? PAGE_MOST : content;
    if (content > page->usable || pointers + 2 * page->cells > content || !take_free(used, page, content))
        return false;
    for (int32_t i = 0; i < page->cells; i++) {
        int32_t offset = half(page->bytes + pointers + 2 * i);
        int32_t length = offset < content || offset >= page->usable ? 0 : parse(page, offset, &cell);
        if (length == 0 || !take(used, page, content, offset, length) ||
            !cell_is_right(page, &cell, i > 0 ? &before : NULL))
            return false;
        before = cell;
    }
    int32_t fragments = 0;
    for (int32_t i = content; i < page->usable; i++)
        fragments += !used[i];
    return fragments == header[7];
}

void btree_read(struct btree_page *page, const unsigned char *bytes, int32_t usable, uint32_t number,
                uint32_t page_count)
{
    *page = (struct btree_page){
        .bytes = bytes, .usable = usable, .start = number == 1 ? 100 : 0, .page_count = page_count
    };
    const unsigned char *header = bytes + page->start;
    page->kind = kind_of(header[0]);
    page->cells = half(header + 3);
    if (is_interior(page->kind))
        page->last_child = pages_number(header + 8);
    if (page->kind == BTREE_NONE || !look_through(page) ||
        (is_interior(page->kind) && (page->last_child < 1 || page->last_child > page_count)))
        page->kind = BTREE_NONE;
}

struct btree_cell btree_cell(const struct btree_page *page, int32_t index)
{
    struct btree_cell cell;
    int32_t pointers = page->start + (is_interior(page->kind) ? 12 : 8);
    parse(page, half(page->bytes + pointers + 2 * index), &cell);
    return cell;
}

/* ---- records ---- */

static int64_t width_of(int64_t serial)
{
    static const int8_t widths[] = { 0, 1, 2, 3, 4, 6, 8, 8, 0, 0 };
    return serial < 10 ? widths[serial] : (serial - 12) / 2;
}

static int64_t big_endian(const unsigned char *bytes, int64_t width)
{
    uint64_t value = width > 0 && bytes[0] >= 0x80 ? UINT64_MAX : 0;
    int64_t result;
    for (int64_t i = 0; i < width; i++)
        value = value << 8 | bytes[i];
    memcpy(&result, &value, sizeof(result));
    return result;
}

static struct record_value value_of(int64_t serial, const unsigned char *bytes, int64_t width)
{
    struct record_value value = { .bytes = bytes, .size = width };
    if (serial == 0)
        value.type = RECORD_NULL;
    else if (serial == 7)
        value.type = RECORD_REAL;
    else if (serial < 10)
        value.type = RECORD_INTEGER;
    else
        value.type = serial % 2 ? RECORD_TEXT : RECORD_BYTES;
    if (value.type == RECORD_INTEGER)
        value.integer = serial >= 8 ? serial - 8 : bytes ? big_endian(bytes, width) : 0;
    if (value.type == RECORD_REAL && bytes) {
        int64_t bits = big_endian(bytes, width);
        memcpy(&value.real, &bits, sizeof(bits));
    }
    return value;
}

int32_t record_read(const unsigned char *row, int64_t size, int64_t have,
                    struct record_value values[RECORD_COLUMNS])
{
    int64_t head = 0, serial = 0;
    const unsigned char *at = varint(row, row + have, &head);
    if (!at || head < at - row || head > have)
        return -1;
    int64_t body = head;
    int32_t count = 0;
    while (at < row + head) {
        at = varint(at, row + head, &serial);
        if (!at || count == RECORD_COLUMNS || serial < 0 || serial == 10 || serial == 11)
            return -1;
        int64_t width = width_of(serial);
        if (width > size - body)
            return -1;
        values[count++] = value_of(serial, width <= have - body ? row + body : NULL, width);
        body += width;
    }
    return body == size ? count : -1;
}
