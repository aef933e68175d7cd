/* Makes what was salvaged consistent. The energy of lost rows is known where
 * something counted over them: a closed day has its own row, and a register
 * run knows its account at its base and at its anchor. Only behind the anchor,
 * in the day that was not closed, nothing does: there the rows from the first
 * hole on are taken back, and the collector's next reading closes the span
 * from the last account that is sure. Shape is lost by that, never energy. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "config.h"
#include "salvage_rows.h"
#include "schema.h"

#define FAR_S INT64_C(8000000000000)

struct mend {
    struct salvage *salvage;
    const struct config *config; /* NULL without */
    struct salvage_holes *holes, *tail;
    int64_t first_cut_s; /* earliest instant from which a meter's rows were taken back */
};

/* ---- closed days ---- */

struct day {
    int64_t id, from_s, to_s, rows, expected;
    int64_t sums[6];
};

static bool next_day(sqlite3_stmt *statement, struct day *day)
{
    if (sqlite3_step(statement) != SQLITE_ROW)
        return false;
    int64_t *const fields[] = { &day->id, &day->from_s, &day->to_s, &day->rows, &day->expected };
    for (int32_t i = 0; i < 5; i++)
        *fields[i] = sqlite3_column_int64(statement, i);
    for (int32_t i = 0; i < 6; i++)
        day->sums[i] = sqlite3_column_type(statement, 5 + i) == SQLITE_NULL
                           ? INT64_MIN
                           : sqlite3_column_int64(statement, 5 + i);
    return true;
}

static int64_t count_rows(struct salvage *salvage, const char *table, int64_t from_s, int64_t to_s,
                          int32_t meter)
{
    char sql[160];
    snprintf(sql, sizeof(sql),
             "SELECT count(*) FROM %s WHERE id >= ?1 * 1024 AND id < ?2 * 1024 AND id %% 1024 = ?3", table);
    return salvage_ask(salvage, sql, from_s, to_s, meter, 0);
}

/* Slots without a row in a day, from the meter's beginning on. */
static void holes_of_day(struct mend *mend, const struct salvage_series *series, const struct day *day)
{
    static const char sql[] =
        "SELECT coalesce((SELECT min(base_s) FROM run WHERE meter = ?1), (SELECT min(id) / "
        "1024 FROM interval WHERE id % 1024 = ?1))";
    struct salvage_holes *holes = mend->holes;
    int64_t begin_s = salvage_ask(mend->salvage, sql, day->id % 1024, 0, 0, day->from_s);
    int64_t from_s = begin_s > day->from_s && begin_s < day->to_s ? begin_s : day->from_s;
    int32_t length = (int32_t)((day->to_s - day->from_s) / day->expected);
    salvage_find_holes(mend->salvage, series, (int32_t)(day->id % 1024), from_s, day->to_s, holes);
    if (holes->end_s < day->to_s && holes->count < SERIES_HOLES)
        holes->holes[holes->count++] = (struct salvage_hole){ holes->end_s, day->to_s, length };
    for (int32_t i = 0; i < holes->count; i++)
        holes->holes[i].interval_s = length;
}

static bool mend_day(struct mend *mend, const struct salvage_series *series, const struct day *day)
{
    struct salvage *salvage = mend->salvage;
    int64_t energy[SERIES_COUNTERS] = { 0 }, placed = 0;
    int32_t meter = (int32_t)(day->id % 1024);
    int64_t have = count_rows(salvage, series->table, day->from_s, day->to_s, meter);
    bool counts = false;
    if (have >= day->rows || day->expected < 1 || (day->to_s - day->from_s) % day->expected != 0)
        return true;
    holes_of_day(mend, series, day);
    for (int32_t c = 0; c < series->count; c++) {
        energy[c] = day->sums[series->first + c];
        if (energy[c] == INT64_MIN)
            continue;
        counts = true;
        energy[c] -= salvage_sum(salvage, series, c, meter, day->from_s, day->to_s);
        placed = energy[c] < placed ? energy[c] : placed;
    }
    if (placed < 0)
        salvage_note(salvage, "meter %d: a day and its intervals do not fit together, left as they are",
                     (int)meter);
    return !counts || placed < 0 || mend->holes->more ||
           salvage_fill(salvage, series, meter, mend->holes, energy);
}

