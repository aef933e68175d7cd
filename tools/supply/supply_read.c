#include "supply_read.h"

#include <stdlib.h>
#include <string.h>

#include "outages.h"
#include "query_checks.h"
#include "query_supply.h"
#include "schema.h"

enum { ALL_PHASES = (1 << SUPPLY_PHASES) - 1 };

/* ---- which meter ---- */

static bool has_voltage(const struct inquiry *inquiry, const struct arranged_meter *meter)
{
    return meter->number != METER_DERIVED &&
           query_has_voltage(inquiry->session.query, meter->number, inquiry->from_s, inquiry->to_s);
}

/* The grid meter, the consumption meter that sees the same supply, then any. */
static const struct arranged_meter *first_with_voltage(const struct inquiry *inquiry,
                                                       const struct arrangement *arrangement)
{
    static const enum use order[] = { USE_GRID, USE_CONSUMPTION };
    enum { ORDERED = sizeof(order) / sizeof(order[0]) };
    for (size_t rank = 0; rank <= ORDERED; rank++)
        for (int32_t i = 0; i < arrangement->meter_count; i++) {
            const struct arranged_meter *meter = &arrangement->meters[i];
            if ((rank == ORDERED || meter->use == order[rank]) && has_voltage(inquiry, meter))
                return meter;
        }
    return NULL;
}

static enum supply_result choose_meter(struct supply_answer *answer, const struct inquiry *inquiry,
                                       int32_t number)
{
    const struct history *history = &inquiry->head.history;
    const struct arranged_meter *found = NULL;
    for (int32_t a = history->count - 1; a >= 0 && !found; a--) {
        const struct arrangement *arrangement = &history->arrangements[a];
        for (int32_t i = 0; i < arrangement->meter_count && !found; i++)
            found = arrangement->meters[i].number == number ? &arrangement->meters[i] : NULL;
        if (number == 0)
            found = first_with_voltage(inquiry, arrangement);
        answer->grid_meters = found ? arrangement->count[USE_GRID] : 0;
    }
    if (!found)
        return SUPPLY_NO_VOLTAGE;
    answer->meter = *found;
    answer->at_grid = found->role == ROLE_GRID;
    return has_voltage(inquiry, found) ? SUPPLY_READY : SUPPLY_NO_VOLTAGE;
}

/* ---- what it is held against ---- */

static struct supply_limits read_limits(struct supply_answer *answer, const struct inquiry *inquiry)
{
    const struct session *session = &inquiry->session;
    struct meter_facts facts = { 0 };
    int32_t setting;
    const char *text = query_setting_text(session->query, inquiry->to_s, &setting);
    struct config *stored = session->config ? NULL : config_load_stored(text);
    const struct config *config = session->config ? session->config : stored;
    struct config_supply supply = config ? config->supply : config_default_supply();
    if (query_meter_facts(session->query, setting, answer->meter.number, &facts))
        memcpy(answer->accuracy_class, facts.accuracy_class, sizeof(answer->accuracy_class));
    answer->own_throttle = supply.throttle_voltage > 0;
    config_free(stored);
    return supply_limits_of(&supply, answer->accuracy_class);
}

/* ---- weeks and months ---- */

static bool add_row(struct supply_row **rows, int32_t *count, const struct supply_row *row)
{
    struct supply_row *grown = realloc(*rows, ((size_t)*count + 1) * sizeof(*grown));
    if (!grown)
        return false;
    grown[(*count)++] = *row;
    *rows = grown;
    return true;
}

static bool make_rows(struct supply_answer *answer, const struct inquiry *inquiry, bool weeks)
{
    const struct civil *civil = inquiry->session.civil;
    const struct period *period = &inquiry->period;
    int64_t first_s = inquiry->head.site.first_s, record_s = inquiry->head.record_s;
    int64_t day = weeks ? period_week_start(period->from_day) : period->from_day;
    int64_t now_s = inquiry->session.now_ms / 1000, known_s = now_s > record_s ? now_s : record_s;
    bool good = true;
    while (good && day < period->to_day) {
        int64_t next = weeks ? day + 7 : period_next_month(day);
        next = weeks || next < period->to_day ? next : period->to_day;
        struct supply_row row;
        supply_row_init(&row, civil_day_start(civil, day), civil_day_start(civil, next));
        row.cut = day < period->from_day || next > period->to_day;
        row.open = row.to_s > now_s;
        supply_row_ask(&row, inquiry->from_s, inquiry->to_s < known_s ? inquiry->to_s : known_s);
        if (row.to_s > first_s && row.from_s < record_s)
            good = weeks ? add_row(&answer->weeks, &answer->week_count, &row)
                         : add_row(&answer->months, &answer->month_count, &row);
        day = next;
    }
    return good;
}

