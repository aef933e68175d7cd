#include "refine.h"

#include "arrangement.h"
#include "fill.h"
#include "fill_grid.h"
#include "quantity.h"
#include "schema.h"
#include "store_private.h"

/* Days before and after beyond which no reference is looked for bound the
 * work of a gap: longer ones are shared out evenly. */
#define LONGEST_REFERENCE_S (INT64_C(86400) * FILL_DAYS)

enum refine_statement {
    FIND_GAP,
    END_GAP,
    GAP_SUM,
    ONE_ROW,
    PLACE_ROW,
    KEEP_ANCHOR,
    DROP_DERIVED,
    SHIFT_ANCHOR,
    UNPLACED,
    HAS_DAY,
    REFINE_STATEMENT_COUNT
};
_Static_assert((int)REFINE_STATEMENT_COUNT == REFINE_STATEMENTS, "refine.h says how many");

/* A whole row of a gap that is not placed yet: unobserved from end to end. */
#define UNSHAPED "(how & 15) = 2 AND (how & 1152) = 0 AND unobserved >= ?3 "

static const char *const sql[REFINE_STATEMENT_COUNT] = {
    [FIND_GAP] = "SELECT id / 1024 FROM interval WHERE id >= ?2 * 1024 AND id % 1024 = ?1 AND " UNSHAPED
                 "ORDER BY id LIMIT 1",
    [END_GAP] = "SELECT id / 1024 FROM interval WHERE id >= ?2 * 1024 AND id % 1024 = ?1 AND NOT (" UNSHAPED
                ") ORDER BY id LIMIT 1",
    [GAP_SUM] = "SELECT sum(import), sum(export), count(*) FROM interval WHERE id >= ?2 * 1024 AND id < ?3 * "
                "1024 AND id % 1024 = ?1",
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
                     "NULL AND anchor_s >= ?3",
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

/* Binds up to four integers. */
static sqlite3_stmt *prepare(struct refine *refine, enum refine_statement which, const int64_t values[],
                             int count)
{
    sqlite3_stmt *s = refine->statements[which];
    sqlite3_reset(s);
    for (int i = 0; i < count; i++)
        sqlite3_bind_int64(s, i + 1, values[i]);
    return s;
}

/* One integer of one row. Returns 1, 0 or a failure. */
static int fetch(struct refine *refine, enum refine_statement which, const int64_t values[], int count,
                 int64_t *result)
{
    sqlite3_stmt *s = prepare(refine, which, values, count);
    int found = store_fetch(refine->store, s);
    if (found == 1 && result)
        *result = sqlite3_column_int64(s, 0);
    sqlite3_reset(s);
    return found;
}

static int64_t interval_s(const struct refine *refine)
{
    return refine->config->site.interval_s;
}

/* A measured row's counter, mWh; -1 where it is absent or not wholly measured.
 * With `placed` a filled one will do. */
static int64_t row_energy(struct refine *refine, int32_t meter, int counter, int64_t start_s, bool placed)
{
    const int64_t id = row_id(start_s, meter);
    sqlite3_stmt *s = prepare(refine, ONE_ROW, &id, 1);
    int64_t energy = -1;
    if (store_fetch(refine->store, s) == 1 && sqlite3_column_type(s, counter) != SQLITE_NULL) {
        bool measured = (sqlite3_column_int64(s, 4) & (HOW_METHOD_MASK | HOW_RUN_CHANGE)) == HOW_MEASURED &&
                        sqlite3_column_int64(s, 2) == 0 && sqlite3_column_int64(s, 3) == 0;
        if (measured || placed)
            energy = sqlite3_column_int64(s, counter);
    }
    sqlite3_reset(s);
    return energy;
}

static int64_t look(void *self, int64_t start_s)
{
    struct refine *refine = self;
    return row_energy(refine, refine->looked_at, refine->counter, start_s, false);
}

static int delivery(const struct config_meter *meter)
{
    return meter->delivers_by_export ? Q_ACTIVE_EXPORT : Q_ACTIVE_IMPORT;
}

/* What the plant behind the house meter made; -1 where a meter's row is missing. */
static int64_t production_at(struct refine *refine, int64_t start_s, bool placed)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < refine->config->meter_count; i++) {
        const struct config_meter *meter = &refine->config->meters[i];
        if (!arrangement_produces(refine->config, meter))
            continue;
        int64_t energy = row_energy(refine, meter->number, delivery(meter), start_s, placed);
        if (energy < 0)
            return -1;
        sum += energy;
    }
    return sum;
}

