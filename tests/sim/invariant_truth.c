/* Rows and accounts against the truth that a meter knows. */
#include "invariants.h"
#include "schema.h"
#include "sun.h"

/* ---- 1 and 8: what went through is in the record, no more and no less ---- */

/* What the record and the open part say the register would show had it never been set anew. */
static int64_t recorded(struct sim *sim, int meter, int counter)
{
    const struct series *series = &sim->collect->meters[meter].series[SERIES_ACTIVE];
    int32_t position = series_position(series, counter);
    int64_t open =
        position >= 0 && series->book.open ? series->book.to[position] - series->book.fixed[position] : 0;
    for (int32_t r = 0; r < sim->collect->outbox.row_count; r++)
        if (sim->collect->outbox.rows[r].meter == meter)
            open += sim->collect->outbox.rows[r].row.energy[counter];
    return open +
           record_ask(sim,
                      "SELECT coalesce((SELECT base FROM run WHERE meter = %d AND counter = %d ORDER BY "
                      "id), 0) + coalesce((SELECT sum(%s) FROM interval WHERE meter = %d), 0)",
                      meter + 1, counter, counter ? "export" : "import", meter + 1);
}

static void held_to(struct sim *sim, int meter, int counter, int64_t total, int64_t truth,
                    const struct sim_allowance *allow, int64_t step, int64_t modulus)
{
    /* Where a register rolled over before its first run was in the record. */
    while (modulus > 0 && truth - total > modulus / 2)
        total += modulus;
    if (!(allow->lost && allow->replaced) && total - truth > step + allow->more)
        sim_fail(
            sim,
            "invariant 8, no invented energy: meter %d counter %d: %lld recorded, %lld true: %lld too much",
            meter + 1, counter, (long long)total, (long long)truth, (long long)(total - truth));
    /* After a false date a restart may take what has passed since for less time than it was. */
    if (!allow->lost && !sim->clock_stepped && truth - total > step + allow->less)
        sim_fail(sim,
                 "invariant 1, conservation: meter %d counter %d: %lld recorded, %lld true: %lld missing",
                 meter + 1, counter, (long long)total, (long long)truth, (long long)(truth - total));
}

void invariant_totals(struct sim *sim, int meter)
{
    struct sim_meter *m = &sim->meters[meter];
    int64_t total[2], truth[2];
    for (int c = 0; c < 2; c++) {
        total[c] = recorded(sim, meter, c);
        truth[c] = m->truth.first[c] + m->heard[c];
    }
    if (sim->turned) { /* energies changed sides: their sum is what holds */
        struct sim_allowance both = { .more = m->allow[0].more + m->allow[1].more,
                                      .less = m->allow[0].less + m->allow[1].less,
                                      .lost = m->allow[0].lost || m->allow[1].lost,
                                      .replaced = m->allow[0].replaced || m->allow[1].replaced };
        if (!m->allow[0].unknown && !m->allow[1].unknown)
            held_to(sim, meter, 0, total[0] + total[1], truth[0] + truth[1], &both,
                    truth_step(&m->truth, 0) + truth_step(&m->truth, 1), m->truth.modulus);
        return;
    }
    for (int c = 0; c < 2; c++)
        if (!m->allow[c].unknown)
            held_to(sim, meter, c, total[c], truth[c], &m->allow[c], truth_step(&m->truth, c),
                    m->truth.modulus);
}

/* ---- 3 and 7: each row by itself ---- */

/* What is true of the slots that a row covers. */
struct covered {
    int64_t unwatched_ms, unsure_ms;
    bool blurred, vague, still;
};

static struct covered covered(const struct truth *truth, int64_t from_ms, int64_t to_ms)
{
    struct covered all = { 0 };
    int64_t first = (from_ms - truth->begin_ms) / TRUTH_SLOT_MS,
            end = (to_ms - truth->begin_ms) / TRUTH_SLOT_MS;
    all.blurred = from_ms < truth->begin_ms || end > truth->slot_count;
    for (int64_t s = first; s < end && !all.blurred; s++) {
        all.unwatched_ms += truth->slots[s].unwatched_ms;
        all.unsure_ms += truth->slots[s].unsure_ms;
        all.blurred = truth->slots[s].blurred;
        all.vague = all.vague || truth->slots[s].vague;
        all.still = all.still || truth->slots[s].still;
    }
    return all;
}

static bool is_open(const struct truth_slot *slot)
{
    return slot->unwatched_ms > 0 || slot->unsure_ms > 0 || slot->blurred;
}

/* The nearest instants, before and after, at which somebody watched; where that is known only in part, so
 * much further. */
static int64_t watched_before(const struct truth *truth, int64_t at_ms, int64_t further_ms)
{
    int64_t slot = (at_ms - truth->begin_ms) / TRUTH_SLOT_MS - 1;
    while (slot >= 0 && is_open(&truth->slots[slot]))
        slot--;
    int64_t found_ms = truth->begin_ms + (slot + 1) * TRUTH_SLOT_MS;
    return slot >= 0 && truth->slots[slot].vague ? found_ms - further_ms : found_ms;
}

static int64_t watched_after(const struct truth *truth, int64_t at_ms, int64_t further_ms)
{
    int64_t slot = (at_ms - truth->begin_ms + TRUTH_SLOT_MS - 1) / TRUTH_SLOT_MS;
    while (slot < truth->slot_count && is_open(&truth->slots[slot]))
        slot++;
    int64_t found_ms = truth->begin_ms + slot * TRUTH_SLOT_MS;
    return slot < truth->slot_count && truth->slots[slot].vague ? found_ms + further_ms : found_ms;
}