static bool mend_days(struct mend *mend)
{
    sqlite3_stmt *statement;
    struct day day;
    bool good = true;
    if (sqlite3_prepare_v2(mend->salvage->into,
                           "SELECT id, from_s, to_s, rows, expected, import, export, reactive_import, "
                           "reactive_export, apparent_import, apparent_export FROM day WHERE to_s > from_s "
                           "AND to_s - from_s < 200000 ORDER BY id",
                           -1, &statement, NULL) != SQLITE_OK)
        return salvage_fail(mend->salvage, "%s", sqlite3_errmsg(mend->salvage->into));
    while (good && next_day(statement, &day))
        for (int32_t s = 0; s < SALVAGE_SERIES && good; s++)
            good = mend_day(mend, &salvage_series[s], &day);
    sqlite3_finalize(statement);
    return good;
}

/* ---- open register runs ---- */

struct open_run {
    int64_t id, base_s, base, anchor_s, anchor; /* id 0: the meter has no such counter */
};

static void read_runs(struct salvage *salvage, const struct salvage_series *series, int32_t meter,
                      struct open_run runs[SERIES_COUNTERS])
{
    static const char *const columns[] = { "id", "base_s", "base", "anchor_s", "anchor" };
    for (int32_t c = 0; c < series->count; c++) {
        int64_t *const fields[] = { &runs[c].id, &runs[c].base_s, &runs[c].base, &runs[c].anchor_s,
                                    &runs[c].anchor };
        for (int32_t i = 0; i < 5; i++) {
            char sql[160];
            snprintf(sql, sizeof(sql),
                     "SELECT %s FROM run WHERE meter = ?1 AND counter = ?2 AND ended IS NULL "
                     "ORDER BY id DESC LIMIT 1",
                     columns[i]);
            *fields[i] = salvage_ask(salvage, sql, meter, series->first + c, 0, 0);
        }
    }
}

static bool change_run(struct salvage *salvage, const char *sql, int64_t id, int64_t a, int64_t b)
{
    salvage_ask(salvage, sql, id, a, b, 0);
    return !salvage->why[0];
}

/* What the rows between base and anchor lack. */
static int64_t lacking(struct salvage *salvage, const struct salvage_series *series, int32_t c, int32_t meter,
                       const struct open_run *run)
{
    return run->anchor - run->base - salvage_sum(salvage, series, c, meter, run->base_s, run->anchor_s);
}

/* The rows end before the anchor and are whole up to there: it goes back to their end. */
static bool move_anchors_back(struct mend *mend, const struct salvage_series *series, int32_t meter,
                              const struct open_run *runs, int64_t end_s)
{
    bool good = true;
    for (int32_t c = 0; c < series->count && good; c++) {
        const struct open_run *run = &runs[c];
        int64_t to_s = end_s > run->base_s ? end_s : run->base_s;
        if (run->id == 0 || to_s >= run->anchor_s)
            continue;
        int64_t account = run->base + salvage_sum(mend->salvage, series, c, meter, run->base_s, to_s);
        good = change_run(mend->salvage, "UPDATE run SET anchor_s = ?2, anchor = ?3 WHERE id = ?1", run->id,
                          to_s, account);
    }
    return good;
}

static bool fill_up_to_anchor(struct mend *mend, const struct salvage_series *series, int32_t meter,
                              const struct open_run *runs)
{
    struct salvage *salvage = mend->salvage;
    int64_t energy[SERIES_COUNTERS] = { 0 }, least = 0;
    for (int32_t c = 0; c < series->count; c++) {
        energy[c] = runs[c].id == 0 ? INT64_MIN : lacking(salvage, series, c, meter, &runs[c]);
        if (runs[c].id != 0 && energy[c] < least)
            least = energy[c];
    }
    if (mend->holes->count > 0 && least >= 0 && !mend->holes->more)
        return salvage_fill(salvage, series, meter, mend->holes, energy);
    bool good = true;
    for (int32_t c = 0; c < series->count && good; c++)
        if (runs[c].id != 0 && energy[c] != 0) {
            salvage_note(salvage, "meter %d: the base of a register run did not fit its anchor, moved",
                         (int)meter);
            good = change_run(salvage, "UPDATE run SET base = base + ?2 WHERE id = ?1", runs[c].id, energy[c],
                              0);
        }
    return good;
}