/* What the site used by the grid meter that is being filled: P + I - E. */
static int64_t look_consumption(void *self, int64_t start_s)
{
    struct refine *refine = self;
    int64_t production = production_at(refine, start_s, false);
    int64_t import = row_energy(refine, refine->looked_at, Q_ACTIVE_IMPORT, start_s, false);
    int64_t export = row_energy(refine, refine->looked_at, Q_ACTIVE_EXPORT, start_s, false);
    int64_t consumption = production + import - export;
    return production < 0 || import < 0 || export < 0 || consumption < 0 ? -1 : consumption;
}

struct gap {
    int32_t meter; /* index */
    int32_t number;
    int64_t from_s, to_s;
    int64_t energy[2];
};

static void shape(struct refine *refine, const struct gap *gap, enum fill_method method, struct fill *fill)
{
    const struct config_meter *meter = &refine->config->meters[gap->meter];
    bool known = meter->plane_azimuth >= 0 && meter->tilt >= 0;
    *fill = (struct fill){ .from_ms = gap->from_s * 1000,
                           .to_ms = gap->to_s * 1000,
                           .length_ms = interval_s(refine) * 1000,
                           .method = method,
                           .civil = refine->civil,
                           .rows = { look, refine },
                           .place = { refine->config->site.latitude, refine->config->site.longitude },
                           .plane = { known ? meter->plane_azimuth : 180, known ? meter->tilt : 0 } };
    if (method == FILL_REFERENCE && gap->to_s - gap->from_s > LONGEST_REFERENCE_S)
        fill->method = FILL_TIME;
}

static int place(struct refine *refine, const struct gap *gap, int64_t start_s, int64_t import,
                 int64_t export)
{
    const int64_t values[4] = { row_id(start_s, gap->number), import, export, HOW_SHAPED };
    return store_run_statement(refine->store, prepare(refine, PLACE_ROW, values, 4));
}

/* Each counter along its own shape. */
static int place_counters(struct refine *refine, const struct gap *gap)
{
    const struct config_meter *meter = &refine->config->meters[gap->meter];
    bool makes = meter->role == ROLE_PRODUCTION || meter->role == ROLE_PART;
    bool stores = meter->role == ROLE_STORAGE || meter->role == ROLE_GENERATOR;
    struct fill fills[2];
    int64_t at[2] = { 0, 0 };
    int result = STORE_OK;
    refine->looked_at = gap->number;
    for (int c = 0; c < 2; c++) {
        enum fill_method method = stores ? FILL_TIME : FILL_REFERENCE;
        if (makes)
            method = c == delivery(meter) ? FILL_SUN : FILL_TIME;
        refine->counter = c;
        shape(refine, gap, method, &fills[c]);
        fill_begin(&fills[c]);
    }
    for (int64_t start_s = gap->from_s; start_s < gap->to_s && result == STORE_OK;
         start_s += interval_s(refine)) {
        int64_t energy[2];
        for (int c = 0; c < 2; c++) {
            refine->counter = c;
            fill_next(&fills[c]);
            int64_t now = fill_account(&fills[c], 0, gap->energy[c]);
            energy[c] = now - at[c];
            at[c] = now;
        }
        result = place(refine, gap, start_s, energy[0], energy[1]);
    }
    return result;
}

/* One pass over a grid meter's gap: production as it stands, consumption along
 * reference days. */