/* Did a register jitter between an instant and another, or in the minute before? */
static bool was_behind(const struct truth *truth, int64_t from_ms, int64_t to_ms)
{
    int64_t slot = (from_ms - truth->begin_ms) / TRUTH_SLOT_MS - 1;
    bool behind = false;
    for (slot = slot > 0 ? slot : 0; slot < truth->slot_count && !behind; slot++)
        behind = truth->begin_ms + slot * TRUTH_SLOT_MS < to_ms && truth->slots[slot].behind;
    return behind;
}

/* A production meter may sleep then: its silence is no gap. */
static bool may_sleep(const struct sim *sim, const struct record_row *row)
{
    enum meter_role role = sim->config.meters[row->meter - 1].role;
    struct sun_place place = { sim->config.site.latitude, sim->config.site.longitude };
    return (role == ROLE_PRODUCTION || role == ROLE_PART) &&
           sun_position(&place, row->start_s * 1000).elevation < 6;
}

/* Observed seconds against the times at which the meter really answered. */
static void observed(struct sim *sim, const struct record_row *row, const struct record_row *next,
                     const struct covered *true_ones)
{
    const int64_t rounding_ms = 1000;
    int64_t said_ms = row->unobserved_s * 1000;
    if (true_ones->blurred || true_ones->vague || row->how & (HOW_BACK_DATED | HOW_CLOCK | HOW_RE_DATED) ||
        ((row->how | next->how) & HOW_METHOD_MASK) == HOW_ASLEEP)
        return;
    if (said_ms > true_ones->unwatched_ms + true_ones->unsure_ms + rounding_ms)
        sim_fail(
            sim,
            "invariant 3, provenance: meter %d row %lld: %lld s said to be unobserved, the meter was silent "
            "for %lld ms",
            (int)row->meter, (long long)row->start_s, (long long)row->unobserved_s,
            (long long)true_ones->unwatched_ms);
    if (said_ms >= true_ones->unwatched_ms - rounding_ms || true_ones->still || may_sleep(sim, row))
        return;
    sim_fail(
        sim,
        "invariant 3, provenance: meter %d row %lld: %lld s said to be unobserved, the meter was silent for "
        "%lld ms",
        (int)row->meter, (long long)row->start_s, (long long)row->unobserved_s,
        (long long)true_ones->unwatched_ms);
}

/* The account at a row's end lies between what was true when somebody watched before and after it. */
static void dated(struct sim *sim, struct sim_meter *meter, const struct record_row *row, int64_t end_s,
                  int way, int64_t account, const struct covered *true_ones)
{
    const struct truth *truth = &meter->truth;
    const struct sim_allowance *allow = &meter->allow[way];
    int64_t around_ms = sim_gap_ms(sim), further_ms = 2000 * sim->longest_s;
    if (true_ones->blurred || allow->unknown || sim->turned)
        return;
    if (row->how & HOW_BACK_DATED || true_ones->vague) /* held once per interval of boot time */
        around_ms += further_ms;
    int64_t low_ms = watched_before(truth, end_s * 1000 - around_ms, further_ms);
    int64_t low = truth_energy(truth, way, low_ms);
    int64_t high = truth_energy(truth, way, watched_after(truth, end_s * 1000 + around_ms, further_ms));
    int64_t step = truth_step(truth, way);
    int64_t back = was_behind(truth, low_ms, end_s * 1000) ? TRUTH_JITTER_STEPS * step : 0;
    if ((!(allow->lost && allow->replaced) && account > high + step + allow->more) ||
        (!allow->lost && !sim->clock_stepped && account < low - step - back - allow->less))
        sim_fail(sim,
                 "invariant 7, dates: meter %d counter %d: %lld mWh recorded up to %lld, between %lld and "
                 "%lld are "
                 "true",
                 (int)row->meter, way, (long long)account, (long long)end_s, (long long)low, (long long)high);
}

static int64_t of_first_run(struct sim *sim, int meter, int way, const char *column)
{
    return record_ask(
        sim, "SELECT coalesce((SELECT %s FROM run WHERE meter = %d AND counter = %d ORDER BY id), 0)", column,
        meter + 1, way);
}

void invariant_rows(struct sim *sim, int meter, const struct record *record)
{
    struct sim_meter *m = &sim->meters[meter];
    int64_t account[2] = { 0 }, from_s[2];
    int64_t last = -1;
    for (int way = 0; way < 2; way++) {
        account[way] = of_first_run(sim, meter, way, "base") - m->truth.first[way];
        from_s[way] = of_first_run(sim, meter, way, "base_s");
    }
    for (int way = 0; way < 2; way++) /* rolled over before its first run was in the record */
        while (m->truth.modulus > 0 && account[way] < -m->truth.modulus / 2)
            account[way] += m->truth.modulus;
    for (int64_t i = 0; i < record->count; i++) {
        if (record->rows[i].meter != meter + 1)
            continue;
        if (last >= 0) {
            const struct record_row *row = &record->rows[last];
            int64_t end_s = record->rows[i].start_s;
            struct covered true_ones = covered(&m->truth, row->start_s * 1000, end_s * 1000);
            observed(sim, row, &record->rows[i], &true_ones);
            for (int way = 0; way < 2; way++) {
                if (row->start_s < from_s[way])
                    continue; /* the map had no such counter yet */
                account[way] += row->energy[way];
                dated(sim, m, row, end_s, way, account[way], &true_ones);
            }
        }
        last = i;
    }
}
