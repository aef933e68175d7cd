#include "redate.h"

#include <stdio.h>
#include <string.h>

#include "date.h"
#include "redate_private.h"

/* A clock that runs on without the network drifts; more than this is a step. */
#define DRIFT_PPM 500

sqlite3_stmt *redate_bind(struct redate *redate, enum redate_statement which, const int64_t values[],
                          int count)
{
    sqlite3_stmt *s = redate->statements[which];
    sqlite3_reset(s);
    for (int i = 0; i < count; i++)
        store_bind(s, i + 1, values[i]);
    return s;
}

int redate_stretch(struct redate *redate, bool on, int64_t than_ms, struct stretch *stretch)
{
    sqlite3_stmt *s = redate_bind(redate, on ? REDATE_CLOCK_ON : REDATE_CLOCK_BACK, &than_ms, 1);
    int found = store_fetch(redate->store, s);
    if (found != 1)
        return found;
    snprintf(stretch->boot, sizeof stretch->boot, "%s", (const char *)sqlite3_column_text(s, 0));
    snprintf(stretch->source, sizeof stretch->source, "%s", (const char *)sqlite3_column_text(s, 1));
    stretch->from_ms = sqlite3_column_int64(s, 2);
    stretch->offset_ms = sqlite3_column_int64(s, 3);
    stretch->after_s = sqlite3_column_int64(s, 4);
    stretch->start_ms = stretch->from_ms + stretch->offset_ms;
    sqlite3_reset(s);
    return 1;
}

static bool own(const struct redate *redate, const struct stretch *stretch)
{
    return strcmp(stretch->boot, redate->clock->boot) == 0;
}

/* Of two that are as good, but for the network, the later is believed: a person may have been wrong. */
static bool worse(const struct redate *redate, const struct stretch *stretch)
{
    int rank = date_rank(redate->clock->source), other = date_rank(stretch->source);
    return other > rank || (other == rank && rank > 1 && stretch->offset_ms != redate->clock->offset_ms);
}

static bool by_battery(const struct stretch *stretch)
{
    return strcmp(stretch->source, "battery") == 0;
}

int64_t redate_step(const struct redate *redate, const struct stretch *stretch)
{
    return own(redate, stretch) ? redate->clock->offset_ms - stretch->offset_ms : redate->battery_step_ms;
}

bool redate_drifts(const struct redate *redate, const struct stretch *stretch)
{
    int64_t passed = redate->clock->boot_ms - stretch->from_ms, step = redate_step(redate, stretch);
    return own(redate, stretch) && strcmp(stretch->source, "holdover") == 0 &&
           (step < 0 ? -step : step) <= redate->length_ms + passed / 1000000 * DRIFT_PPM;
}

bool redate_places(const struct redate *redate, const struct stretch *stretch)
{
    if (redate->partly && stretch->start_ms == redate->first_ms)
        return false;
    return own(redate, stretch) || (by_battery(stretch) && redate->battery_known);
}

/* Takes one stretch more, the newest that is not taken; rows of it end at end_ms.
 * Returns false where those before it stay. */
static bool take(struct redate *redate, const struct stretch *stretch, int64_t end_ms)
{
    int64_t ahead_ms = end_ms - redate->now_ms, limit_ms = redate->now_ms - ahead_ms;
    bool network = date_rank(redate->clock->source) == 0;
    bool is_false = network && ahead_ms > redate->length_ms, whole;
    if (own(redate, stretch) && worse(redate, stretch)) {
        whole = true;
        redate->battery_known = redate->battery_known || by_battery(stretch);
        if (by_battery(stretch))
            redate->battery_step_ms = redate_step(redate, stretch);
    } else if (by_battery(stretch) && redate->battery_known) {
        whole = true;
    } else if (is_false) {
        whole = stretch->start_ms >= limit_ms;
    } else {
        return false;
    }
    redate->any = true;
    redate->partly = !whole;
    redate->first_ms = stretch->start_ms;
    redate->from_s = stretch->after_s;
    if (!whole && limit_ms > stretch->after_s * 1000)
        redate->from_s = limit_ms / redate->length_ms * redate->clock->interval_s;
    return whole;
}

/* Walks back over the stretches that are wrong. */
static int look_back(struct redate *redate, int64_t *stays_s)
{
    struct stretch stretch;
    int64_t end_s, than_ms = INT64_MAX;
    int result = store_newest(redate->store, 0, redate->clock->interval_s, &end_s);
    if (result != STORE_OK)
        return result;
    while ((result = redate_stretch(redate, false, than_ms, &stretch)) == 1 &&
           take(redate, &stretch, end_s * 1000)) {
        than_ms = stretch.start_ms;
        end_s = stretch.after_s;
    }
    *stays_s = redate->any ? redate->from_s : end_s;
    return result < 0 ? result : STORE_OK;
}

