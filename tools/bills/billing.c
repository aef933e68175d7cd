#include "billing_read.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* ---- periods ---- */

static bool add(struct billing *billing, int64_t from_day, int64_t to_day)
{
    if (to_day <= from_day)
        return true;
    if (billing->count == billing->room) {
        int32_t room = billing->room ? 2 * billing->room : 32;
        struct period *grown = realloc(billing->periods, (size_t)room * sizeof(*grown));
        if (!grown)
            return false;
        billing->periods = grown;
        billing->room = room;
    }
    billing->periods[billing->count++] = (struct period){ from_day, to_day };
    return true;
}

static bool add_months(struct billing *billing)
{
    const struct period *span = &billing->inquiry->period;
    for (int64_t day = span->from_day; day < span->to_day;) {
        int64_t next = period_next_month(day);
        if (!add(billing, day, next < span->to_day ? next : span->to_day))
            return false;
        day = next;
    }
    return true;
}

int64_t billing_day(const struct billing *billing, int64_t at_s)
{
    return civil_day_of(billing->inquiry->session.civil, at_s);
}

static bool add_readings(struct billing *billing)
{
    const struct period *span = &billing->inquiry->period;
    for (int32_t i = 0; i < billing->spans.count; i++) {
        const struct spans_period *period = &billing->spans.periods[i];
        int64_t from_day = billing_day(billing, period->from_s), to_day = billing_day(billing, period->to_s);
        if (period->reg == SEALED_IMPORT && from_day >= span->from_day && to_day <= span->to_day &&
            !add(billing, from_day, to_day))
            return false;
    }
    return true;
}

static int32_t find_sealed(const struct config *config)
{
    for (int32_t i = 0; config && i < config->sealed_count; i++)
        if (config->sealed[i].role == ROLE_GRID && config->sealed[i].registers & UINT32_C(1) << SEALED_IMPORT)
            return i;
    return -1;
}

static void hear_nothing(void *self, const char *line)
{
    (void)self, (void)line;
}

/* `meterbook spans` says what is wrong with the readings. */
static bool read_spans(struct billing *billing)
{
    struct session *session = &billing->inquiry->session;
    billing->sealed = find_sealed(session->config);
    if (billing->sealed < 0)
        return true;
    if (!session->logbook && !session_logbook(session))
        return false;
    billing->spans =
        (struct spans){ .config = session->config, .civil = session->civil, .note = hear_nothing };
    if (session->logbook)
        spans_read(&billing->spans, session->logbook, billing->sealed);
    spans_sort(&billing->spans);
    return !billing->spans.memory_out;
}

bool billing_open(struct billing *billing)
{
    bool good = read_spans(billing);
    if (good)
        good = billing->tariff->by_readings && billing->sealed >= 0 ? add_readings(billing)
                                                                    : add_months(billing);
    if (!good)
        session_failed(&billing->inquiry->session);
    return good;
}

void billing_free(struct billing *billing)
{
    spans_free(&billing->spans);
    free(billing->periods);
    billing->periods = NULL;
}