/* Takes back a meter's rows from an instant on. */
static bool cut(struct mend *mend, const struct salvage_series *series, int32_t meter, int64_t from_s)
{
    char sql[160];
    struct salvage *salvage = mend->salvage;
    int64_t rows = count_rows(salvage, series->table, from_s, FAR_S, meter);
    snprintf(sql, sizeof(sql), "DELETE FROM %s WHERE id >= ?1 * 1024 AND id %% 1024 = ?2", series->table);
    salvage_ask(salvage, sql, from_s, meter, 0, 0);
    if (!series->estimates)
        return !salvage->why[0];
    salvage_ask(salvage, "DELETE FROM momentary WHERE id >= ?1 * 1024 AND id % 1024 = ?2", from_s, meter, 0,
                0);
    if (mend->first_cut_s > from_s)
        mend->first_cut_s = from_s;
    salvage_span(salvage, meter, from_s, INT64_MAX, rows, FATE_OPEN);
    return !salvage->why[0];
}

/* A whole page that begins before and ends behind it: it was no hole of ours. */
static bool is_inside_page(struct mend *mend, const char *table, const struct salvage_hole *hole,
                           int32_t meter)
{
    char sql[200];
    snprintf(sql, sizeof(sql),
             "SELECT last FROM temp.whole_page WHERE name = '%s' AND first <= ?1 ORDER BY first DESC LIMIT 1",
             table);
    return salvage_ask(mend->salvage, sql, row_id(hole->from_s, meter), 0, 0, INT64_MIN) >=
           row_id(hole->to_s - hole->interval_s, meter);
}

/* Holes in days of which the row survived were there before: others were filled. */
static void leave_old_holes(struct mend *mend, const char *table, struct salvage_holes *holes, int32_t meter)
{
    static const char sql[] =
        "SELECT count(*) FROM day WHERE id % 1024 = ?3 AND ((from_s <= ?1 AND to_s > ?1) "
        "OR (from_s < ?2 AND to_s >= ?2))";
    int32_t kept = 0;
    for (int32_t i = 0; i < holes->count; i++) {
        const struct salvage_hole *hole = &holes->holes[i];
        int64_t days = salvage_ask(mend->salvage, sql, hole->from_s, hole->to_s, meter, 0);
        bool one_day =
            salvage_ask(mend->salvage,
                        "SELECT count(*) FROM day WHERE id % 1024 = ?3 AND from_s <= ?1 AND to_s >= ?2",
                        hole->from_s, hole->to_s, meter, 0) > 0;
        if (days < (one_day ? 1 : 2) && !is_inside_page(mend, table, hole, meter))
            holes->holes[kept++] = *hole;
    }
    holes->count = kept;
}

static bool mend_series(struct mend *mend, const struct salvage_series *series, int32_t meter)
{
    struct open_run runs[SERIES_COUNTERS] = { { 0 } };
    int64_t base_s = INT64_MIN, anchor_s = INT64_MIN;
    read_runs(mend->salvage, series, meter, runs);
    for (int32_t c = 0; c < series->count; c++) {
        if (runs[c].id == 0)
            continue;
        base_s = runs[c].base_s > base_s ? runs[c].base_s : base_s;
        anchor_s = runs[c].anchor_s > anchor_s ? runs[c].anchor_s : anchor_s;
    }
    if (anchor_s == INT64_MIN)
        return true;
    salvage_find_holes(mend->salvage, series, meter, base_s, anchor_s, mend->holes);
    leave_old_holes(mend, series->table, mend->holes, meter);
    bool short_of_it = mend->holes->end_s < anchor_s;
    salvage_find_holes(mend->salvage, series, meter, anchor_s, FAR_S, mend->tail);
    leave_old_holes(mend, series->table, mend->tail, meter);
    bool nothing_behind = mend->tail->end_s == anchor_s;
    if (short_of_it && nothing_behind && mend->holes->count == 0) {
        if (series->estimates)
            salvage_span(mend->salvage, meter, mend->holes->end_s, INT64_MAX, 0, FATE_OPEN);
        return move_anchors_back(mend, series, meter, runs, mend->holes->end_s);
    }
    if (short_of_it && mend->holes->count < SERIES_HOLES)
        mend->holes->holes[mend->holes->count++] =
            (struct salvage_hole){ mend->holes->end_s, anchor_s,
                                   salvage_interval(mend->salvage, mend->holes->end_s) };
    if (!fill_up_to_anchor(mend, series, meter, runs))
        return false;
    return mend->tail->count == 0 || cut(mend, series, meter, mend->tail->holes[0].from_s);
}