/* Which stretch dated an instant, and which is the next. */
static int look_up(struct redate *redate, int64_t label_ms)
{
    if (redate->cached && label_ms >= redate->now.start_ms &&
        (!redate->has_next || label_ms < redate->next.start_ms))
        return 1;
    int result = redate_stretch(redate, false, label_ms + 1, &redate->now);
    redate->cached = result == 1;
    if (result != 1)
        return result;
    result = redate_stretch(redate, true, label_ms, &redate->next);
    redate->has_next = result == 1;
    redate->cached = result >= 0;
    return result < 0 ? result : 1;
}

int redate_instant(struct redate *redate, int64_t label_ms, int64_t *right_ms)
{
    int result = look_up(redate, label_ms);
    const struct stretch *now = &redate->now, *next = redate->has_next ? &redate->next : NULL;
    if (result != 1 || now->start_ms < redate->first_ms || !redate_places(redate, now))
        return result < 0 ? result : 0;
    /* Behind the last row of a boot that ended: only a gap lies there. */
    if (next && strcmp(next->boot, now->boot) != 0 && label_ms > next->after_s * 1000)
        return 0;
    int64_t step = redate_step(redate, now);
    if (redate_drifts(redate, now)) {
        int64_t passed = redate->clock->boot_ms + now->offset_ms - now->start_ms;
        step = passed > 0 ? (int64_t)((double)step * (double)(label_ms - now->start_ms) / (double)passed) : 0;
    }
    if (label_ms + step > redate->now_ms)
        return 0;
    *right_ms = label_ms + step;
    return 1;
}

#define CLOCK_ROW    "SELECT boot, source, from_ms, offset_ms, after_s FROM clock WHERE from_ms + offset_ms "
#define OLD_OF_METER "WHERE id < 0 AND -id % 1024 = ?1 "
#define OF_RUNS      "meter = ?1 AND counter BETWEEN ?2 AND ?3 "

/* Starts of the first and the last row of three tables. */
#define SPAN_OF(table, id, where)                                                                            \
    "SELECT min(" id ") / 1024 AS t FROM " table " WHERE " where " UNION ALL SELECT max(" id                 \
    ") / 1024 FROM " table " WHERE " where
#define ROWS_SPAN(id, where)                                                                                 \
    "SELECT min(t), max(t) FROM (" SPAN_OF("interval", id, where) " UNION ALL " SPAN_OF(                     \
        "energy", id, where) " UNION ALL " SPAN_OF("momentary", id, where) ")"

