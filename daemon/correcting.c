/* Corrections in the logbook, carried into the record. */
#include <stdio.h>
#include <stdlib.h>

#include "collect_state.h"
#include "corrections.h"
#include "log.h"

enum {
    BLOCKS_PER_COMMIT = 2, /* what is corrected along with new rows */
    BLOCKS_PER_TURN = 16,
    ROWS_PER_TURN = 40000, /* answers wait for so many */
    RETRY_MS = 150000,     /* a commit that failed is tried again before, without */
};

/* "" for one that is configured no more. */
static const char *name_of(const struct config *config, int32_t number)
{
    for (int32_t i = 0; i < config->meter_count; i++)
        if (config->meters[i].number == number)
            return config->meters[i].name;
    return "";
}

static int told(void *self, bool taken, int32_t meter, const char *entry)
{
    struct collect *collect = self;
    char text[160];
    int64_t at_ms = collect->date.trusted ? date_utc_ms(&collect->date, outbox_now_ms(collect)) : STORE_NULL;
    snprintf(text, sizeof text, "%s: %s", taken ? "taken up" : "withdrawn", entry);
    log_write(LOG_NOTE, "meter %d '%s': correction %s", (int)meter, name_of(collect->config, meter), text);
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

/* After a start, when people wrote more, when a register run ended. Without a logbook, or where it
 * cannot be read, what is in force stays. */
static int read_corrections(struct collect *collect)
{
    int result = STORE_OK;
    if (collect->corrections) {
        int32_t count = corrections_wanted(collect, collect->corrections);
        result = count < 0 ? count : put(collect, collect->corrections, count);
    }
    collect->corrections_read = result == STORE_OK;
    collect->corrections_none = false;
    return result;
}

void correcting_logbook(struct collect *collect)
{
    const struct logbook *logbook = collect->setup.logbook;
    int32_t count = 1;
    for (int32_t i = 0; logbook && i < logbook->count; i++)
        count += corrections_may_be(&logbook->entries[i]);
    free(collect->corrections);
    collect->corrections = logbook ? calloc((size_t)count, sizeof *collect->corrections) : NULL;
    if (logbook && !collect->corrections)
        log_write(LOG_ERROR, "out of memory: the logbook's corrections are not read");
    collect->corrections_read = false;
}

int correcting_commit(struct collect *collect)
{
    if (collect->corrections_none || collect->correcting_retry_ms > outbox_now_ms(collect))
        return STORE_OK;
    int result = store_correct_some(collect->store, BLOCKS_PER_COMMIT);
    complain(collect, result);
    /* A full or failing disk takes all of the transaction along. */
    return result < 0 && !store_is_begun(collect->store) ? result : STORE_OK;
}

static int32_t blocks_per_turn(const struct config *config)
{
    int32_t blocks = ROWS_PER_TURN / ((config->meter_count + 1) * (86400 / config->site.interval_s));
    return blocks < 1 ? 1 : blocks < BLOCKS_PER_TURN ? blocks : BLOCKS_PER_TURN;
}

static int correct_blocks(struct collect *collect)
{
    int64_t block;
    int due = store_correction_due(collect->store, &block);
    if (due == 0)
        collect->corrections_none = store_corrections_are(collect->store, NULL, 0) == 1;
    if (due != 1)
        return due;
    int result = store_begin(collect->store);
    if (result == STORE_OK) {
        int done = store_correct_some(collect->store, blocks_per_turn(collect->config));
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
    if (result == STORE_OK && !collect->corrections_none)
        result = correct_blocks(collect);
    complain(collect, result);
    /* As in refining: whether the transaction is in a file that failed is seen when it is opened again. */
    if (result == STORE_IO || result == STORE_CORRUPT) {
        store_close(collect->store);
        collect->store = NULL;
    }
}
