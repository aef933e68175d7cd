/* What waits for the next commit: the lowest floor of the collector. */
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "collect_state.h"

int64_t outbox_now_ms(const struct collect *collect)
{
    return collect->now.boot_us / 1000;
}

__attribute__((format(printf, 6, 0))) static void add_event(struct collect *collect, int64_t boot_ms,
                                                            const char *kind, int32_t meter, const char *bus,
                                                            const char *format, va_list arguments)
{
    struct outbox *outbox = &collect->outbox;
    char text[160];
    vsnprintf(text, sizeof text, format, arguments);
    struct waiting_event *last = outbox->event_count > 0 ? &outbox->events[outbox->event_count - 1] : NULL;
    if (last && last->kind == kind && last->meter == meter && strcmp(last->text, text) == 0 &&
        strcmp(last->bus, bus ? bus : "") == 0) {
        last->count++;
        return;
    }
    if (outbox->event_count == OUTBOX_EVENTS) {
        outbox->events_dropped++;
        return;
    }
    struct waiting_event *event = &outbox->events[outbox->event_count++];
    *event = (struct waiting_event){ .boot_ms = boot_ms, .kind = kind, .meter = meter, .count = 1 };
    snprintf(event->bus, sizeof event->bus, "%s", bus ? bus : "");
    memcpy(event->text, text, sizeof event->text);
}

void outbox_events(struct collect *collect, int64_t boot_ms, int64_t count, const char *kind, int32_t meter,
                   const char *format, ...)
{
    struct outbox *outbox = &collect->outbox;
    const int32_t before = outbox->event_count;
    va_list arguments;
    va_start(arguments, format);
    add_event(collect, boot_ms, kind, meter, NULL, format, arguments);
    va_end(arguments);
    if (outbox->event_count > before)
        outbox->events[before].count = count;
}

void outbox_event(struct collect *collect, const char *kind, int32_t meter, const char *bus,
                  const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_event(collect, outbox_now_ms(collect), kind, meter, bus, format, arguments);
    va_end(arguments);
}

void outbox_event_at(struct collect *collect, int64_t boot_ms, const char *kind, int32_t meter,
                     const char *bus, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    add_event(collect, boot_ms, kind, meter, bus, format, arguments);
    va_end(arguments);
}

/* After two poll periods, at most 10 s, late meters join the next commit. */
void outbox_waits(struct collect *collect, int64_t end_s)
{
    int64_t wait_ms = 2 * (int64_t)collect->config->site.poll_period_ms + 1000;
    if (end_s <= collect->outbox.newest_end_s && collect->row_due_ms != 0)
        return;
    collect->outbox.newest_end_s = end_s;
    collect->row_due_ms = outbox_now_ms(collect) + (wait_ms < 10000 ? wait_ms : 10000);
}

void outbox_end_run(struct collect *collect, const struct store_run *run, int64_t boot_ms)
{
    struct outbox *outbox = &collect->outbox;
    if (outbox->ended_count == OUTBOX_ENDED)
        return;
    outbox->ended_boot_ms[outbox->ended_count] = boot_ms;
    outbox->ended_stored[outbox->ended_count] = false;
    outbox->ended[outbox->ended_count++] = *run;
}

static void drop_ended(struct outbox *outbox, int32_t stored)
{
    int32_t kept = 0;
    for (int32_t i = 0; i < outbox->ended_count; i++) {
        if (i < stored && outbox->ended_stored[i])
            continue;
        outbox->ended_boot_ms[kept] = outbox->ended_boot_ms[i];
        outbox->ended[kept++] = outbox->ended[i];
    }
    outbox->ended_count = kept;
}

void outbox_forget_ended(struct collect *collect, int32_t meter)
{
    struct outbox *outbox = &collect->outbox;
    for (int32_t i = 0; i < outbox->ended_count; i++)
        outbox->ended_stored[i] = outbox->ended[i].meter == meter;
    drop_ended(outbox, outbox->ended_count);
}

bool outbox_has_of(const struct collect *collect, const struct meter *meter)
{
    const struct outbox *outbox = &collect->outbox;
    int32_t number = meter->config->number;
    for (int32_t i = 0; i < outbox->row_count; i++)
        if (outbox->rows[i].meter == meter->index)
            return true;
    for (int32_t i = 0; i < outbox->ended_count; i++)
        if (outbox->ended[i].meter == number)
            return true;
    for (int32_t i = 0; i < outbox->held_count; i++)
        if (outbox->held[i].meter == number)
            return true;
    return outbox->drop_held;
}

struct outbox_mark outbox_mark(const struct outbox *outbox)
{
    return (struct outbox_mark){ .rows = outbox->row_count,
                                 .ended = outbox->ended_count,
                                 .events = outbox->event_count,
                                 .held = outbox->held_count,
                                 .clock_from_ms = outbox->clock_from_ms };
}

static void drop_first(void *list, size_t size, int32_t *count, int32_t drop)
{
    *count -= drop;
    memmove(list, (char *)list + (size_t)drop * size, (size_t)*count * size);
}

void outbox_drop(struct collect *collect, struct outbox_mark stored)
{
    struct outbox *outbox = &collect->outbox;
    drop_first(outbox->rows, sizeof outbox->rows[0], &outbox->row_count, stored.rows);
    drop_ended(outbox, stored.ended);
    drop_first(outbox->events, sizeof outbox->events[0], &outbox->event_count, stored.events);
    drop_first(outbox->held, sizeof outbox->held[0], &outbox->held_count, stored.held);
    outbox->events_dropped = 0;
    outbox->clock = outbox->clock && outbox->clock_from_ms != stored.clock_from_ms;
    outbox->drop_held = false;
}
