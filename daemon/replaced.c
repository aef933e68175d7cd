/* The record's file was removed, or another one put in its place (a copy, a
 * salvaged record) while it was open: SQLite would go on writing into a file
 * that nobody finds any more. What was written into that one is made whole
 * there; the accounts are taken up from the file at the path, as at a start. */
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>

#include "collect_state.h"
#include "log.h"

static struct record_file file_at(const struct collect *collect)
{
    struct statx about;
    if (statx(AT_FDCWD, collect->setup.database, 0, STATX_INO | STATX_BTIME, &about) != 0)
        return (struct record_file){ .known = false };
    return (struct record_file){ .known = true,
                                 .device = { about.stx_dev_major, about.stx_dev_minor },
                                 .number = about.stx_ino,
                                 .born = { about.stx_btime.tv_sec, about.stx_btime.tv_nsec } };
}

static bool is_other(const struct collect *collect)
{
    struct record_file now = file_at(collect);
    return collect->file.known && (!now.known || memcmp(&now, &collect->file, sizeof now) != 0);
}

void replaced_remember(struct collect *collect)
{
    collect->file = file_at(collect);
    collect->replaced = false;
}

void replaced_look(struct collect *collect)
{
    bool before = collect->replaced;
    collect->replaced = is_other(collect);
    if (before || !collect->replaced)
        return;
    log_write(LOG_WARN, "the record '%s' was removed or replaced: going on with the file at its place",
              collect->setup.database);
    outbox_event(collect, "record", 0, NULL, "the file was removed or replaced while it was open");
    if (!collect->store)
        return;
    store_detach(collect->store);
    store_close(collect->store);
    collect->store = NULL;
}

/* Do the waiting rows of a series begin where this record ends? Where it has nothing of the meter they do. */
static int continues(struct collect *collect, const struct meter *meter, int which)
{
    const struct series *series = &meter->series[which];
    const struct outbox *outbox = &collect->outbox;
    int64_t sum[COUNTER_COUNT] = { 0 }, first_s = 0, end_s;
    for (int32_t i = 0; i < outbox->row_count; i++) {
        const struct waiting_row *waiting = &outbox->rows[i];
        if (waiting->meter != meter->index || waiting->which != which)
            continue;
        first_s = first_s == 0 ? waiting->row.start_s : first_s;
        for (int32_t k = 0; k < series->check.count; k++)
            sum[series->check.counters[k]] += waiting->row.energy[series->check.counters[k]];
    }
    int result =
        store_newest(collect->store, meter->config->number, collect->config->site.interval_s, &end_s);
    if (result != STORE_OK || end_s > first_s)
        return result;
    for (int32_t k = 0; k < series->check.count; k++) {
        int c = series->check.counters[k];
        struct store_open_run run;
        int found =
            store_read_run(collect->store, meter->config->number, c, collect->config->site.interval_s, &run);
        if (found < 0)
            return found;
        int64_t account = series->book.fixed[k] - meter->counters[c].offset - sum[c];
        if (found == 1 && (run.frontier_s != first_s || run.account != account))
            return 0;
    }
    return 1;
}

/* Keeps those waiting rows that this record can go on with; the registers have the energy of the others. */
static int sort_rows(struct collect *collect)
{
    bool keep[CONFIG_MAX_METERS][SERIES_COUNT] = { 0 };
    struct outbox *outbox = &collect->outbox;
    int32_t kept = 0;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        for (int which = 0; which < SERIES_COUNT; which++) {
            int result = continues(collect, &collect->meters[m], which);
            if (result < 0)
                return result;
            keep[m][which] = result == 1;
        }
    for (int32_t i = 0; i < outbox->row_count; i++)
        if (outbox->rows[i].meter >= 0 && keep[outbox->rows[i].meter][outbox->rows[i].which])
            outbox->rows[kept++] = outbox->rows[i];
    outbox->row_count = kept;
    return STORE_OK;
}

/* The runs, factors and settings that were known are those of the other file. */
static void forget(struct collect *collect)
{
    struct outbox *outbox = &collect->outbox;
    for (int32_t m = 0; m < collect->config->meter_count; m++)
        meter_forget(&collect->meters[m]);
    derived_init(collect);
    outbox->ended_count = 0;
    outbox->drop_held = false;
    outbox->clock = collect->date.trusted;
    outbox->clock_from_ms = outbox_now_ms(collect);
    collect->in_doubt = collect->redate_doubt = collect->cut_off = false;
    collect->corrections_read = false;
    collect->started_s = collect->newest_s = 0;
}

int replaced_take_up(struct collect *collect)
{
    int result = STORE_OK;
    if (!collect->replaced && !is_other(collect))
        return STORE_OK;
    /* a file that fails here is looked at again from the beginning */
    result = sort_rows(collect);
    if (result != STORE_OK)
        return result;
    forget(collect);
    result = resume_settings(collect);
    collect->committed_end_s = collect->newest_s;
    if (result == STORE_OK)
        refining_start(collect);
    return result;
}
