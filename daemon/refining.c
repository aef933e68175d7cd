/* Between commits: long gaps that are over get a better shape than a line. */
#include "collect_state.h"
#include "log.h"
#include "refine.h"

/* Gaps older than this were placed by the process that stored them, or never will be. */
#define LOOK_BACK_S (INT64_C(40) * 86400)

void refining_start(struct collect *collect)
{
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        collect->refine_from_s[i] = collect->newest_s - LOOK_BACK_S;
    collect->refine_due = true;
}

/* One gap of any meter. Returns 1, 0 or a failure. */
static int refine_one(struct collect *collect, struct refine *refine)
{
    struct refined done;
    for (int32_t i = 0; i < collect->config->meter_count; i++) {
        struct meter *meter = &collect->meters[i];
        if (meter->config->role == ROLE_WEATHER)
            continue;
        int result = refine_gap(refine, i, &collect->refine_from_s[i], &done);
        if (result == 0)
            continue;
        if (result == 1) {
            log_write(LOG_INFO, "meter %d: a gap of %.1f h was placed along its shape",
                      (int)meter->config->number, (double)(done.to_s - done.from_s) / 3600);
            for (int c = 0; c < 2; c++)
                collect->derived.account[c] += done.derived[c];
            result = resume_today(collect, meter);
            return result == STORE_OK ? 1 : result;
        }
        return result;
    }
    return 0;
}

void refining_turn(struct collect *collect)
{
    struct refine refine;
    if (!collect->refine_due || !collect->store || collect->failing || collect->outbox.row_count > 0)
        return;
    int result = refine_init(&refine, collect->store, collect->config, collect->civil);
    if (result == STORE_OK)
        result = refine_one(collect, &refine);
    refine_finish(&refine);
    if (result < 0)
        log_write(LOG_WARN, "cannot place a gap: %s", store_why(collect->store));
    /* A file that failed is closed: whether the transaction is in it is seen when it is opened again. */
    if (result == STORE_IO || result == STORE_CORRUPT) {
        store_close(collect->store);
        collect->store = NULL;
    }
    collect->refine_due = result == 1;
}