static bool mend_meters(struct mend *mend)
{
    sqlite3_stmt *statement;
    bool good = true;
    /* the derived meter's number is the highest: it comes last */
    if (sqlite3_prepare_v2(mend->salvage->into,
                           "SELECT DISTINCT meter FROM run WHERE ended IS NULL ORDER BY meter", -1,
                           &statement, NULL) != SQLITE_OK)
        return salvage_fail(mend->salvage, "%s", sqlite3_errmsg(mend->salvage->into));
    while (good && sqlite3_step(statement) == SQLITE_ROW) {
        int32_t meter = sqlite3_column_int(statement, 0);
        for (int32_t s = 0; s < SALVAGE_SERIES && good; s++)
            good = mend_series(mend, &salvage_series[s], meter);
        /* derived rows stand on those of the others: they are derived again */
        if (good && meter == METER_DERIVED && mend->first_cut_s != INT64_MAX &&
            count_rows(mend->salvage, "interval", mend->first_cut_s, FAR_S, meter) > 0)
            good = cut(mend, &salvage_series[0], meter, mend->first_cut_s);
    }
    sqlite3_finalize(statement);
    return good;
}

/* ---- what remains missing ---- */

static bool find_missing(struct mend *mend)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(mend->salvage->into,
                           "SELECT id % 1024, min(id) / 1024 FROM interval GROUP BY id % 1024", -1,
                           &statement, NULL) != SQLITE_OK)
        return salvage_fail(mend->salvage, "%s", sqlite3_errmsg(mend->salvage->into));
    while (sqlite3_step(statement) == SQLITE_ROW) {
        int32_t meter = sqlite3_column_int(statement, 0);
        salvage_find_holes(mend->salvage, &salvage_series[0], meter, sqlite3_column_int64(statement, 1),
                           FAR_S, mend->holes);
        for (int32_t i = 0; i < mend->holes->count; i++) {
            const struct salvage_hole *hole = &mend->holes->holes[i];
            salvage_span(mend->salvage, meter, hole->from_s, hole->to_s,
                         (hole->to_s - hole->from_s) / hole->interval_s, FATE_MISSING);
        }
    }
    sqlite3_finalize(statement);
    return true;
}

/* Without settings the rows themselves say how long an interval is. */
static int32_t usual_interval(struct salvage *salvage)
{
    int64_t length =
        salvage_ask(salvage, "SELECT interval_s FROM setting ORDER BY id DESC LIMIT 1", 0, 0, 0, 0);
    if (length < 1)
        length = salvage_ask(salvage,
                             "SELECT d FROM (SELECT ts - lag(ts) OVER (PARTITION BY meter ORDER BY id) AS d "
                             "FROM interval ORDER BY id DESC LIMIT 2000) WHERE d > 0 GROUP BY d ORDER BY "
                             "count(*) DESC LIMIT 1",
                             0, 0, 0, 300);
    return length >= 1 && length <= 86400 ? (int32_t)length : 300;
}

static bool mend_all(struct mend *mend)
{
    return (!mend->salvage->lossy || (mend_days(mend) && mend_meters(mend))) &&
           salvage_factors(mend->salvage, mend->config) && find_missing(mend);
}

bool salvage_mend(struct salvage *salvage, const struct config *config)
{
    struct mend mend = { .salvage = salvage, .config = config, .first_cut_s = INT64_MAX };
    bool good = false;
    salvage->interval_s = usual_interval(salvage);
    mend.holes = malloc(sizeof(*mend.holes));
    mend.tail = malloc(sizeof(*mend.tail));
    if (mend.holes && mend.tail)
        good = salvage_run(salvage, "BEGIN") && mend_all(&mend) && salvage_run(salvage, "COMMIT");
    else
        salvage_fail(salvage, "out of memory");
    free(mend.holes);
    free(mend.tail);
    return good;
}
