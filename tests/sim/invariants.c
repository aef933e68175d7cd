#include "invariants.h"

#include <stdlib.h>
#include <string.h>

#include "disk.h"
#include "schema.h"

static struct record before, now; /* what the record held at the last look, and holds */
static int64_t clocks_before;     /* a sum over its clock rows then */

void invariants_begin(void)
{
    before.count = 0;
    clocks_before = 0;
}

/* ---- 1: conservation ---- */

/* Rows of a counter that are not in the record yet. */
static int64_t waiting(const struct sim *sim, int meter, int counter)
{
    const struct outbox *outbox = &sim->collect->outbox;
    int64_t sum = 0;
    for (int32_t r = 0; r < outbox->row_count; r++)
        if (outbox->rows[r].meter == meter && outbox->rows[r].which == SERIES_ACTIVE)
            sum += outbox->rows[r].row.energy[counter];
    return sum;
}

static void telescopes(struct sim *sim, int meter, int32_t position, const char *base)
{
    const struct series *series = &sim->collect->meters[meter].series[SERIES_ACTIVE];
    int c = series->check.counters[position];
    const struct counter_state *state = &sim->collect->meters[meter].counters[c];
    int64_t rows = record_ask(sim,
                              "SELECT %s + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d AND ts >= "
                              "%s_s), 0) FROM run WHERE id = %lld",
                              base, c ? "export" : "import", (int)sim->config.meters[meter].number, base,
                              (long long)state->run.id) +
                   waiting(sim, meter, c);
    int64_t account = series->book.fixed[position] - state->offset;
    if (rows != account)
        sim_fail(sim, "invariant 1, conservation: meter %d counter %d: %s + rows = %lld, the account is %lld",
                 meter + 1, c, base, (long long)rows, (long long)account);
}

static void conservation(struct sim *sim)
{
    for (int i = 0; i < sim->config.meter_count; i++) {
        const struct series *series = &sim->collect->meters[i].series[SERIES_ACTIVE];
        for (int32_t k = 0; k < series->check.count; k++) {
            const struct counter_state *state = &sim->collect->meters[i].counters[series->check.counters[k]];
            const struct account *account = &state->account;
            if (!state->open)
                continue;
            const struct sim_allowance *allow = sim->meters[i].allow;
            /* Set anew to so little less, unwatched, is not told from a step back. */
            int64_t back =
                allow[0].resets + allow[1].resets > 0 ? (TRUTH_JITTER_STEPS + 1) * account->step : 0;
            if (account->account < account->value ||
                account->account >= account->value + account->step + back)
                sim_fail(
                    sim,
                    "invariant 1, conservation: meter %d: account %lld is outside the last step of register "
                    "%lld, step %lld",
                    i + 1, (long long)account->account, (long long)account->value, (long long)account->step);
            if (state->run.id == 0)
                continue;
            telescopes(sim, i, k, "base");
            telescopes(sim, i, k, "anchor");
        }
        invariant_totals(sim, i);
    }
}

/* ---- 2: written once, 4: what was committed stays ---- */

static bool same(const struct record_row *a, const struct record_row *b)
{
    return a->energy[0] == b->energy[0] && a->energy[1] == b->energy[1] && a->estimated == b->estimated &&
           a->unobserved_s == b->unobserved_s && a->how == b->how;
}

static void written_once(struct sim *sim, const struct record_row *old, const struct record_row *new)
{
    const int64_t marks = HOW_RE_DATED | HOW_CORRECTED | HOW_SHAPED;
    if (!same(old, new) && !(new->how &marks))
        sim_fail(sim,
                 "invariant 2, written once: meter %d row %lld was changed without a mark: %lld/%lld, now "
                 "%lld/%lld, how %lld",
                 (int)new->meter, (long long)new->start_s, (long long)old->energy[0],
                 (long long)old->energy[1], (long long)new->energy[0], (long long)new->energy[1],
                 (long long)new->how);
}

static void compare_with_before(struct sim *sim)
{
    int64_t at = 0;
    for (int64_t i = 0; i < before.count; i++) {
        while (at < now.count && now.rows[at].id < before.rows[i].id)
            at++;
        if (at == now.count || now.rows[at].id != before.rows[i].id)
            sim_fail(sim, "invariant 4, power cuts: meter %d row %lld was in the record and is gone",
                     (int)before.rows[i].meter, (long long)before.rows[i].start_s);
        written_once(sim, &before.rows[i], &now.rows[at]);
    }
}

