/* What the buses send: registers become readings, readings pass the gate and
 * are accounted; meters and buses that come and go are noted. */
#include <stdio.h>
#include <string.h>

#include "collect_state.h"
#include "decode.h"
#include "log.h"
#include "wire.h"

/* When the last reading of a run was: before the reading that ended it, or what the record has. */
static void date_end(const struct collect *collect, const struct book *book,
                     const struct accounted *accounted, struct store_run *run, int64_t *boot_ms)
{
    *boot_ms = accounted->last_ms >= 0 ? accounted->last_ms : accounted->boot_ms;
    run->to_ms = collect->date.trusted ? date_utc_ms(&collect->date, *boot_ms) : STORE_NULL;
    if (collect->date.trusted && accounted->last_ms < 0 && run->id != 0 && book->open)
        run->to_ms = book->frontier_ms;
}

static void note_ended(struct collect *collect, const struct meter *meter, const struct book *book,
                       const struct accounted *accounted)
{
    for (int32_t i = 0; i < accounted->ended_count; i++) {
        struct store_run run = accounted->ended[i];
        int64_t boot_ms;
        date_end(collect, book, accounted, &run, &boot_ms);
        outbox_end_run(collect, &run, boot_ms);
        log_write(LOG_NOTE, "meter %d '%s': register run of %s ended: %s at %.3f kWh", (int)run.meter,
                  meter->config->name, quantity_info((enum quantity)run.counter)->name, run.ended,
                  (double)run.last / 1e6);
        outbox_event(collect, "run", run.meter, NULL, "%s: %s at %lld",
                     quantity_info((enum quantity)run.counter)->name, run.ended, (long long)run.last);
    }
}

static void account(struct collect *collect, struct meter *meter, int which, const struct reading *reading,
                    const enum run_end *ended)
{
    struct accounted accounted;
    meter_account(meter, which, reading, ended, &accounted);
    note_ended(collect, meter, &meter->series[which].book, &accounted);
    if (!collect->date.trusted) {
        dating_hold(collect, meter, which, &accounted, reading);
        return;
    }
    int64_t utc_ms = date_utc_ms(&collect->date, accounted.boot_ms);
    posting_runs(meter, which, utc_ms, accounted.account[which]);
    posting_point(collect, meter, which, utc_ms, accounted.account[which],
                  accounted.gap || meter->series[which].skipped, accounted.flags);
    meter->series[which].skipped = false;
    if (which == SERIES_ACTIVE) {
        meter_sample(meter, reading, book_start_of(&meter->series[which].book, utc_ms));
        if (collect->derived.used && collect->derived.side_of[meter->index] >= 0)
            derived_now(collect, meter, accounted.account[which]);
    }
}

/* All counters of it that are not where they stood. */
static void note_dropped(struct collect *collect, struct meter *meter, const struct check *check,
                         const struct verdict *verdict)
{
    char text[EPISODE_TEXT] = "";
    int n = 0;
    for (int32_t i = 0; i < check->count && n < (int)sizeof text; i++) {
        int c = check->counters[i];
        const struct counter_reading *read = &verdict->drop.counter[c];
        if (read->value != check->last[c].value)
            n += snprintf(text + n, sizeof text - (size_t)n, "%s%s read %lld (raw 0x%llx) after %lld",
                          n ? "; " : "", quantity_info((enum quantity)c)->name, (long long)read->value,
                          (unsigned long long)read->raw, (long long)check->last[c].value);
    }
    rejecting_note(collect, meter, EPISODE_GATE, text);
}

static void check_values(struct collect *collect, struct meter *meter, struct reading *reading)
{
    char text[EPISODE_TEXT];
    enum quantity first;
    if (check_momentary(&meter->series[SERIES_ACTIVE].check, reading, &first) == 0)
        return;
    snprintf(text, sizeof text, "%s read %lld thousandths (raw 0x%llx), not within its window",
             quantity_info(first)->name, (long long)reading->value[first],
             (unsigned long long)meter->raw[first]);
    rejecting_note(collect, meter, EPISODE_WINDOW, text);
}

static void check_counters(struct collect *collect, struct meter *meter, struct check *check,
                           struct reading *reading, struct verdict *verdict)
{
    const int64_t jitters = check->jitters;
    check_take(check, reading, verdict);
    if (verdict->dropped)
        note_dropped(collect, meter, check, verdict);
    if (check->jitters != jitters)
        rejecting_note(collect, meter, EPISODE_JITTER, "a counter a step or two back: left where it stood");
}

static void take_reading(struct collect *collect, struct meter *meter)
{
    struct reading *reading = &meter->pending;
    if (reading->has[Q_CLOCK])
        anchors_reading(collect, meter, reading);
    supply_reading(collect, meter, reading);
    check_values(collect, meter, reading);
    meter->read_ms = reading->boot_ms;
    meter->power = reading->has[Q_POWER] ? reading->value[Q_POWER] : STORE_NULL;
    meter->voltage = reading->has[Q_VOLTAGE_L1] ? reading->value[Q_VOLTAGE_L1] : STORE_NULL;
    for (int which = 0; which < SERIES_COUNT; which++) {
        struct series *series = &meter->series[which];
        if ((which != SERIES_ACTIVE && series->mask == 0) || !series_complete(series, reading))
            continue;
        struct verdict verdict;
        check_counters(collect, meter, &series->check, reading, &verdict);
        for (int32_t i = 0; i < verdict.accepted; i++)
            account(collect, meter, which, &verdict.readings[i], i == 0 ? verdict.ended : NULL);
    }
}

