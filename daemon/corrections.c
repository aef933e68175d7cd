/* The corrections that the logbook asks for, for the record. */
#include "corrections.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "muldiv.h"

/* An exchange is dated by who made it: this near to what the collector saw. */
#define NEAR_MS    (INT64_C(86400) * 1000)
/* A reading by eye may leave the decimals out. */
#define WHOLE_UNIT INT64_C(1000000) /* mWh */

/* FNV-1a over its bytes, the lowest first. */
static uint64_t hash_number(uint64_t hash, int64_t number)
{
    for (int shift = 0; shift < 64; shift += 8)
        hash = (hash ^ ((uint64_t)number >> shift & 0xff)) * UINT64_C(0x100000001b3);
    return hash;
}

static void make_hash(struct store_correction *wanted)
{
    const struct correction *c = &wanted->correction;
    const int64_t facts[] = { wanted->at_s, c->what, c->meter, c->other,    c->from_s,
                              c->to_s,      c->up,   c->down,  c->added[0], c->added[1] };
    uint64_t hash = UINT64_C(0xcbf29ce484222325);
    for (size_t i = 0; i < sizeof facts / sizeof facts[0]; i++)
        hash = hash_number(hash, facts[i]);
    snprintf(wanted->hash, sizeof wanted->hash, "%016" PRIx64, hash);
}

/* "what=ratio old=100/5 new=150/5 from=... to=..." */
static void put_text(const struct collect *collect, const struct logbook_entry *entry,
                     struct store_correction *wanted)
{
    static const enum logbook_key keys[] = { LOGBOOK_WHAT,      LOGBOOK_WITH, LOGBOOK_RATIO_OLD,
                                             LOGBOOK_RATIO_NEW, LOGBOOK_FROM, LOGBOOK_TO,
                                             LOGBOOK_OLD,       LOGBOOK_NEW,  LOGBOOK_OLD + 1,
                                             LOGBOOK_NEW + 1 };
    char value[LOGBOOK_TEXT_SIZE];
    size_t at = 0;
    for (size_t i = 0; i < sizeof keys / sizeof keys[0]; i++)
        if (logbook_value(entry, keys[i], collect->civil, value, sizeof value) && at < sizeof wanted->entry)
            at += (size_t)snprintf(wanted->entry + at, sizeof wanted->entry - at, "%s%s=%s", at ? " " : "",
                                   logbook_key_name(keys[i]), value);
}