static void keep(void)
{
    struct record swap = before;
    before = now;
    now = swap;
}

static void committed_stays(struct sim *sim)
{
    int64_t newest_s = record_ask(sim, "SELECT coalesce(max(id) / 1024, 0) FROM interval");
    if (sim->committed_s > 0 && newest_s < sim->committed_s - sim->longest_s && !sim->clock_stepped)
        sim_fail(sim, "invariant 4, power cuts: committed up to %lld, the record ends at %lld",
                 (long long)sim->committed_s, (long long)newest_s);
}

void invariants_look(struct sim *sim)
{
    if (disk_is_cut() || disk_is_armed() || !sim->collect || !sim->collect->store)
        return;
    record_load(sim, &now);
    /* A better clock comes in the transaction that dates anew what a worse one dated. */
    int64_t clocks =
        record_ask(sim, "SELECT count(*) + coalesce(sum((from_ms + offset_ms) %% 1000003), 0) FROM clock");
    if (clocks == clocks_before) {
        compare_with_before(sim);
        committed_stays(sim);
    }
    clocks_before = clocks;
    keep();
}

/* ---- 3: provenance ---- */

static void provenance(struct sim *sim)
{
    int64_t without = record_ask(
        sim,
        "SELECT count(*) FROM interval WHERE NOT EXISTS (SELECT 1 FROM setting WHERE from_ms IS NULL OR "
        "from_ms - %lld <= ts * 1000)",
        (long long)sim->longest_s * 2000);
    /* What a false clock dated moves behind the configuration that it dated before. */
    if (without > 0 && !sim->clock_stepped)
        sim_fail(sim, "invariant 3, provenance: %lld rows are of no configuration", (long long)without);
    const char *wrong =
        "estimated < 0 OR unobserved < 0 OR estimated > coalesce(import, 0) + coalesce(export, 0) OR "
        "(estimated > 0 AND how & 15 NOT IN (1, 2)) OR (how & 15 IN (1, 2) AND estimated = 0 AND "
        "unobserved = 0 AND meter < 1000)";
    int64_t id = record_ask(sim, "SELECT coalesce((SELECT id FROM interval WHERE %s), 0)", wrong);
    if (id > 0)
        sim_fail(sim, "invariant 3, provenance: meter %d row %lld says what cannot be of how it was filled",
                 (int)(id % 1024), (long long)(id / 1024));
}

/* ---- 5: balance ---- */

static void balance(struct sim *sim)
{
    const struct derived *derived = &sim->collect->derived;
    if (record_ask(sim, "SELECT count(*) FROM interval WHERE meter = 1023 AND (import < 0 OR export < 0)") >
        0)
        sim_fail(sim, "invariant 5, balance: a derived row is negative");
    for (int c = 0; c < 2; c++)
        if (derived->used && derived->runs[c].id != 0 &&
            record_ask(sim,
                       "SELECT base + coalesce((SELECT sum(%s) FROM interval WHERE meter = 1023 AND ts >= "
                       "base_s), 0) FROM run WHERE id = %lld",
                       c ? "export" : "import", (long long)derived->runs[c].id) != derived->account[c])
            sim_fail(sim, "invariant 5, balance: the derived account is not the sum of its rows");
}

/* Consumption = production + import - export in each derived row, to the mWh, and nothing flows both ways
 * beyond what each side took; over a whole run only where the roles stayed. */
static void balance_by_row(struct sim *sim)
{
    if (!sim->collect->derived.used || sim->roles_changed || sim->turned)
        return;
    int64_t wrong = record_ask(
        sim,
        "WITH side AS (SELECT ts, sum(CASE WHEN role = 'consumption' THEN import ELSE 0 END) AS c, sum(CASE "
        "WHEN role = 'production' THEN CASE delivers WHEN 'export' THEN export ELSE import END ELSE 0 END) "
        "AS "
        "p FROM interval JOIN meter_setting USING (meter) WHERE setting = (SELECT max(id) FROM setting) "
        "GROUP "
        "BY ts) SELECT count(*) FROM interval AS d JOIN side USING (ts) WHERE d.meter = 1023 AND (d.import - "
        "d.export <> c - p OR d.import > c OR d.export > p)");
    if (wrong > 0)
        sim_fail(sim, "invariant 5, balance: %lld derived rows do not balance with their sides",
                 (long long)wrong);
}