/* ---- outages ---- */

static int by_start(const void *left, const void *right)
{
    const struct supply_flag *a = left, *b = right;
    return a->from_s < b->from_s ? -1 : a->from_s > b->from_s;
}

static bool read_flags(struct supply_answer *answer, const struct inquiry *inquiry)
{
    struct outages outages;
    outages_read(&outages, inquiry->session.query, inquiry->session.now_ms);
    outages_keep(&outages, inquiry->from_s * 1000, inquiry->to_s * 1000);
    answer->flags = calloc((size_t)outages.count + 1, sizeof(*answer->flags));
    for (int32_t i = 0; answer->flags && i < outages.count; i++) {
        const struct outage *outage = &outages.list[i];
        int32_t phase = outage->phase[0] ? outage->phase[1] - '1' : -1;
        unsigned phases = outage->kind == OUTAGE_GRID ? ALL_PHASES : 0;
        if (outage->kind == OUTAGE_PHASE && outage->meter == answer->meter.number && phase >= 0 &&
            phase < SUPPLY_PHASES)
            phases = 1U << phase;
        if (phases)
            answer->flags[answer->flag_count++] =
                (struct supply_flag){ outage->from_ms / 1000, outage_end_ms(&outages, outage) / 1000 + 1,
                                      phases };
    }
    bool good = answer->flags && !outages.memory_out;
    if (answer->flags)
        qsort(answer->flags, (size_t)answer->flag_count, sizeof(answer->flags[0]), by_start);
    outages_free(&outages);
    return good;
}

/* ---- intervals ---- */

static bool read_span(struct supply_answer *answer, const struct inquiry *inquiry)
{
    const struct civil *civil = inquiry->session.civil;
    for (int64_t day = inquiry->period.from_day; day < inquiry->period.to_day;) {
        int64_t next = period_next_month(day);
        /* The last ten minutes may end after the span, where a midnight lies within some. */
        int64_t to_s = next < inquiry->period.to_day ? civil_day_start(civil, next)
                                                     : supply_block_start(inquiry->to_s + SUPPLY_BLOCK_S - 1);
        if (!supply_feed(answer, &answer->supply, inquiry, civil_day_start(civil, day), to_s))
            return false;
        day = next;
    }
    supply_end(&answer->supply);
    return true;
}

enum supply_result supply_read(struct supply_answer *answer, const struct inquiry *inquiry, int32_t meter)
{
    struct query *query = inquiry->session.query;
    memset(answer, 0, sizeof(*answer));
    query_begin(query);
    enum supply_result result = choose_meter(answer, inquiry, meter);
    if (result == SUPPLY_READY) {
        struct supply_limits limits = read_limits(answer, inquiry);
        supply_init(&answer->supply, &limits, inquiry->from_s, inquiry->to_s);
        if (!read_flags(answer, inquiry))
            result = SUPPLY_FAILED;
    }
    query_end(query);
    if (query_error(query))
        return SUPPLY_FAILED;
    if (result != SUPPLY_READY)
        return result;
    if (!make_rows(answer, inquiry, true) || !make_rows(answer, inquiry, false) ||
        !read_span(answer, inquiry) || !supply_read_lost(answer, inquiry))
        return SUPPLY_FAILED;
    return answer->coarse > 0 && answer->supply.phases == 0 ? SUPPLY_TOO_COARSE : SUPPLY_READY;
}

void supply_answer_free(struct supply_answer *answer)
{
    free(answer->weeks);
    free(answer->months);
    free(answer->flags);
    answer->weeks = answer->months = NULL;
    answer->flags = NULL;
}
