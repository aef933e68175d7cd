#include "timeline.h"

#include <inttypes.h>
#include <math.h>

/* Wall ms since ready. */
static void advance(struct timeline *timeline, int64_t elapsed_ms)
{
    timeline->panel->elapsed_ms = elapsed_ms;
    counting_advance(timeline->panel->counting, (int64_t)floor((double)elapsed_ms * timeline->speed));
}

void timeline_init(struct timeline *timeline, struct panel *panel, double speed, int64_t now_us,
                   int64_t wall_ms, FILE *truth, int64_t truth_every_ms)
{
    const struct scenario *scenario = panel->scenario;
    *timeline = (struct timeline){ .panel = panel,
                                   .speed = speed,
                                   .start_us = now_us,
                                   .start_wall_ms = wall_ms,
                                   .truth = truth,
                                   .truth_every_ms = truth_every_ms,
                                   .truth_next_ms = INT64_MAX };
    for (int i = 0; i < scenario->meter_count; i++)
        for (int k = 0; k < FAULT_MAX; k++) {
            const struct fault *fault = &scenario->meters[i].faults[k];
            bool wanted = k < scenario->meters[i].fault_count &&
                          (fault_infos[fault->kind].where & FAULT_OF_COUNTER) != 0;
            timeline->fault_next_ms[i][k] = wanted ? llround(fault->from * 1000) : INT64_MAX;
        }
    if (truth == NULL)
        return;
    timeline->truth_next_ms = wall_ms - wall_ms % truth_every_ms + truth_every_ms;
    fprintf(truth, "utc_s,meter,import_mwh,export_mwh,register_import_mwh,register_export_mwh\n");
    timeline_write_truth(timeline);
}

void timeline_write_truth(const struct timeline *timeline)
{
    const struct panel *panel = timeline->panel;
    int64_t wall_ms = timeline->start_wall_ms + panel->elapsed_ms;
    if (timeline->truth == NULL)
        return;
    for (int i = 0; i < panel->scenario->meter_count; i++) {
        const struct scenario_meter *meter = &panel->scenario->meters[i];
        struct shown shown;
        counting_show(panel->counting, i, &shown);
        fprintf(timeline->truth, "%" PRId64 ".%03d,%s,%" PRId64 ",%" PRId64 ",%" PRId64 ",%" PRId64 "\n",
                wall_ms / 1000, (int)(wall_ms % 1000), meter->name,
                counting_energy(panel->counting, i, Q_ACTIVE_IMPORT),
                counting_energy(panel->counting, i, Q_ACTIVE_EXPORT),
                layout_register_value(&meter->layout, &shown, Q_ACTIVE_IMPORT),
                layout_register_value(&meter->layout, &shown, Q_ACTIVE_EXPORT));
    }
    fflush(timeline->truth);
}

/* The earliest reset or exchange still to come: whose it is, and when. */
static int64_t next_fault(const struct timeline *timeline, int *meter, int *index)
{
    int64_t next = INT64_MAX;
    for (int i = 0; i < timeline->panel->scenario->meter_count; i++)
        for (int k = 0; k < timeline->panel->scenario->meters[i].fault_count; k++)
            if (timeline->fault_next_ms[i][k] < next) {
                next = timeline->fault_next_ms[i][k];
                *meter = i;
                *index = k;
            }
    return next;
}

static void apply_fault(struct timeline *timeline, int meter, int index)
{
    const struct fault *fault = &timeline->panel->scenario->meters[meter].faults[index];
    int64_t *next = &timeline->fault_next_ms[meter][index];
    if (fault->kind == FAULT_EXCHANGE)
        counting_restart(timeline->panel->counting, meter, fault->import_wh, fault->export_wh, fault->serial);
    else
        counting_restart(timeline->panel->counting, meter, 0, 0, NULL);
    *next = fault->every > 0 ? *next + llround(fault->every * 1000) : INT64_MAX;
    if (fault->to >= 0 && *next >= llround(fault->to * 1000))
        *next = INT64_MAX;
}

void timeline_catch_up(struct timeline *timeline, int64_t now_us)
{
    int64_t elapsed_ms = (now_us - timeline->start_us) / 1000;
    int meter = 0, index = 0;
    for (;;) {
        int64_t fault_ms = next_fault(timeline, &meter, &index);
        int64_t truth_ms = timeline->truth_next_ms == INT64_MAX
                               ? INT64_MAX
                               : timeline->truth_next_ms - timeline->start_wall_ms;
        int64_t next_ms = fault_ms < truth_ms ? fault_ms : truth_ms;
        if (next_ms > elapsed_ms)
            break;
        advance(timeline, next_ms);
        if (fault_ms == next_ms) {
            apply_fault(timeline, meter, index);
        } else {
            timeline_write_truth(timeline);
            timeline->truth_next_ms += timeline->truth_every_ms;
        }
    }
    advance(timeline, elapsed_ms);
}

int64_t timeline_next(const struct timeline *timeline)
{
    /* counters can be brought up to any instant later; only the truth's readers wait for it */
    if (timeline->truth_next_ms == INT64_MAX)
        return INT64_MAX;
    return timeline->start_us + (timeline->truth_next_ms - timeline->start_wall_ms) * 1000;
}
