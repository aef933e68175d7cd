#include "refine.h"

#include "arrangement.h"
#include "fill.h"
#include "refine_private.h"

/* A whole row of a gap that is not placed yet: unobserved from end to end. */
#define UNSHAPED "(how & 15) = 2 AND (how & 1152) = 0 AND unobserved >= ?3 "

static const char *const sql[REFINE_STATEMENT_COUNT] = {
    [FIND_GAP] = "SELECT id / 1024 FROM interval WHERE id >= ?2 * 1024 AND id % 1024 = ?1 AND " UNSHAPED
                 "ORDER BY id LIMIT 1",
    [END_GAP] = "SELECT id / 1024 FROM interval WHERE id >= ?2 * 1024 AND id % 1024 = ?1 AND NOT (" UNSHAPED
                ") ORDER BY id LIMIT 1",
    [GAP_SUM] = "SELECT sum(import), sum(export), count(*) FROM interval WHERE id >= ?2 * 1024 AND id < ?3 * "
                "1024 AND id % 1024 = ?1",
    [ENTERED_SUM] =
        "SELECT sum(import), sum(export), count(*) FROM interval WHERE id >= ?2 * 1024 AND id < ?3 * 1024 "
        "AND id % 1024 = ?1 AND (how & 15) IN (4, 5) AND (how & 1024) = 0 AND unobserved >= ?4",
    [ONE_ROW] = "SELECT import, export, estimated, unobserved, how FROM interval WHERE id = ?1",
    [PLACE_ROW] = "UPDATE interval SET import = CASE WHEN import IS NOT NULL THEN ?2 END, "
                  "export = CASE WHEN export IS NOT NULL THEN ?3 END, estimated = ?2 + ?3, how = how | ?4 "
                  "WHERE id = ?1",
    [KEEP_ANCHOR] = "UPDATE run SET anchor = anchor + coalesce((SELECT sum(CASE run.counter WHEN 0 THEN "
                    "import ELSE export END) "
                    "FROM interval WHERE id >= run.anchor_s * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1), "
                    "0), anchor_s = ?3 "
                    "WHERE meter = ?1 AND counter < 2 AND ended IS NULL AND anchor_s > ?2 AND anchor_s < ?3",
    [DROP_DERIVED] = "DELETE FROM interval WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [SHIFT_ANCHOR] = "UPDATE run SET anchor = anchor + ?4 WHERE meter = ?1 AND counter = ?2 AND ended IS "
                     "NULL AND base_s < ?3 AND anchor_s >= ?3",
    [UNPLACED] =
        "SELECT 1 FROM interval WHERE id >= ?4 * 1024 AND id < ?2 * 1024 AND id % 1024 = ?1 AND " UNSHAPED
        "LIMIT 1",
    [HAS_DAY] = "SELECT 1 FROM day WHERE id = ?1",
};

int refine_init(struct refine *refine, struct store *store, const struct config *config,
                const struct civil *civil)
{
    *refine = (struct refine){ .store = store, .config = config, .civil = civil };
    for (int i = 0; i < REFINE_STATEMENT_COUNT; i++) {
        int code = sqlite3_prepare_v2(store->db, sql[i], -1, &refine->statements[i], NULL);
        if (code != SQLITE_OK)
            return store_fail(store, code);
    }
    return STORE_OK;
}

void refine_finish(struct refine *refine)
{
    for (int i = 0; i < REFINE_STATEMENT_COUNT; i++)
        sqlite3_finalize(refine->statements[i]);
    *refine = (struct refine){ 0 };
}

sqlite3_stmt *refine_statement(struct refine *refine, enum refine_statement which, const int64_t values[],
                               int count)
{
    sqlite3_stmt *s = refine->statements[which];
    sqlite3_reset(s);
    for (int i = 0; i < count; i++)
        sqlite3_bind_int64(s, i + 1, values[i]);
    return s;
}

int refine_fetch(struct refine *refine, enum refine_statement which, const int64_t values[], int count,
                 int64_t *result)
{
    sqlite3_stmt *s = refine_statement(refine, which, values, count);
    int found = store_fetch(refine->store, s);
    if (found == 1 && result)
        *result = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return found;
}

