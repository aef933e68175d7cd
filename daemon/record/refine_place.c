#include <string.h>

#include "arrangement.h"
#include "fill.h"
#include "fill_grid.h"
#include "quantity.h"
#include "refine_private.h"
#include "schema.h"

/* Days before and after beyond which no reference is looked for bound the
 * work of a gap: longer ones are shared out evenly. */
#define LONGEST_REFERENCE_S (INT64_C(86400) * FILL_DAYS)

enum { LOOK_CONSUMPTION = 2 }; /* beside the two counters */

/* Asleep, and a counter entered from elsewhere, is as good as measured. */
static bool is_measured(sqlite3_stmt *row)
{
    static const bool good[HOW_METHOD_MASK + 1] = {
        [HOW_MEASURED] = true, [HOW_ASLEEP] = true, [HOW_ENTERED] = true, [HOW_ENTERED_ENERGY] = true
    };
    int64_t how = sqlite3_column_int64(row, 4);
    return good[how & HOW_METHOD_MASK] && (how & (HOW_RUN_CHANGE | HOW_POWER_FAILED | HOW_CLOCK)) == 0 &&
           sqlite3_column_int64(row, 2) == 0 && sqlite3_column_int64(row, 3) == 0;
}

/* A measured row's counter, mWh; -1 where it is absent or not wholly measured.
 * With `placed` a filled one will do. */
static int64_t row_energy(struct refine *refine, int32_t meter, int counter, int64_t start_s, bool placed)
{
    const int64_t id = row_id(start_s, meter);
    sqlite3_stmt *s = refine_statement(refine, ONE_ROW, &id, 1);
    int64_t energy = -1;
    if (store_fetch(refine->store, s) == 1 && sqlite3_column_type(s, counter) != SQLITE_NULL) {
        if (placed || is_measured(s))
            energy = sqlite3_column_int64(s, counter);
    }
    sqlite3_reset(s);
    return energy;
}

/* A row of one counter, or of what the site used, is asked for about twenty
 * times while a gap is placed: it is remembered where it falls. */
static struct refine_seen *seen(struct refine *refine, int what, int64_t start_s)
{
    int64_t at = start_s / refine_interval_s(refine) * 2 + (what & 1);
    return &refine->seen[at % REFINE_SEEN];
}

static int64_t look(void *self, int64_t start_s)
{
    struct refine *refine = self;
    struct refine_seen *row = seen(refine, refine->counter, start_s);
    if (row->start_s != start_s || row->what != refine->counter + 1)
        *row = (struct refine_seen){ start_s,
                                     row_energy(refine, refine->looked_at, refine->counter, start_s, false),
                                     refine->counter + 1 };
    return row->energy;
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
static int64_t consumption_at(struct refine *refine, int64_t start_s)
{
    int64_t production = production_at(refine, start_s, false);
    int64_t import = row_energy(refine, refine->looked_at, Q_ACTIVE_IMPORT, start_s, false);
    int64_t export = row_energy(refine, refine->looked_at, Q_ACTIVE_EXPORT, start_s, false);
    int64_t consumption = production + import - export;
    return production < 0 || import < 0 || export < 0 || consumption < 0 ? -1 : consumption;
}

static int64_t look_consumption(void *self, int64_t start_s)
{
    struct refine *refine = self;
    struct refine_seen *row = seen(refine, LOOK_CONSUMPTION, start_s);
    if (row->start_s != start_s || row->what != LOOK_CONSUMPTION + 1)
        *row = (struct refine_seen){ start_s, consumption_at(refine, start_s), LOOK_CONSUMPTION + 1 };
    return row->energy;
}

static void shape(struct refine *refine, const struct gap *gap, enum fill_method method, int64_t energy,
                  struct fill *fill)
{
    const struct config_meter *meter = &refine->config->meters[gap->meter];
    bool known = meter->plane_azimuth >= 0 && meter->tilt >= 0;
    *fill = (struct fill){ .from_ms = gap->from_s * 1000,
                           .to_ms = gap->to_s * 1000,
                           .length_ms = refine_interval_s(refine) * 1000,
                           .method = method,
                           .civil = refine->civil,
                           .rows = { look, refine },
                           .energy = energy,
                           .place = { refine->config->site.latitude, refine->config->site.longitude },
                           .plane = { known ? meter->plane_azimuth : 180, known ? meter->tilt : 0 } };
    if (method == FILL_REFERENCE && gap->to_s - gap->from_s > LONGEST_REFERENCE_S)
        fill->method = FILL_TIME;
}

static int place(struct refine *refine, const struct gap *gap, int64_t start_s, int64_t import,
                 int64_t export)
{
    const int64_t values[4] = { row_id(start_s, gap->number), import, export, HOW_SHAPED };
    return store_run_statement(refine->store, refine_statement(refine, PLACE_ROW, values, 4));
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
        shape(refine, gap, method, gap->energy[c], &fills[c]);
        fill_begin(&fills[c]);
    }
    for (int64_t start_s = gap->from_s; start_s < gap->to_s && result == STORE_OK;
         start_s += refine_interval_s(refine)) {
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
    shape(refine, gap, FILL_REFERENCE, consumption, &fill);
    fill.rows.row = look_consumption;
    fill_begin(&fill);
    for (int64_t start_s = gap->from_s; start_s < gap->to_s && result == STORE_OK;
         start_s += refine_interval_s(refine)) {
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
    for (int64_t start_s = gap->from_s; start_s < gap->to_s; start_s += refine_interval_s(refine)) {
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
        result = store_run_statement(refine->store, refine_statement(refine, KEEP_ANCHOR, range, 3));
    if (result == STORE_OK)
        result = store_run_statement(refine->store, refine_statement(refine, DROP_DERIVED, range, 3));
    if (result == STORE_OK)
        result = store_derive(refine->store, from_s, refine_interval_s(refine), used, used_count, made,
                              by_export, made_count, &newest_s);
    for (int c = 0; c < 2 && result == STORE_OK; c++) {
        result = store_sum(refine->store, METER_DERIVED, c, gap->from_s, gap->to_s, &sum);
        done->derived[c] += sum;
        const int64_t shift[4] = { METER_DERIVED, c, gap->to_s, done->derived[c] };
        if (result == STORE_OK)
            result = store_run_statement(refine->store, refine_statement(refine, SHIFT_ANCHOR, shift, 4));
    }
    return result;
}

static int close_days(struct refine *refine, int32_t number, const struct gap *gap)
{
    int64_t day = civil_day_of(refine->civil, gap->from_s), last = civil_day_of(refine->civil, gap->to_s - 1);
    int result = STORE_OK;
    for (; day <= last && result >= 0; day++) {
        const int64_t id = day * 1024 + number;
        result = refine_fetch(refine, HAS_DAY, &id, 1, NULL);
        if (result == 1)
            result = store_close_day(refine->store, number, day, civil_day_start(refine->civil, day),
                                     civil_day_start(refine->civil, day + 1), refine_interval_s(refine));
    }
    return result < 0 ? result : STORE_OK;
}

int refine_place(struct refine *refine, const struct gap *gap, struct refined *done)
{
    const struct config_meter *meter = &refine->config->meters[gap->meter];
    const int64_t range[3] = { gap->number, gap->from_s, gap->to_s };
    bool sides = meter->role == ROLE_CONSUMPTION || arrangement_produces(refine->config, meter);
    memset(refine->seen, 0, sizeof refine->seen);
    int result = store_run_statement(refine->store, refine_statement(refine, KEEP_ANCHOR, range, 3));
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
