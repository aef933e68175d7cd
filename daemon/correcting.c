/* Corrections in the logbook, carried into the record. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "collect_state.h"
#include "log.h"
#include "store_correct.h"

enum {
    BLOCKS_PER_COMMIT = 2, /* what is corrected along with new rows */
    BLOCKS_PER_TURN = 16,
    RETRY_MS = 60000,
};

static int32_t number_of(const struct config *config, const char *name)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (strcmp(config->meters[i].name, name) == 0)
            return config->meters[i].number;
    return 0;
}

/* FNV-1a. */
static uint64_t hash_bytes(uint64_t hash, const void *bytes, size_t size)
{
    const unsigned char *at = bytes;
    for (size_t i = 0; i < size; i++)
        hash = (hash ^ at[i]) * UINT64_C(0x100000001b3);
    return hash;
}

static void make_hash(struct store_correction *wanted)
{
    const struct correction *c = &wanted->correction;
    const int64_t facts[] = { wanted->at_s, (int64_t)c->what, c->meter, c->other,
                              c->from_s,    c->to_s,          c->up,    c->down };
    uint64_t hash = hash_bytes(UINT64_C(0xcbf29ce484222325), facts, sizeof facts);
    snprintf(wanted->hash, sizeof wanted->hash, "%016" PRIx64, hash);
}

/* "what=ratio from=... to=... old=100/5 new=150/5" */
static void put_text(const struct collect *collect, const struct logbook_entry *entry,
                     struct store_correction *wanted)
{
    static const enum logbook_key keys[] = { LOGBOOK_WHAT,      LOGBOOK_WITH, LOGBOOK_RATIO_OLD,
                                             LOGBOOK_RATIO_NEW, LOGBOOK_FROM, LOGBOOK_TO };
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
    correction->up = correction->down = 1;
    if (correction->what != CORRECT_RATIO)
        return;
    correction->up = (is >> 32) * (old & UINT32_MAX);
    correction->down = (is & UINT32_MAX) * (old >> 32);
    int64_t common = divisor(correction->up, correction->down);
    correction->up /= common;
    correction->down /= common;
}

static bool take_entry(const struct collect *collect, const struct logbook_entry *entry,
                       struct store_correction *wanted)
{
    if (entry->kind != LOGBOOK_CORRECT || entry->refused || entry->revoked)
        return false;
    struct correction *correction = &wanted->correction;
    *wanted = (struct store_correction){ .at_s = entry->at_s };
    correction->what = (enum logbook_what)entry->number[LOGBOOK_WHAT];
    correction->meter = number_of(collect->config, entry->subject);
    correction->from_s = entry->number[LOGBOOK_FROM];
    correction->to_s = entry->number[LOGBOOK_TO];
    if (correction->what == CORRECT_SWAPPED)
        correction->other = number_of(collect->config, entry->word[LOGBOOK_WITH - LOGBOOK_NUMBERS]);
    take_ratio(correction, entry);
    make_hash(wanted);
    put_text(collect, entry, wanted);
    return correction->meter > 0 && correction->other != correction->meter;
}

/* The corrections that the logbook asks for; the same said twice is one. -1: out of memory. */
static int32_t find_wanted(const struct collect *collect, struct store_correction **out)
{
    const struct logbook *logbook = collect->setup.logbook;
    int32_t count = 0;
    *out = calloc((size_t)logbook->count + 1, sizeof **out);
    for (int32_t i = 0; *out && i < logbook->count; i++) {
        struct store_correction *wanted = &(*out)[count];
        bool known = !take_entry(collect, &logbook->entries[i], wanted);
        for (int32_t k = 0; k < count && !known; k++)
            known = strcmp((*out)[k].hash, wanted->hash) == 0;
        count += !known;
    }
    return *out ? count : -1;
}

static int told(void *self, bool taken, int32_t meter, const char *entry)
{
    struct collect *collect = self;
    char text[160];
    int64_t at_ms = collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect)) : STORE_NULL;
    snprintf(text, sizeof text, "%s: %s", taken ? "taken up" : "withdrawn", entry);
    log_write(LOG_NOTE, "meter %d: correction %s", (int)meter, text);
    return store_add_event(collect->store, at_ms, collect->boot, outbox_now_ms(collect), "correction", meter,
                           NULL, 1, text);
}

static int put(struct collect *collect, const struct store_correction *wanted, int32_t count)
{
    int64_t now_ms = collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect)) : STORE_NULL;
    int same = store_corrections_are(collect->store, wanted, count);
    if (same != 0)
        return same < 0 ? same : STORE_OK;
    int result = store_begin(collect->store);
    if (result == STORE_OK)
        result = store_put_corrections(collect->store, wanted, count, now_ms, told, collect);
    if (result == STORE_OK)
        return store_commit(collect->store);
    store_rollback(collect->store);
    return result;
}

static void complain(struct collect *collect, int result)
{
    if (result < 0 && collect->correcting_retry_ms == 0)
        log_write(LOG_WARN, "cannot apply corrections: %s", store_why(collect->store));
    collect->correcting_retry_ms = result < 0 ? outbox_now_ms(collect) + RETRY_MS : 0;
}

/* After a start or when people wrote more. Without a logbook, or where it cannot be read, what is
 * in force stays. */
static int read_corrections(struct collect *collect)
{
    struct store_correction *wanted;
    int result = STORE_OK;
    if (collect->setup.logbook) {
        int32_t count = find_wanted(collect, &wanted);
        result = count < 0 ? STORE_FAILED : put(collect, wanted, count);
        free(wanted);
    }
    collect->corrections_read = result == STORE_OK;
    return result;
}

void correcting_commit(struct collect *collect)
{
    complain(collect, store_correct_some(collect->store, BLOCKS_PER_COMMIT));
}

static int correct_blocks(struct collect *collect)
{
    int64_t block;
    int due = store_correction_due(collect->store, &block);
    if (due != 1)
        return due;
    int result = store_begin(collect->store);
    if (result == STORE_OK) {
        int done = store_correct_some(collect->store, BLOCKS_PER_TURN);
        result = done < 0 ? done : store_commit(collect->store);
    }
    if (result < 0)
        store_rollback(collect->store);
    return result;
}

void correcting_turn(struct collect *collect)
{
    if (!collect->store || collect->failing || collect->correcting_retry_ms > outbox_now_ms(collect))
        return;
    int result = collect->corrections_read ? STORE_OK : read_corrections(collect);
    if (result == STORE_OK)
        result = correct_blocks(collect);
    complain(collect, result);
    /* As in refining: whether the transaction is in a file that failed is seen when it is opened again. */
    if (result == STORE_IO || result == STORE_CORRUPT) {
        store_close(collect->store);
        collect->store = NULL;
    }
}