static int64_t divisor(int64_t a, int64_t b)
{
    while (b != 0) {
        int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

/* Energies under the true ratio: what was counted with `old` belongs to `new`. */
static void take_ratio(struct correction *correction, const struct logbook_entry *entry)
{
    int64_t old = entry->number[LOGBOOK_RATIO_OLD], is = entry->number[LOGBOOK_RATIO_NEW];
    correction->up = (is >> 32) * (old & UINT32_MAX);
    correction->down = (is & UINT32_MAX) * (old >> 32);
    int64_t common = divisor(correction->up, correction->down);
    correction->up /= common;
    correction->down /= common;
}

static bool take_correct(const struct logbook_entry *entry, struct correction *correction)
{
    correction->what = (int32_t)entry->number[LOGBOOK_WHAT];
    correction->from_s = entry->number[LOGBOOK_FROM];
    correction->to_s = entry->number[LOGBOOK_TO];
    if (correction->what == CORRECT_RATIO)
        take_ratio(correction, entry);
    if (correction->what == CORRECT_SWAPPED)
        correction->other = entry->with;
    return correction->other != correction->meter;
}

/* ---- an exchanged meter of ours ---- */

static const struct config_meter *meter_of(const struct config *config, int32_t number)
{
    int32_t i = 0;
    while (config->meters[i].number != number)
        i++;
    return &config->meters[i];
}

static int64_t positive(int64_t value)
{
    return value > 0 ? value : 0;
}

/* What flowed that no reading of the collector's saw: up to the old meter's last reading, and from the
 * new one's first. -1 where what was declared cannot be. */
static int64_t unseen(const struct config_meter *meter, const struct store_change *change, int64_t old,
                      int64_t new)
{
    int64_t unit = mul_div(WHOLE_UNIT, change->last_above, change->last_below) + change->step;
    int64_t before = mul_div(old, change->last_above, change->last_below) - change->last;
    int64_t after = change->first - mul_div(new, change->first_above, change->first_below);
    int64_t most = mul_div(meter->rated_w * 1200, change->first_ms - change->last_ms, 3600000) + 2 * unit;
    if (before < -unit || after < -unit || before > most || after > most)
        return -1;
    return positive(before) + positive(after);
}

/* Takes a counter of the exchange. 1, 0 where the collector has seen no change near it, or a failure. */
static int take_register(struct collect *collect, const struct logbook_entry *entry, int32_t shown,
                         struct correction *correction)
{
    const struct config_meter *meter = meter_of(collect->config, correction->meter);
    const int64_t at_ms = entry->at_s * 1000;
    int32_t c = meter->reversed ? shown ^ 1 : shown;
    struct store_change change;
    int found = store_nearest_change(collect->store, meter->number, c, at_ms, &change);
    if (found != 1 || at_ms < change.last_ms - NEAR_MS || at_ms > change.first_ms + NEAR_MS)
        return found < 0 ? found : 0;
    correction->added[c] =
        unseen(meter, &change, entry->number[LOGBOOK_OLD + shown], entry->number[LOGBOOK_NEW + shown]);
    if (correction->added[c] < 0) {
        log_write(LOG_WARN,
                  "meter %d '%s': the exchange declared in line %d of the logbook does not fit: its %s was "
                  "read as %.3f kWh last, and as %.3f kWh then",
                  (int)meter->number, meter->name, (int)entry->line, shown ? "export" : "import",
                  (double)mul_div(change.last, change.last_below, change.last_above) / 1e6,
                  (double)mul_div(change.first, change.first_below, change.first_above) / 1e6);
        return 0;
    }
    int64_t from_s = change.last_ms / 1000, to_s = (change.first_ms + 999) / 1000;
    correction->from_s = from_s < correction->from_s ? from_s : correction->from_s;
    correction->to_s = to_s > correction->to_s ? to_s : correction->to_s;
    if (correction->to_s <= correction->from_s)
        correction->to_s = correction->from_s + 1;
    return 1;
}

static int take_exchange(struct collect *collect, const struct logbook_entry *entry,
                         struct correction *correction)
{
    int result = 1;
    correction->what = CORRECT_ADDED;
    correction->from_s = INT64_MAX;
    for (int32_t r = SEALED_IMPORT; r <= SEALED_EXPORT && result == 1; r++)
        if (entry->number[LOGBOOK_OLD + r] != LOGBOOK_NOTHING)
            result = take_register(collect, entry, r, correction);
    return result;
}

/* ---- all entries ---- */

bool corrections_may_be(const struct logbook_entry *entry)
{
    return entry->kind == LOGBOOK_CORRECT || entry->kind == LOGBOOK_EXCHANGE;
}

/* 1, 0 or a failure. */
static int take_entry(struct collect *collect, const struct logbook_entry *entry,
                      struct store_correction *wanted)
{
    struct correction *correction = &wanted->correction;
    *wanted = (struct store_correction){ .at_s = entry->at_s };
    correction->meter = entry->meter;
    correction->up = correction->down = 1;
    correction->added[0] = correction->added[1] = CORRECT_NONE;
    if (entry->refused || entry->revoked || correction->meter == 0)
        return 0;
    int result = entry->kind == LOGBOOK_CORRECT ? take_correct(entry, correction)
                                                : take_exchange(collect, entry, correction);
    make_hash(wanted);
    put_text(collect, entry, wanted);
    return result;
}

/* What an exchange adds was counted like what stands beside it: what corrects that comes after. */
int32_t corrections_wanted(struct collect *collect, struct store_correction out[])
{
    static const enum logbook_kind kinds[] = { LOGBOOK_EXCHANGE, LOGBOOK_CORRECT };
    const struct logbook *logbook = collect->setup.logbook;
    int32_t count = 0;
    for (int k = 0; k < 2; k++)
        for (int32_t i = 0; i < logbook->count; i++) {
            if (logbook->entries[i].kind != kinds[k])
                continue;
            int taken = take_entry(collect, &logbook->entries[i], &out[count]);
            if (taken < 0)
                return taken;
            for (int32_t before = 0; before < count && taken; before++)
                taken = strcmp(out[before].hash, out[count].hash) != 0;
            count += taken;
        }
    return count;
}
