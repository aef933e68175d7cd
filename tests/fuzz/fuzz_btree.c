/* links: tools/salvage/btree.c tools/salvage/pages.c */
/* Any bytes as a page of a damaged record: refused, or rows that lie inside it.
 * libFuzzer; the first two bytes choose the page's size and place. */
#include <stdlib.h>
#include <string.h>

#include "btree.h"
#include "pages.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void read_rows(const struct btree_page *page)
{
    struct record_value values[RECORD_COLUMNS];
    for (int32_t i = 0; i < page->cells; i++) {
        struct btree_cell cell = btree_cell(page, i);
        if (page->kind == BTREE_INTERIOR)
            continue;
        if (cell.local < 0 || cell.bytes < page->bytes ||
            cell.bytes + cell.local > page->bytes + page->usable)
            abort();
        int32_t count = record_read(cell.bytes, cell.size, cell.local, values);
        for (int32_t v = 0; v < count; v++)
            if (values[v].bytes &&
                (values[v].bytes < cell.bytes || values[v].bytes + values[v].size > cell.bytes + cell.local))
                abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct btree_page page;
    if (size < 2)
        return 0;
    int32_t usable = 512 << data[0] % 4;
    unsigned char *bytes = calloc(1, (size_t)usable);
    if (!bytes)
        return 0;
    memcpy(bytes, data + 2, size - 2 < (size_t)usable ? size - 2 : (size_t)usable);
    btree_read(&page, bytes, usable, data[1] % 2 ? 1 : 2, 1000);
    if (page.kind != BTREE_NONE)
        read_rows(&page);
    free(bytes);
    return 0;
}