static int pass_grid(struct refine *refine, const struct gap *gap, int64_t consumption,
                     struct fill_grid *grid, bool taking)
{
    struct fill fill;
    int64_t at = 0;
    int result = STORE_OK;
    refine->looked_at = gap->number;
    shape(refine, gap, FILL_REFERENCE, &fill);
    fill.rows.row = look_consumption;
    fill_begin(&fill);
    for (int64_t start_s = gap->from_s; start_s < gap->to_s && result == STORE_OK;
         start_s += interval_s(refine)) {
        fill_next(&fill);
        int64_t now = fill_account(&fill, 0, consumption), import, export;
        int64_t made = production_at(refine, start_s, true);
        int64_t used = now - at;
        at = now;
        if (made < 0)
            made = 0;
        if (!taking) {
            fill_grid_add(grid, made, used);
            continue;
        }
        fill_grid_take(grid, made, used, &import, &export);
        result = place(refine, gap, start_s, import, export);
    }
    return result;
}

static int place_grid(struct refine *refine, const struct gap *gap)
{
    struct fill_grid grid;
    int64_t consumption = gap->energy[0] - gap->energy[1];
    for (int64_t start_s = gap->from_s; start_s < gap->to_s; start_s += interval_s(refine)) {
        int64_t made = production_at(refine, start_s, true);
        consumption += made > 0 ? made : 0;
    }
    if (consumption < 0)
        consumption = 0;
    fill_grid_init(&grid);
    int result = pass_grid(refine, gap, consumption, &grid, false);
    if (result != STORE_OK)
        return result;
    fill_grid_fit(&grid, gap->energy[0], gap->energy[1]);
    return pass_grid(refine, gap, consumption, &grid, true);
}

static bool produces_anything(const struct refine *refine)
{
    for (int32_t i = 0; i < refine->config->meter_count; i++)
        if (arrangement_produces(refine->config, &refine->config->meters[i]))
            return true;
    return false;
}

/* Is production over the gap still to be placed, or not there yet? 1, 0 or a failure. */
static int must_wait(struct refine *refine, const struct gap *gap)
{
    for (int32_t i = 0; i < refine->config->meter_count; i++) {
        const struct config_meter *meter = &refine->config->meters[i];
        int64_t newest_s;
        if (!arrangement_produces(refine->config, meter))
            continue;
        int result = store_newest(refine->store, meter->number, interval_s(refine), &newest_s);
        if (result < 0 || newest_s < gap->to_s)
            return result < 0 ? result : 1;
        const int64_t values[4] = { meter->number, gap->to_s, interval_s(refine), gap->from_s };
        result = fetch(refine, UNPLACED, values, 4, NULL);
        if (result != 0)
            return result;
    }
    return 0;
}

/* The derived grid meter follows from rows that changed. */
static int derive_again(struct refine *refine, const struct gap *gap, struct refined *done)
{
    int32_t used[CONFIG_MAX_METERS], made[CONFIG_MAX_METERS], used_count = 0, made_count = 0;
    bool by_export[CONFIG_MAX_METERS];
    int64_t from_s, sum, newest_s;
    /* Not before its own rows begin: its run counts from there. */
    int result = store_oldest(refine->store, METER_DERIVED, gap->from_s, &from_s);
    if (result != STORE_OK || from_s == 0 || from_s >= gap->to_s)
        return result;
    const int64_t range[3] = { METER_DERIVED, from_s, gap->to_s };
    for (int32_t i = 0; i < refine->config->meter_count; i++) {
        const struct config_meter *meter = &refine->config->meters[i];
        if (meter->role == ROLE_CONSUMPTION) {
            used[used_count++] = meter->number;
        } else if (arrangement_produces(refine->config, meter)) {
            by_export[made_count] = meter->delivers_by_export;
            made[made_count++] = meter->number;
        }
    }
    for (int c = 0; c < 2 && result == STORE_OK; c++) {
        result = store_sum(refine->store, METER_DERIVED, c, gap->from_s, gap->to_s, &sum);
        done->derived[c] = -sum;
    }
    if (result == STORE_OK)
        result = store_run_statement(refine->store, prepare(refine, KEEP_ANCHOR, range, 3));
    if (result == STORE_OK)
        result = store_run_statement(refine->store, prepare(refine, DROP_DERIVED, range, 3));
    if (result == STORE_OK)
        result = store_derive(refine->store, from_s, interval_s(refine), used, used_count, made, by_export,
                              made_count, &newest_s);
    for (int c = 0; c < 2 && result == STORE_OK; c++) {
        result = store_sum(refine->store, METER_DERIVED, c, gap->from_s, gap->to_s, &sum);
        done->derived[c] += sum;
        const int64_t shift[4] = { METER_DERIVED, c, gap->to_s, done->derived[c] };
        if (result == STORE_OK)
            result = store_run_statement(refine->store, prepare(refine, SHIFT_ANCHOR, shift, 4));
    }
    return result;
}