static void take_text(struct collect *collect, struct meter *meter, const struct message *message)
{
    const struct request *request = &message->plan->requests[message->request];
    for (int i = 0; i < request->point_count; i++) {
        const struct point *point = &message->plan->points[request->first_point + i];
        char text[TEXT_SIZE];
        if (point->quantity != Q_SERIAL_NUMBER ||
            decode_text(point, message->registers, request->address, text) != DECODE_OK ||
            strcmp(text, meter->serial) == 0)
            continue;
        if (meter->serial[0])
            outbox_event(collect, "serial", meter->config->number, NULL,
                         "serial number is now '%s', was '%s'", text, meter->serial);
        else if (meter->config->serial[0] && strcmp(text, meter->config->serial) != 0)
            outbox_event(collect, "serial", meter->config->number, NULL,
                         "serial number is '%s', the configuration says '%s'", text, meter->config->serial);
        memcpy(meter->serial, text, sizeof meter->serial);
    }
}

/* The counters of a map are taken up where the record left them. Until that is
 * done the meter's readings are left out: its registers keep what it counts. One that
 * is heard for the first time need not wait for others' rows: nothing of it is on its way.
 * A walked meter has two plans in turn: the place of one says nothing. */
static bool take_plan(struct collect *collect, struct meter *meter, const struct plan *plan)
{
    if (meter->plan == plan && meter->edition == plan->edition)
        return true;
    uint32_t before = meter->series[SERIES_ACTIVE].mask | meter->series[SERIES_OTHER].mask;
    if (meter->plan && meter_counters(meter, plan) == before) {
        meter_set_plan(meter, plan, &collect->config->site);
        return true;
    }
    bool stored = !meter->plan && collect->store && !outbox_has_of(collect, meter);
    if (!stored && !commit_flush(collect)) {
        for (int i = 0; i < SERIES_COUNT; i++) /* it answers and is not read: that is no sleep */
            meter->series[i].heard = false;
        return false;
    }
    outbox_forget_ended(collect, meter->config->number);
    meter_forget(meter);
    meter_set_plan(meter, plan, &collect->config->site);
    if (resume_meter(collect, meter) == STORE_OK)
        return true;
    outbox_forget_ended(collect, meter->config->number);
    meter_forget(meter);
    return false;
}

/* A point that is no value, as its registers came. */
static void note_range(struct collect *collect, struct meter *meter, const struct message *message,
                       const struct point *point)
{
    char text[EPISODE_TEXT];
    const uint16_t *words =
        message->registers + (point->address - message->plan->requests[message->request].address);
    int n = snprintf(text, sizeof text, "%s at address %d is no value, raw",
                     quantity_info(point->quantity)->name, (int)point->address);
    for (int w = 0; w < point->size && n > 0 && n < (int)sizeof text; w++)
        n += snprintf(text + n, sizeof text - (size_t)n, " %04x", words[w]);
    rejecting_note(collect, meter, EPISODE_RANGE, text);
}

static void take_answer(struct collect *collect, struct meter *meter, const struct message *message)
{
    if (!take_plan(collect, meter, message->plan))
        return;
    take_text(collect, meter, message);
    const struct point *refused;
    if (meter_decode(meter, message->plan, message->request, message->registers, message->boot_us, &refused) >
        0)
        note_range(collect, meter, message, refused);
}

/* Why a meter is lost, where its bus says no more. */
static const char *reason(const struct message *message)
{
    static const char *const reasons[] = {
        [-WIRE_SILENT] = "no answer",
        [-WIRE_GARBLED] = "answers that are not its own or damaged",
        [-WIRE_EXCEPTION] = "it answers with exceptions only",
        [-WIRE_GONE] = "its bus is gone",
    };
    int index = -message->result;
    bool named = index > 0 && index < (int)(sizeof reasons / sizeof reasons[0]) && reasons[index];
    return message->text[0] ? message->text : named ? reasons[index] : "not reached";
}

static void take_meter_state(struct collect *collect, struct meter *meter, const struct message *message)
{
    bool lost = message->result != 0;
    if (lost == meter->lost)
        return;
    meter->lost = lost;
    log_write(lost ? LOG_WARN : LOG_NOTE, "meter %d '%s' %s%s%s", (int)meter->config->number,
              meter->config->name, lost ? "is lost" : "answers", lost ? ": " : "",
              lost ? reason(message) : "");
    outbox_event(collect, lost ? "meter_lost" : "meter_back", meter->config->number,
                 collect->config->buses[meter->config->bus].name, "%s", lost ? reason(message) : "");
}

static void take_bus_state(struct collect *collect, const struct message *message)
{
    const char *name = collect->config->buses[message->bus].name;
    bool down = message->result != 0;
    collect->bus_down[message->bus] = down;
    log_write(down ? LOG_WARN : LOG_NOTE, "bus '%s' is %s%s%s", name, down ? "down" : "up",
              message->text[0] ? ": " : "", message->text);
    outbox_event(collect, down ? "bus_down" : "bus_up", 0, name, "%s", message->text);
}

void answers_take(struct collect *collect, const struct message *message)
{
    if (message->generation != collect->setup.generation)
        return;
    struct meter *meter = message->meter >= 0 ? &collect->meters[message->meter] : NULL;
    switch (message->kind) {
    case MESSAGE_ANSWER:
        if (meter && message->result == WIRE_OK)
            take_answer(collect, meter, message);
        break;
    case MESSAGE_CYCLE_END:
        if (!meter)
            break;
        if (message->result == WIRE_OK && meter->plan)
            take_reading(collect, meter);
        memset(meter->pending.has, 0, sizeof meter->pending.has);
        meter->pending_stamped = false;
        break;
    case MESSAGE_METER_STATE:
        if (meter)
            take_meter_state(collect, meter, message);
        break;
    case MESSAGE_BUS_STATE:
        take_bus_state(collect, message);
        break;
    }
}
