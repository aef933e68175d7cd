#include "zone_file.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "calendar.h"
#include "zone_rule.h"

/* A version 2 file:
 *
 *     header  block with 4-byte times   (for old readers; skipped)
 *     header  block with 8-byte times
 *     '\n' rule '\n'
 *
 *     block = times[timecnt] types[timecnt] infos[typecnt] names[charcnt]
 *             leaps[leapcnt] isstd[isstdcnt] isut[isutcnt]
 */
enum {
    HEADER_SIZE = 44,
    INFO_SIZE = 6, /* int32 offset, uint8 summer, uint8 name */
    OFFSET_LIMIT_S = 26 * 3600,
    TIMES_LIMIT = 4096,
    RULE_SIZE = 128,
};

struct header {
    uint32_t isut, isstd, leaps, times, types, names;
};

struct table {
    int32_t count, room;
    struct zone_span *spans;
};

static uint64_t big_endian(const unsigned char *p, int bytes)
{
    uint64_t value = 0;
    for (int i = 0; i < bytes; i++)
        value = value << 8 | p[i];
    return value;
}

static bool read_header(const unsigned char *p, size_t size, struct header *header)
{
    if (size < HEADER_SIZE || memcmp(p, "TZif", 4) != 0 || p[4] < '2')
        return false;
    uint32_t counts[6];
    for (int i = 0; i < 6; i++) {
        counts[i] = (uint32_t)big_endian(p + 20 + 4 * i, 4);
        if (counts[i] > TIMES_LIMIT)
            return false;
    }
    *header = (struct header){ counts[0], counts[1], counts[2], counts[3], counts[4], counts[5] };
    return header->types > 0;
}

static size_t block_size(const struct header *h, size_t time_size)
{
    return h->times * (time_size + 1) + h->types * (size_t)INFO_SIZE + h->names + h->leaps * (time_size + 4) +
           h->isstd + h->isut;
}

/* Spans come in order of time; one of no length gives way to its successor. */
static int add_span(struct table *table, int64_t from_s, int32_t offset_s)
{
    if (offset_s < -OFFSET_LIMIT_S || offset_s > OFFSET_LIMIT_S)
        return -1;
    if (table->count > 0) {
        struct zone_span *last = &table->spans[table->count - 1];
        if (from_s < last->from_s)
            return -1;
        if (from_s == last->from_s)
            last->offset_s = offset_s;
        if (offset_s == last->offset_s)
            return 0;
    }
    if (table->count == table->room)
        return -1;
    table->spans[table->count++] = (struct zone_span){ from_s, offset_s };
    return 0;
}

static int add_table(struct table *table, const unsigned char *block, const struct header *h)
{
    const unsigned char *types = block + h->times * (size_t)8;
    const unsigned char *infos = types + h->times;
    if (add_span(table, INT64_MIN, (int32_t)big_endian(infos, 4)) < 0)
        return -1;
    for (uint32_t i = 0; i < h->times; i++) {
        if (types[i] >= h->types)
            return -1;
        int32_t offset_s = (int32_t)big_endian(infos + types[i] * (size_t)INFO_SIZE, 4);
        if (add_span(table, (int64_t)big_endian(block + i * (size_t)8, 8), offset_s) < 0)
            return -1;
    }
    return 0;
}

/* Writes the rule out, from the last transition of the table on. */
static int add_rule(struct table *table, const struct zone_rule *rule, int64_t last_s)
{
    if (!rule->changes)
        return add_span(table, last_s, rule->standard_s);
    int32_t year, month, day;
    civil_date(last_s / 86400, &year, &month, &day);
    for (year--; year <= ZONE_LAST_YEAR; year++) {
        struct zone_span change[2] = {
            { zone_change_at(&rule->to_summer, year, rule->standard_s), rule->summer_s },
            { zone_change_at(&rule->to_standard, year, rule->summer_s), rule->standard_s },
        };
        int first = change[0].from_s <= change[1].from_s ? 0 : 1;
        for (int i = 0; i < 2; i++) {
            const struct zone_span *next = &change[i ^ first];
            if (next->from_s > last_s && add_span(table, next->from_s, next->offset_s) < 0)
                return -1;
        }
    }
    return 0;
}

static int read_rule(const unsigned char *foot, size_t size, struct zone_rule *rule, bool *empty)
{
    char text[RULE_SIZE];
    const unsigned char *end = size > 1 && foot[0] == '\n' ? memchr(foot + 1, '\n', size - 1) : NULL;
    if (!end || end - foot > RULE_SIZE)
        return -1;
    size_t length = (size_t)(end - foot) - 1;
    memcpy(text, foot + 1, length);
    text[length] = '\0';
    *empty = length == 0;
    return *empty ? 0 : zone_rule_read(rule, text);
}

static int fill_table(struct table *table, const unsigned char *block, const struct header *h,
                      const struct zone_rule *rule, bool empty)
{
    if (add_table(table, block, h) < 0)
        return -1;
    int64_t last_s = h->times ? (int64_t)big_endian(block + (h->times - 1) * (size_t)8, 8) : 0;
    if (last_s < 0) /* no transition since 1970: the rule need not be written out before */
        last_s = 0;
    if (empty || last_s >= civil_day_number(ZONE_LAST_YEAR, 1, 1) * 86400)
        return 0;
    return add_rule(table, rule, last_s);
}

int32_t zone_file_read(const unsigned char *bytes, size_t size, struct zone_span **spans)
{
    struct header first, second;
    struct zone_rule rule = { 0 };
    bool empty = true;
    if (!read_header(bytes, size, &first) || size - HEADER_SIZE < block_size(&first, 4))
        return -1;
    size_t at = HEADER_SIZE + block_size(&first, 4);
    if (!read_header(bytes + at, size - at, &second) || size - at - HEADER_SIZE < block_size(&second, 8))
        return -1;
    const unsigned char *block = bytes + at + HEADER_SIZE;
    at += HEADER_SIZE + block_size(&second, 8);
    if (read_rule(bytes + at, size - at, &rule, &empty) < 0)
        return -1;

    int32_t room = (int32_t)second.times + 2 * (ZONE_LAST_YEAR - 1969 + 2);
    struct table table = { .room = room, .spans = calloc((size_t)room, sizeof *table.spans) };
    if (!table.spans || fill_table(&table, block, &second, &rule, empty) < 0) {
        free(table.spans);
        return -1;
    }
    *spans = table.spans;
    return table.count;
}
