/* The statements of finding and placing gaps. */
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
