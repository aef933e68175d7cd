/* Writes the rows of the invented record by the million: by statements without
 * the daemon's caution about power cuts, days summed on the way. */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "day_curve.h"
#include "invent.h"
#include "schema.h"
#include "store.h"

enum { TRIGGERS = 16, FLAGS = ~HOW_METHOD_MASK & 1023 /* those that a day row has */ };

/* An interval's row; STORE_NULL as in the store. */
struct line {
    int64_t energy[INVENT_COUNTERS], estimated, unobserved, how, power, power_min, power_max, voltage;
};

struct sum {
    int64_t energy[INVENT_COUNTERS], estimated, unobserved, rows, flags, power_max, power_min;
};

enum bulk { ADD_ROW, ADD_VALUES, ADD_DAY, ADD_CURVE, BULK_COUNT };

struct invent_rows {
    const struct invent *invent;
    sqlite3 *db;
    sqlite3_stmt *statements[BULK_COUNT];
    char *triggers[TRIGGERS]; /* put back at the end: they cost more than the rows */
    int64_t day, day_from_s, day_to_s;
    struct sum sums[INVENTED_METERS];
    struct day_curve curves[INVENTED_METERS];
    struct invent_counted counted; /* up to day_from_s */
};

static bool complain(struct invent_rows *rows, const char *what)
{
    fprintf(stderr, "invent: %s: %s\n", what, sqlite3_errmsg(rows->db));
    return false;
}

static bool run_sql(struct invent_rows *rows, const char *sql)
{
    if (sqlite3_exec(rows->db, sql, NULL, NULL, NULL) == SQLITE_OK)
        return true;
    return complain(rows, sql);
}

static int keep_trigger(void *self, int columns, char **values, char **names)
{
    struct invent_rows *rows = self;
    (void)columns, (void)names;
    for (int i = 0; i < TRIGGERS; i++)
        if (!rows->triggers[i])
            return (rows->triggers[i] = strdup(values[0])) == NULL;
    return 1;
}

static bool drop_triggers(struct invent_rows *rows)
{
    char sql[120], name[64];
    if (sqlite3_exec(rows->db, "SELECT sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY name",
                     keep_trigger, rows, NULL) != SQLITE_OK)
        return complain(rows, "triggers");
    for (int i = 0; i < TRIGGERS && rows->triggers[i]; i++) {
        if (sscanf(rows->triggers[i], "CREATE TRIGGER %63s", name) != 1)
            return complain(rows, rows->triggers[i]);
        snprintf(sql, sizeof sql, "DROP TRIGGER %s", name);
        if (!run_sql(rows, sql))
            return false;
    }
    return true;
}