static int close_days(struct refine *refine, int32_t number, const struct gap *gap)
{
    int64_t day = civil_day_of(refine->civil, gap->from_s), last = civil_day_of(refine->civil, gap->to_s - 1);
    int result = STORE_OK;
    for (; day <= last && result >= 0; day++) {
        const int64_t id = day * 1024 + number;
        result = fetch(refine, HAS_DAY, &id, 1, NULL);
        if (result == 1)
            result = store_close_day(refine->store, number, day, civil_day_start(refine->civil, day),
                                     civil_day_start(refine->civil, day + 1), interval_s(refine));
    }
    return result < 0 ? result : STORE_OK;
}

static int place_all(struct refine *refine, const struct gap *gap, struct refined *done)
{
    const struct config_meter *meter = &refine->config->meters[gap->meter];
    const int64_t range[3] = { gap->number, gap->from_s, gap->to_s };
    bool sides = meter->role == ROLE_CONSUMPTION || arrangement_produces(refine->config, meter);
    int result = store_run_statement(refine->store, prepare(refine, KEEP_ANCHOR, range, 3));
    if (result == STORE_OK)
        result = meter->role == ROLE_GRID && produces_anything(refine) ? place_grid(refine, gap)
                                                                       : place_counters(refine, gap);
    if (result == STORE_OK)
        result = close_days(refine, gap->number, gap);
    if (result == STORE_OK && sides && arrangement_derives(refine->config)) {
        result = derive_again(refine, gap, done);
        if (result == STORE_OK)
            result = close_days(refine, METER_DERIVED, gap);
    }
    return result;
}

/* The oldest gap from *from_s on that is over. Returns 1, 0 or a failure. */
static int find_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct gap *gap)
{
    *gap = (struct gap){ .meter = meter, .number = refine->config->meters[meter].number };
    int64_t values[3] = { gap->number, *from_s, interval_s(refine) };
    int result = fetch(refine, FIND_GAP, values, 3, &gap->from_s);
    if (result != 1) {
        int64_t newest_s;
        if (result == 0 &&
            store_newest(refine->store, gap->number, interval_s(refine), &newest_s) == STORE_OK)
            *from_s = newest_s > *from_s ? newest_s : *from_s;
        return result;
    }
    *from_s = values[1] = gap->from_s;
    result = fetch(refine, END_GAP, values, 3, &gap->to_s);
    if (result != 1)
        return result;
    values[2] = gap->to_s;
    sqlite3_stmt *s = prepare(refine, GAP_SUM, values, 3);
    result = store_fetch(refine->store, s);
    for (int c = 0; c < 2 && result == 1; c++)
        gap->energy[c] = sqlite3_column_int64(s, c);
    /* A hole inside: somebody else's rows, or an interval of another length. */
    bool whole = result == 1 && sqlite3_column_int64(s, 2) == (gap->to_s - gap->from_s) / interval_s(refine);
    sqlite3_reset(s);
    if (result == 1 && !whole) {
        *from_s = gap->to_s;
        return 0;
    }
    return result;
}

int refine_gap(struct refine *refine, int32_t meter, int64_t *from_s, struct refined *done)
{
    struct gap gap;
    *done = (struct refined){ 0 };
    int result = find_gap(refine, meter, from_s, &gap);
    if (result != 1)
        return result;
    if (refine->config->meters[meter].role == ROLE_GRID) {
        int waits = must_wait(refine, &gap);
        if (waits != 0)
            return waits < 0 ? waits : 0;
    }
    result = store_begin(refine->store);
    if (result == STORE_OK)
        result = place_all(refine, &gap, done);
    if (result == STORE_OK)
        result = store_commit(refine->store);
    if (result != STORE_OK) {
        store_rollback(refine->store);
        return result;
    }
    done->from_s = gap.from_s;
    done->to_s = *from_s = gap.to_s;
    return 1;
}
