/* More corrections over one day than the record applies. */
#include <stdlib.h>

#include "logbook_value.h"

#define DAY_S INT64_C(86400)

/* UTC days that an entry may correct, both included. An exchange is dated by who made it. */
struct days {
    int64_t first, last;
};

static bool corrects(const struct logbook_entry *entry, struct days *days)
{
    const int64_t *number = entry->number;
    if (entry->refused || entry->revoked)
        return false;
    if (entry->kind == LOGBOOK_CORRECT)
        *days = (struct days){ number[LOGBOOK_FROM] / DAY_S, (number[LOGBOOK_TO] - 1) / DAY_S };
    else if (entry->kind == LOGBOOK_EXCHANGE && entry->meter)
        *days = (struct days){ entry->at_s / DAY_S - 1, entry->at_s / DAY_S + 1 };
    else
        return false;
    return true;
}

/* Most entries cover a day on which one of them begins: only those days are counted. */
struct begin {
    int64_t day;
    int32_t count;
};

static int compare(const void *a, const void *b)
{
    const struct begin *left = a, *right = b;
    return left->day < right->day ? -1 : left->day > right->day;
}

/* Counts the days in; false where one has as many as there may be. */
static bool take(struct begin *begins, int32_t count, const struct days *days)
{
    int32_t first = 0, end;
    while (first < count && begins[first].day < days->first)
        first++;
    for (end = first; end < count && begins[end].day <= days->last; end++)
        if (begins[end].count == LOGBOOK_MOST_CORRECTIONS)
            return false;
    for (int32_t i = first; i < end; i++)
        begins[i].count++;
    return true;
}

bool logbook_refuse_most(struct logbook *logbook, void (*say)(void *self, const struct logbook_entry *entry),
                         void *self)
{
    struct days days;
    int32_t count = 0;
    struct begin *begins = malloc(((size_t)logbook->count + 1) * sizeof *begins);
    if (!begins)
        return false;
    for (int32_t i = 0; i < logbook->count; i++)
        if (corrects(&logbook->entries[i], &days))
            begins[count++] = (struct begin){ days.first, 0 };
    qsort(begins, (size_t)count, sizeof *begins, compare);
    for (int32_t i = 0; i < logbook->count && count > LOGBOOK_MOST_CORRECTIONS; i++) {
        struct logbook_entry *entry = &logbook->entries[i];
        if (!corrects(entry, &days) || take(begins, count, &days))
            continue;
        entry->refused = true;
        say(self, entry);
    }
    free(begins);
    return true;
}