/* ---- 6: days ---- */

static void days(struct sim *sim)
{
    if (record_ask(
            sim, "SELECT count(*) FROM day WHERE (import, export, estimated, 1) IS NOT (SELECT sum(import), "
                 "sum(export), sum(estimated), sum(unobserved) <= day.unobserved FROM interval AS i WHERE "
                 "i.meter = day.meter AND ts >= from_s AND ts < to_s)") > 0)
        sim_fail(sim, "invariant 6, days: a closed day is not the sum of its rows");
    record_check_curves(sim);
    if (record_ask(sim,
                   "SELECT count(*) FROM day AS a JOIN day AS b ON b.meter = a.meter AND b.day = a.day + 1 "
                   "WHERE a.to_s <> b.from_s") > 0)
        sim_fail(sim, "invariant 6, days: two days do not meet");
    int64_t holes =
        record_ask(sim,
                   "SELECT count(*) FROM (SELECT lead(ts) OVER (PARTITION BY meter ORDER BY ts) - ts "
                   "AS length, ts FROM interval WHERE meter < 1000) WHERE length > %d - ts %% %d",
                   (int)sim->longest_s, (int)sim->longest_s);
    if (holes > 0)
        sim_fail(sim, "invariant 6, days: %lld holes between rows", (long long)holes);
}

/* ---- 7: dates ---- */

static void dates(struct sim *sim)
{
    if (!sim->collect->date.trusted)
        sim_fail(sim, "invariant 7, dates: the clock is right and not trusted");
    int64_t newest_s = record_ask(sim, "SELECT coalesce(max(ts), 0) FROM interval WHERE meter < 1000");
    if (!sim->clock_stepped && newest_s > sim_now_ms(sim) / 1000)
        sim_fail(sim, "invariant 7, dates: a row is dated %lld s later than now",
                 (long long)(newest_s - sim_now_ms(sim) / 1000));
    if (record_ask(sim, "SELECT count(*) FROM held WHERE boot = '%s'", sim->boot) > 0)
        sim_fail(sim,
                 "invariant 7, dates: readings of this boot wait for a date though its clock is trusted");
}

/* ---- 8: never negative; one open run ---- */

static void never_negative(struct sim *sim)
{
    if (record_ask(sim, "SELECT count(*) FROM interval WHERE import < 0 OR export < 0") > 0)
        sim_fail(sim, "invariant 8, no invented energy: a row is negative");
    if (record_ask(sim, "SELECT count(*) FROM (SELECT 1 FROM run WHERE ended IS NULL GROUP BY meter, counter "
                        "HAVING count(*) > 1)") > 0)
        sim_fail(sim, "invariant 8, no invented energy: a counter has two open runs");
    if (record_ask(sim, "SELECT count(*) - count(DISTINCT meter || ' ' || counter || ' ' || from_ms || ' ' "
                        "|| first_raw) FROM run WHERE "
                        "meter < 1000 AND began <> 'settings'") > 0)
        sim_fail(sim, "invariant 8, no invented energy: a run is in the record twice");
}

/* ---- 10: memory ---- */

static void memory(struct sim *sim)
{
    if (sim->allocations > 0)
        sim_fail(sim, "invariant 10, memory: our own code allocated %lld times between turns",
                 (long long)sim->allocations);
}

void invariants_check(struct sim *sim)
{
    sim_turn(sim); /* takes what the buses have brought */
    if (sim->collect->failing || !sim->collect->store)
        sim_fail(sim, "the record is not written though the disk is well");
    conservation(sim);
    invariants_look(sim);
    provenance(sim);
    balance(sim);
    balance_by_row(sim);
    days(sim);
    dates(sim);
    never_negative(sim);
    memory(sim);
    record_load(sim, &now);
    for (int i = 0; i < sim->config.meter_count; i++)
        invariant_rows(sim, i, &now);
    if (record_ask(sim, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'") > 0)
        sim_fail(sim, "the record is damaged");
}