static bool prepare(struct invent_rows *rows, const char *path)
{
    static const char *const texts[BULK_COUNT] = {
        [ADD_ROW] = "INSERT INTO interval(id, import, export, estimated, unobserved, how, power, power_min, "
                    "power_max, voltage) VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        [ADD_VALUES] = "INSERT INTO momentary(id, power_l1, power_l2, power_l3, voltage_l2, voltage_l3, "
                       "frequency, irradiance, module_temperature, ambient_temperature) "
                       "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
        [ADD_DAY] = "INSERT INTO day(id, from_s, to_s, import, export, estimated, unobserved, rows, "
                    "expected, flags, power_max, power_min) "
                    "VALUES(?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)",
        [ADD_CURVE] = "INSERT INTO curve(id, quarters) VALUES(?1, ?2)",
    };
    if (sqlite3_open(path, &rows->db) != SQLITE_OK)
        return complain(rows, path);
    if (!run_sql(rows, "PRAGMA locking_mode = EXCLUSIVE; PRAGMA journal_mode = OFF; "
                       "PRAGMA synchronous = OFF; PRAGMA cache_size = -20000") ||
        !drop_triggers(rows) || !run_sql(rows, "BEGIN"))
        return false;
    for (int i = 0; i < BULK_COUNT; i++)
        if (sqlite3_prepare_v3(rows->db, texts[i], -1, SQLITE_PREPARE_PERSISTENT, &rows->statements[i],
                               NULL) != SQLITE_OK)
            return complain(rows, texts[i]);
    return true;
}

static bool insert(struct invent_rows *rows, enum bulk which, const int64_t *values, int count)
{
    sqlite3_stmt *statement = rows->statements[which];
    for (int i = 0; i < count; i++)
        if (values[i] == STORE_NULL)
            sqlite3_bind_null(statement, i + 1);
        else
            sqlite3_bind_int64(statement, i + 1, values[i]);
    int code = sqlite3_step(statement);
    sqlite3_reset(statement);
    return code == SQLITE_DONE || complain(rows, "a row");
}

static void begin_day(struct invent_rows *rows, int64_t start_s)
{
    rows->day = civil_day_of(rows->invent->civil, start_s);
    rows->day_from_s = civil_day_start(rows->invent->civil, rows->day);
    rows->day_to_s = civil_day_start(rows->invent->civil, rows->day + 1);
    for (int m = 0; m < INVENTED_METERS; m++) {
        rows->sums[m] = (struct sum){ .power_max = STORE_NULL, .power_min = STORE_NULL };
        day_curve_begin(&rows->curves[m], rows->day_from_s, rows->day_to_s, rows->invent->interval_s);
    }
}

static bool add_curve(struct invent_rows *rows, int m)
{
    unsigned char bytes[CURVE_BYTES];
    size_t size = day_curve_pack(&rows->curves[m], bytes);
    const int64_t id = rows->day * 1024 + invented_meters[m].number;
    sqlite3_bind_blob(rows->statements[ADD_CURVE], 2, bytes, (int)size, SQLITE_STATIC);
    return size == 0 || insert(rows, ADD_CURVE, &id, 1);
}

static bool close_day(struct invent_rows *rows)
{
    int64_t expected = (rows->day_to_s - rows->day_from_s) / rows->invent->interval_s;
    bool good = true;
    for (int m = 0; m < INVENTED_METERS && good; m++) {
        const struct invented_meter *meter = &invented_meters[m];
        const struct sum *sum = &rows->sums[m];
        const int64_t values[] = { rows->day * 1024 + meter->number,
                                   rows->day_from_s,
                                   rows->day_to_s,
                                   meter->counts[0] ? sum->energy[0] : STORE_NULL,
                                   meter->counts[1] ? sum->energy[1] : STORE_NULL,
                                   sum->estimated,
                                   sum->unobserved,
                                   sum->rows,
                                   expected,
                                   sum->flags,
                                   sum->power_max,
                                   sum->power_min };
        if (sum->rows > 0)
            good = insert(rows, ADD_DAY, values, sizeof values / sizeof values[0]) && add_curve(rows, m);
        for (int c = 0; c < INVENT_COUNTERS; c++)
            rows->counted.energy[m][c] += sum->energy[c];
    }
    begin_day(rows, rows->day_to_s);
    rows->counted.to_s = rows->day_from_s;
    return good;
}

/* ---- one interval ---- */

static int64_t watts_of(int64_t energy, int64_t length_s)
{
    return energy * 18 / 5 / length_s; /* mWh to W over so many seconds */
}

static struct line line_of(const struct invent *invent, const struct flow *flow, int m)
{
    const int64_t energies[INVENTED_METERS][INVENT_COUNTERS] = {
        [INVENTED_GRID] = { flow->import, flow->export },
        [INVENTED_PRODUCTION] = { 0, flow->production },
        [INVENTED_PART] = { STORE_NULL, flow->part[0] },
        [INVENTED_PART + 1] = { STORE_NULL, flow->part[1] },
        [INVENTED_PART + 2] = { STORE_NULL, flow->part[2] },
        [INVENTED_PART + 3] = { STORE_NULL, flow->part[3] },
        [INVENTED_HEAT_PUMP] = { flow->heat_pump, STORE_NULL },
        [INVENTED_WORKSHOP] = { flow->workshop, STORE_NULL },
    };
    bool part = m >= INVENTED_PART && m < INVENTED_PART + INVENT_PARTS;
    struct line line = {
        .power = STORE_NULL, .power_min = STORE_NULL, .power_max = STORE_NULL, .voltage = STORE_NULL
    };
    int64_t sum = 0, net = 0;
    for (int c = 0; c < INVENT_COUNTERS; c++) {
        line.energy[c] = energies[m][c];
        if (energies[m][c] == STORE_NULL)
            continue;
        sum += energies[m][c];
        net += c == 0 ? energies[m][c] : -energies[m][c];
    }
    if (flow->gap) {
        line.estimated = sum;
        line.unobserved = invent->interval_s;
        line.how = sum > 0 ? HOW_ESTIMATED | HOW_SHAPED : HOW_SHAPED;
        return line;
    }
    if (part && flow->asleep) {
        line.how = HOW_ASLEEP;
        return line;
    }
    int64_t spread = (net < 0 ? -net : net) * flow->ripple / 1000;
    line.power = watts_of(net, flow->length_s);
    line.power_min = watts_of(net - spread, flow->length_s);
    line.power_max = watts_of(net + spread, flow->length_s);
    line.voltage = flow->outage ? STORE_NULL : flow->voltage[0];
    return line;
}

static void add_to_day(struct sum *sum, const struct line *line)
{
    for (int c = 0; c < INVENT_COUNTERS; c++)
        sum->energy[c] += line->energy[c] == STORE_NULL ? 0 : line->energy[c];
    sum->estimated += line->estimated;
    sum->unobserved += line->unobserved;
    sum->flags |= line->how & FLAGS;
    sum->rows++;
    if (line->power_max != STORE_NULL && (sum->power_max == STORE_NULL || line->power_max > sum->power_max))
        sum->power_max = line->power_max;
    if (line->power_min != STORE_NULL && (sum->power_min == STORE_NULL || line->power_min < sum->power_min))
        sum->power_min = line->power_min;
}

static bool add_row(struct invent_rows *rows, const struct flow *flow, int m)
{
    struct line line = line_of(rows->invent, flow, m);
    const int64_t values[] = { row_id(flow->start_s, invented_meters[m].number),
                               line.energy[0],
                               line.energy[1],
                               line.estimated,
                               line.unobserved,
                               line.how,
                               line.power,
                               line.power_min,
                               line.power_max,
                               line.voltage };
    add_to_day(&rows->sums[m], &line);
    day_curve_add(&rows->curves[m], flow->start_s,
                  (const int64_t[]){ line.energy[0], line.energy[1], line.estimated, line.unobserved });
    return insert(rows, ADD_ROW, values, sizeof values / sizeof values[0]);
}

/* Voltages and frequency of the grid, and the weather. */
static bool add_values(struct invent_rows *rows, const struct flow *flow)
{
    int64_t net = watts_of(flow->import - flow->export, flow->length_s) * 1000;
    const int64_t no = STORE_NULL;
    const int64_t grid[] = { row_id(flow->start_s, invented_meters[INVENTED_GRID].number),
                             net * 2 / 5,
                             net / 3,
                             net - net * 2 / 5 - net / 3,
                             flow->outage ? no : flow->voltage[1] * INT64_C(10),
                             flow->outage ? no : flow->voltage[2] * INT64_C(10),
                             flow->outage ? no : flow->frequency,
                             no,
                             no,
                             no };
    const int64_t weather[] = { row_id(flow->start_s, invented_meters[INVENTED_WEATHER].number),
                                no,
                                no,
                                no,
                                no,
                                no,
                                no,
                                flow->irradiance,
                                flow->module,
                                flow->ambient };
    return insert(rows, ADD_VALUES, grid, sizeof grid / sizeof grid[0]) &&
           insert(rows, ADD_VALUES, weather, sizeof weather / sizeof weather[0]);
}

struct invent_rows *invent_rows_open(const struct invent *invent, const char *path)
{
    struct invent_rows *rows = calloc(1, sizeof *rows);
    if (!rows)
        return NULL;
    rows->invent = invent;
    begin_day(rows, invent->begin_s);
    return prepare(rows, path) ? rows : NULL;
}

bool invent_rows_take(struct invent_rows *rows, const struct flow *flow)
{
    bool good = true;
    for (int m = 0; m < INVENTED_WEATHER && good; m++)
        good = add_row(rows, flow, m);
    if (good && !flow->gap)
        good = add_values(rows, flow);
    if (good && flow->start_s + flow->length_s >= rows->day_to_s)
        good = close_day(rows);
    return good;
}

bool invent_rows_close(struct invent_rows *rows, struct invent_counted *counted)
{
    bool good = run_sql(rows, "COMMIT");
    for (int i = 0; i < TRIGGERS && rows->triggers[i]; i++) {
        good = good && run_sql(rows, rows->triggers[i]);
        free(rows->triggers[i]);
    }
    for (int i = 0; i < BULK_COUNT; i++)
        sqlite3_finalize(rows->statements[i]);
    sqlite3_close(rows->db);
    *counted = rows->counted;
    free(rows);
    return good;
}