/* Is production over the gap still to be placed, or not there yet? 1, 0 or a failure. */
static int must_wait(struct refine *refine, const struct gap *gap)
{
    for (int32_t i = 0; i < refine->config->meter_count; i++) {
        const struct config_meter *meter = &refine->config->meters[i];
        int64_t newest_s;
        if (!arrangement_produces(refine->config, meter))
            continue;
        int result = store_newest(refine->store, meter->number, refine_interval_s(refine), &newest_s);
        if (result < 0 || newest_s < gap->to_s)
            return result < 0 ? result : 1;
        const int64_t values[4] = { meter->number, gap->to_s, refine_interval_s(refine), gap->from_s };
        result = refine_fetch(refine, UNPLACED, values, 4, NULL);
        if (result != 0)
            return result;
    }
    return 0;
}

/* Is what follows a gap in the record too? 1, 0 or a failure. */
static int is_settled(struct refine *refine, const struct gap *gap)
{
    int64_t newest_s, end_s = gap->to_s + FILL_END_S + refine_interval_s(refine);
    int result = store_newest(refine->store, gap->number, refine_interval_s(refine), &newest_s);
    return result < 0 ? result : newest_s >= end_s;
}

/* The gap's energies, where it has all its rows. Returns 1, 0 or a failure. */
static int read_sums(struct refine *refine, enum refine_statement which, struct gap *gap)
{
    const int64_t values[4] = { gap->number, gap->from_s, gap->to_s, refine_interval_s(refine) };
    sqlite3_stmt *s = refine_statement(refine, which, values, which == GAP_SUM ? 3 : 4);
    int result = store_fetch(refine->store, s);
    if (result != 1)
        return result;
    for (int c = 0; c < 2; c++)
        gap->energy[c] = sqlite3_column_int64(s, c);
    bool whole = sqlite3_column_int64(s, 2) == (gap->to_s - gap->from_s) / refine_interval_s(refine);
    sqlite3_reset(s);
    return whole;
}

/* The oldest gap from *from_s on that is over. Returns 1, 0 or a failure. */
static int find_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct gap *gap)
{
    *gap = (struct gap){ .meter = meter, .number = refine->config->meters[meter].number };
    int64_t values[3] = { gap->number, *from_s, refine_interval_s(refine) };
    int result = refine_fetch(refine, FIND_GAP, values, 3, &gap->from_s);
    if (result != 1) {
        int64_t newest_s;
        if (result == 0 &&
            store_newest(refine->store, gap->number, refine_interval_s(refine), &newest_s) == STORE_OK)
            *from_s = newest_s > *from_s ? newest_s : *from_s;
        return result;
    }
    *from_s = values[1] = gap->from_s;
    result = refine_fetch(refine, END_GAP, values, 3, &gap->to_s);
    if (result != 1)
        return result;
    result = read_sums(refine, GAP_SUM, gap);
    if (result == 0)
        *from_s = gap->to_s; /* a hole inside: somebody else's rows, or an interval of another length */
    return result;
}

static int place_at_once(struct refine *refine, const struct gap *gap, struct refined *done)
{
    int result = store_begin(refine->store);
    if (result == STORE_OK)
        result = refine_place(refine, gap, done);
    if (result == STORE_OK)
        result = store_commit(refine->store);
    if (result != STORE_OK)
        store_rollback(refine->store);
    return result;
}

int refine_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct refined *done)
{
    struct gap gap;
    *done = (struct refined){ 0 };
    int result = find_gap(refine, meter, from_s, &gap);
    if (result == 1)
        result = is_settled(refine, &gap);
    if (result != 1)
        return result;
    if (refine->config->meters[meter].role == ROLE_GRID) {
        int waits = must_wait(refine, &gap);
        if (waits != 0)
            return waits < 0 ? waits : 0;
    }
    result = place_at_once(refine, &gap, done);
    if (result != STORE_OK)
        return result;
    done->from_s = gap.from_s;
    done->to_s = *from_s = gap.to_s;
    return 1;
}

int refine_entered(struct refine *refine, int32_t meter, int64_t from_s, int64_t to_s)
{
    struct refined done = { 0 };
    struct gap gap = {
        .meter = meter, .number = refine->config->meters[meter].number, .from_s = from_s, .to_s = to_s
    };
    int result = read_sums(refine, ENTERED_SUM, &gap);
    if (result != 1)
        return result;
    result = place_at_once(refine, &gap, &done);
    return result == STORE_OK ? 1 : result;
}