static const char *const sql[REDATE_STATEMENTS] = {
    [REDATE_CLOCK_BACK] = CLOCK_ROW "< ?1 ORDER BY from_ms + offset_ms DESC LIMIT 1",
    [REDATE_CLOCK_ON] = CLOCK_ROW "> ?1 ORDER BY from_ms + offset_ms LIMIT 1",
    [REDATE_CLOCK_UNTIL] = "SELECT min(from_ms) FROM clock WHERE boot = ?2 AND from_ms > ?1",
    [REDATE_DROP_CLOCK] = "DELETE FROM clock WHERE boot = ?2 AND from_ms = ?1",
    [REDATE_MOVE_CLOCK] = "UPDATE clock SET offset_ms = offset_ms + ?2, after_s = after_s + ?3 "
                          "WHERE boot = ?4 AND from_ms = ?1",
    [REDATE_MOVE_EVENTS] = "UPDATE event SET at_ms = at_ms + ?3 "
                           "WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < ?2",
    [REDATE_UNDATE_EVENTS] = "UPDATE event SET at_ms = NULL WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < "
                             "?2 AND at_ms >= ?3",
    [REDATE_MOVE_SETTINGS] = "UPDATE setting SET from_ms = from_ms + ?3 "
                             "WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms < ?2",
    [REDATE_CLAMP_SETTINGS] = "UPDATE setting SET from_ms = ?3 WHERE boot = ?4 AND boot_ms >= ?1 AND boot_ms "
                              "< ?2 AND from_ms > ?3",
    [REDATE_ROWS_SPAN] = ROWS_SPAN("id", "id >= ?1 * 1024"),
    [REDATE_OLD_SPAN] = ROWS_SPAN("-id", "id < 0"),
    /* Rows taken back stand under their negative key until the transaction ends. */
    [REDATE_TAKE] = "UPDATE interval SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_TAKE + 1] = "UPDATE energy SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_TAKE + 2] = "UPDATE momentary SET id = -id WHERE id >= ?1 * 1024 AND id < ?2 * 1024",
    [REDATE_NEXT_METER] = "SELECT min(m) FROM (SELECT -id % 1024 AS m FROM interval WHERE id < 0 UNION "
                          "SELECT -id % 1024 FROM energy WHERE id < 0) WHERE m > ?1",
    [REDATE_FIRST_BASE] = "SELECT min(base_s) FROM run WHERE " OF_RUNS,
    [REDATE_OLD_ROWS] = "SELECT -id, estimated, unobserved, how, import, export FROM interval " OLD_OF_METER
                        "ORDER BY id DESC",
    [REDATE_OLD_ROWS + 1] = "SELECT -id, 0, unobserved, how, reactive_import, reactive_export, "
                            "apparent_import, apparent_export FROM energy " OLD_OF_METER "ORDER BY id DESC",
    [REDATE_ADD_ROW] = "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, "
                       "power_min, power_max, voltage) SELECT ?1, ?6, ?7, ?3, ?4, ?5, power, power_min, "
                       "power_max, voltage FROM (SELECT 1) LEFT JOIN interval ON id = -?2",
    [REDATE_ADD_ROW + 1] = "INSERT INTO energy(id, reactive_import, reactive_export, apparent_import, "
                           "apparent_export, unobserved, how) VALUES(?1, ?6, ?7, ?8, ?9, ?4, ?5)",
    [REDATE_ADD_HELD] =
        "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, "
        "power_max, voltage) SELECT ?1, ?6, ?7, ?3, ?4, ?5, power, power_min, power_max, "
        "voltage FROM (SELECT 1) LEFT JOIN held ON id = ?2",
    [REDATE_MOVE_MOMENTARY] = "UPDATE OR IGNORE momentary SET id = ?1 WHERE id = -?2",
    /* Derived: inside each row its import less its export is what the sides say, neither more than they have.
     */
    [REDATE_NEXT_WEATHER] =
        "SELECT min(m) FROM (SELECT -id % 1024 AS m FROM momentary WHERE id < 0) WHERE m > ?1 AND m NOT IN "
        "(SELECT -id % 1024 FROM interval WHERE id < 0)",
    [REDATE_NEXT_MOMENTARY] = "SELECT max(id) FROM momentary WHERE id < 0 AND id < ?1 AND -id % 1024 = ?2",
    [REDATE_NET] = STORE_SIDES ", sums AS (" STORE_SIDE_SUMS
                               ") UPDATE interval SET import = min(max(import, 0, c - p), c), "
                               "export = min(max(import, 0, c - p), c) - (c - p), "
                               "estimated = min(estimated, 2 * min(max(import, 0, c - p), c) - (c - p)) "
                               "FROM sums WHERE id = start * 1024 + 1023",
    [REDATE_DROP_NETTED] = STORE_SIDES ", sums AS (" STORE_SIDE_SUMS
                                       ") DELETE FROM interval WHERE id >= ?1 * 1024 AND id % 1024 = 1023 "
                                       "AND id / 1024 NOT IN (SELECT start FROM sums)",
    [REDATE_SUM_OLD] = "SELECT sum(import), sum(export) FROM interval " OLD_OF_METER "AND id > -?2 * 1024",
    [REDATE_SUM_OLD + 1] = "SELECT sum(reactive_import), sum(reactive_export), sum(apparent_import), "
                           "sum(apparent_export) FROM energy " OLD_OF_METER "AND id > -?2 * 1024",
    [REDATE_NEXT_RUN] = "SELECT id, counter, base_s, anchor_s, from_ms, to_ms FROM run WHERE " OF_RUNS
                        "AND id > ?4 AND (base_s >= ?5 OR anchor_s >= ?5 OR from_ms >= ?5 * 1000 OR to_ms >= "
                        "?5 * 1000) ORDER BY id LIMIT 1",
    [REDATE_MOVE_RUN] = "UPDATE run SET base_s = ?2, base = base + ?3, anchor_s = ?4, anchor = anchor + ?5, "
                        "from_ms = ?6, to_ms = ?7 WHERE id = ?1",
    [REDATE_DROP_DAYS] = "DELETE FROM day WHERE id % 1024 = ?1 AND to_s > ?2 AND from_s < ?3",
    [REDATE_DROP_CORRECTED] = "DELETE FROM corrected WHERE id >= ?1 * 1024",
    [REDATE_DROP_CORRECTED + 1] = "DELETE FROM corrected_day WHERE to_s > ?1",
    /* Held rows of a boot. */
    [REDATE_HELD_METER] = "SELECT min(meter) FROM held WHERE meter > ?1 AND boot = ?2",
    [REDATE_HELD_POINTS] =
        "SELECT ms, counter, account, shift, unobserved, id, value, raw, step FROM held "
        "WHERE meter = ?1 AND counter BETWEEN ?2 AND ?3 AND boot = ?4 ORDER BY ms, counter",
    [REDATE_HELD_SPAN] = "SELECT min(ms), max(ms) FROM held WHERE ms >= ?1 AND boot = ?2",
    /* Somebody watched, and something flowed, where the boot is said to have been. */
    [REDATE_CONTRADICTS] =
        "SELECT 1 FROM interval WHERE id >= ?1 * 1024 AND id < ?2 * 1024 AND id % 1024 < 1023 "
        "AND unobserved < ?3 AND coalesce(import, 0) + coalesce(export, 0) > 0 LIMIT 1",
    [REDATE_SEEN_BEFORE] =
        "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 AND id <= ?2 * 1024 + 1023 AND "
        "unobserved < ?3 ORDER BY id DESC LIMIT 1",
    [REDATE_SEEN_BEFORE + 1] =
        "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 AND id <= ?2 * 1024 + 1023 AND "
        "unobserved < ?3 ORDER BY id DESC LIMIT 1",
    [REDATE_SEEN_AFTER] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 AND id >= ?2 * 1024 AND "
                          "unobserved < ?3 ORDER BY id LIMIT 1",
    [REDATE_SEEN_AFTER + 1] = "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 AND id >= ?2 * 1024 AND "
                              "unobserved < ?3 ORDER BY id LIMIT 1",
    [REDATE_ROWS_END] = "SELECT id / 1024 FROM interval WHERE id % 1024 = ?1 ORDER BY id DESC LIMIT 1",
    [REDATE_ROWS_END + 1] = "SELECT id / 1024 FROM energy WHERE id % 1024 = ?1 ORDER BY id DESC LIMIT 1",
    [REDATE_RUN_SINCE] = "SELECT 1 FROM run WHERE " OF_RUNS "AND base_s > ?4 LIMIT 1",
    [REDATE_FACTOR] = "SELECT max(id) FROM factor WHERE meter = ?1",
    [REDATE_TAKE_GAP] =
        "UPDATE interval SET id = -id WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [REDATE_TAKE_GAP + 1] =
        "UPDATE energy SET id = -id WHERE id >= ?2 * 1024 AND id < ?3 * 1024 AND id % 1024 = ?1",
    [REDATE_DERIVE] = STORE_SIDES
    ", sums AS (" STORE_SIDE_SUMS ") INSERT INTO interval(id, import, export, estimated, unobserved, how) "
    "SELECT start * 1024 + 1023, max(c - p, 0), max(p - c, 0), abs(c - p), 0, 33 "
    "FROM sums WHERE start < ?2",
    [REDATE_SHIFT_DERIVED] =
        "UPDATE run SET anchor = anchor + ?3 WHERE meter = 1023 AND counter = ?1 AND ended "
        "IS NULL AND anchor_s >= ?2",
    [REDATE_DROP_HELD] = "DELETE FROM held WHERE ms >= ?1 AND boot = ?2",
    [REDATE_DROP_OLD] = "DELETE FROM interval WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
    [REDATE_DROP_OLD + 1] = "DELETE FROM energy WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
    [REDATE_DROP_OLD + 2] = "DELETE FROM momentary WHERE id <= -?1 * 1024 AND id > -?2 * 1024",
};

