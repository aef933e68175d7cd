#include <stdio.h>
#include <stdlib.h>

#include "civil.h"
#include "salvage_rows.h"
#include "store.h"

struct one_day {
    int32_t meter, interval_s;
    int64_t day, from_s, to_s;
};

struct day_list {
    struct one_day *days;
    int32_t count, room;
    bool failed;
};

static void add_day(struct day_list *list, struct one_day day)
{
    if (list->count == list->room) {
        int32_t room = list->room ? 2 * list->room : 256;
        struct one_day *more = realloc(list->days, (size_t)room * sizeof(*more));
        if (!more) {
            list->failed = true;
            return;
        }
        list->days = more;
        list->room = room;
    }
    list->days[list->count++] = day;
}

/* Day rows may not be the sum of the intervals that are there, and their curves follow from these: all are
 * made anew. */
static void find_closed(struct salvage *salvage, struct day_list *list)
{
    static const char sql[] = "SELECT id, from_s, to_s, expected FROM day WHERE expected > 0 AND to_s - "
                              "from_s BETWEEN expected AND 172800";
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(salvage->into, sql, -1, &statement, NULL) != SQLITE_OK) {
        salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
        return;
    }
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int64_t id = sqlite3_column_int64(statement, 0), from_s = sqlite3_column_int64(statement, 1);
        int64_t to_s = sqlite3_column_int64(statement, 2), expected = sqlite3_column_int64(statement, 3);
        add_day(list, (struct one_day){ (int32_t)(id % 1024), (int32_t)((to_s - from_s) / expected),
                                        id / 1024, from_s, to_s });
    }
    sqlite3_finalize(statement);
}

/* Days that are over for a meter and have no row. */
static void find_lost(struct salvage *salvage, const struct civil *civil, struct day_list *list)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(
            salvage->into,
            "SELECT id % 1024, min(id) / 1024, max(id) / 1024 FROM interval GROUP BY id % 1024", -1,
            &statement, NULL) != SQLITE_OK) {
        salvage_fail(salvage, "%s", sqlite3_errmsg(salvage->into));
        return;
    }
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int32_t meter = sqlite3_column_int(statement, 0);
        int64_t first_s = sqlite3_column_int64(statement, 1), last_s = sqlite3_column_int64(statement, 2);
        for (int64_t day = civil_day_of(civil, first_s);; day++) {
            int64_t from_s = civil_day_start(civil, day), to_s = civil_day_start(civil, day + 1);
            int32_t length = salvage_interval(salvage, to_s - 1);
            if (last_s + length < to_s)
                break;
            if (to_s > from_s &&
                salvage_ask(salvage, "SELECT 1 FROM day WHERE id = ?1 * 1024 + ?2", day, meter, 0, 0) == 0)
                add_day(list, (struct one_day){ meter, length, day, from_s, to_s });
        }
    }
    sqlite3_finalize(statement);
}

static bool close_days(struct salvage *salvage, const char *path, const struct day_list *list)
{
    struct store *store;
    char why[256];
    if (store_open(&store, path, why) != STORE_OK)
        return salvage_fail(salvage, "%.180s", why);
    int result = store_begin(store);
    for (int32_t i = 0; i < list->count && result == STORE_OK; i++) {
        const struct one_day *day = &list->days[i];
        result = store_close_day(store, day->meter, day->day, day->from_s, day->to_s, day->interval_s);
    }
    if (result == STORE_OK)
        result = store_commit(store);
    if (result != STORE_OK)
        salvage_fail(salvage, "%.180s", store_why(store));
    store_close(store);
    return result == STORE_OK;
}

bool salvage_find_days(struct salvage *salvage, const struct civil *civil, struct day_list **out)
{
    struct day_list *list = calloc(1, sizeof(*list));
    if (list) {
        find_closed(salvage, list);
        if (civil)
            find_lost(salvage, civil, list);
    }
    *out = list;
    return list && !list->failed ? !salvage->why[0] : salvage_fail(salvage, "out of memory");
}

bool salvage_close_days(struct salvage *salvage, const char *path, struct day_list *list)
{
    bool good = !path || !list || list->count == 0 || close_days(salvage, path, list);
    if (list)
        free(list->days);
    free(list);
    return good;
}