static int prepare(struct redate *redate)
{
    for (int i = 0; i < REDATE_STATEMENTS; i++) {
        int code = sqlite3_prepare_v2(redate->store->db, sql[i], -1, &redate->statements[i], NULL);
        if (code != SQLITE_OK)
            return store_fail(redate->store, code);
    }
    return STORE_OK;
}

int redate_begin(struct redate *redate, struct store *store, const struct redate_clock *clock)
{
    *redate = (struct redate){ .store = store,
                               .clock = clock,
                               .length_ms = clock->interval_s * 1000,
                               .now_ms = clock->boot_ms + clock->offset_ms };
    return prepare(redate);
}

void redate_end(struct redate *redate)
{
    for (int i = 0; i < REDATE_STATEMENTS; i++)
        sqlite3_finalize(redate->statements[i]);
}

int redate_due(struct store *store, const struct redate_clock *clock, int64_t *stays_s)
{
    struct redate redate;
    int result = redate_begin(&redate, store, clock);
    if (result == STORE_OK)
        result = look_back(&redate, stays_s);
    redate_end(&redate);
    return result == STORE_OK ? redate.any : result;
}

int redate_run(struct store *store, const struct redate_clock *clock, struct redated *done)
{
    struct redate redate;
    int64_t stays_s;
    int result = redate_begin(&redate, store, clock);
    if (result == STORE_OK)
        result = look_back(&redate, &stays_s);
    *done = (struct redated){ .clock_from_ms = clock->boot_ms, .from_s = redate.from_s };
    if (result == STORE_OK && redate.any)
        result = redate_rows(&redate, done);
    if (result == STORE_OK && redate.any)
        result = redate_clocks(&redate, done);
    redate_end(&redate);
    return result == STORE_OK ? redate.any : result;
}
