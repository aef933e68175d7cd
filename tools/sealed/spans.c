#include "spans.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "answer.h"
#include "muldiv.h"
#include "stamp.h"

enum { MICRO = 1000000 };

/* A register on its way through the logbook. */
struct track {
    struct spans *spans;
    const struct config_sealed *meter;
    int32_t sealed;
    enum sealed_register reg;
    int64_t modulus, factor; /* shown values; thousandths */
    int64_t step;
    bool known;
    int64_t at_s, value; /* the last point */
    bool estimated;      /* was that point */
    bool value_guessed;  /* and is the value that the next difference starts from */
    bool rolled, exchanged, by_day;
    int64_t part;        /* counted by the meters before, since the last point; UNKNOWN */
    int64_t read_s, sum; /* since the last reading that was taken */
    bool guessed;        /* with estimated ones in between */
};

static void say(struct spans *spans, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void say(struct spans *spans, const char *format, ...)
{
    char line[NOTE_SIZE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line, sizeof(line), format, arguments);
    va_end(arguments);
    spans->note(spans->self, line);
}

struct spans_period *spans_add(struct spans *spans, const struct spans_period *period)
{
    if (spans->count == spans->room) {
        int32_t room = spans->room ? 2 * spans->room : 64;
        struct spans_period *more = realloc(spans->periods, (size_t)room * sizeof(*more));
        if (!more) {
            spans->memory_out = true;
            return NULL;
        }
        spans->periods = more;
        spans->room = room;
    }
    spans->periods[spans->count] = *period;
    return &spans->periods[spans->count++];
}

void spans_free(struct spans *spans)
{
    free(spans->periods);
    spans->periods = NULL;
}

static int compare(const void *a, const void *b)
{
    const struct spans_period *left = a, *right = b;
    if (left->sealed != right->sealed)
        return left->sealed - right->sealed;
    if (left->from_s != right->from_s)
        return left->from_s < right->from_s ? -1 : 1;
    if (left->reg != right->reg)
        return (int)left->reg - (int)right->reg;
    return left->to_s < right->to_s ? -1 : left->to_s > right->to_s;
}

void spans_sort(struct spans *spans)
{
    if (spans->count > 0)
        qsort(spans->periods, (size_t)spans->count, sizeof(spans->periods[0]), compare);
}

/* ---- one register ---- */

static void set_shape(struct track *track, int64_t digits, int64_t decimals, int64_t factor)
{
    track->modulus = MICRO;
    for (int64_t i = 0; i < digits; i++)
        track->modulus *= 10;
    track->factor = factor;
    int64_t shown = MICRO;
    for (int64_t i = 0; i < decimals && !track->meter->whole_units; i++)
        shown /= 10;
    track->step = mul_div(shown, factor, 1000);
    track->step = track->step < 1 ? 1 : track->step;
}

static int64_t cut(const struct track *track, int64_t value)
{
    return track->meter->whole_units ? value - value % MICRO : value;
}

/* What the register went on by, mWh. It rolls over at most once between two
 * readings and by less than half its range; any other fall is a mistake, unless
 * it takes back what an estimated reading had too much. */
static int64_t difference(struct track *track, int64_t value)
{
    int64_t shown = cut(track, value) - cut(track, track->value);
    if (shown < 0 && shown + track->modulus < track->modulus / 2) {
        shown += track->modulus;
        track->rolled = true;
    } else if (shown < 0 && !track->value_guessed) {
        return UNKNOWN;
    }
    return mul_div(shown, track->factor, 1000);
}

static void add_part(struct track *track, int64_t energy)
{
    track->part = track->part == UNKNOWN || energy == UNKNOWN ? UNKNOWN : track->part + energy;
}

/* Estimated readings only move energy between periods: the sum from one that
 * was taken to the next is exact. */
static void tell_sum(struct track *track, int64_t to_s)
{
    char from[STAMP_SIZE], to[STAMP_SIZE], number[NUMBER_SIZE];
    if (!track->guessed || track->sum == UNKNOWN || track->estimated)
        return;
    say(track->spans, "%s, %s: from %s to %s, between readings that were taken, exactly %s kWh",
        track->meter->name, sealed_register_words[track->reg],
        stamp_date(from, track->spans->civil, track->read_s), stamp_date(to, track->spans->civil, to_s),
        number_print(number, track->sum, ENERGY_SCALE, number_decimals_of_step(track->step, 3), ','));
}

static void close_period(struct track *track, const struct logbook_entry *entry, int64_t value)
{
    char at[STAMP_SIZE];
    bool estimated = entry->number[LOGBOOK_HOW] == 1;
    if (track->reg == SEALED_DEMAND)
        track->part = mul_div(value, track->factor, 1000);
    else
        add_part(track, difference(track, value));
    struct spans_period period = { .sealed = track->sealed,
                                   .reg = track->reg,
                                   .from_s = track->at_s,
                                   .to_s = entry->at_s,
                                   .energy = track->part,
                                   .step = track->step,
                                   .from_estimated = track->estimated,
                                   .to_estimated = estimated,
                                   .rolled = track->rolled,
                                   .exchanged = track->exchanged,
                                   .from_by_day = track->by_day,
                                   .to_by_day = entry->day_only && entry->kind == LOGBOOK_READING };
    if (track->part == UNKNOWN)
        say(track->spans,
            "%s, %s: the reading of %s (line %d) is below the one before and it is no rollover: misread, or "
            "an "
            "exchange is missing",
            track->meter->name, sealed_register_words[track->reg],
            stamp_minute(at, track->spans->civil, entry->at_s), (int)entry->line);
    if (period.to_s > period.from_s)
        spans_add(track->spans, &period);
}

static void take_reading(struct track *track, const struct logbook_entry *entry)
{
    int64_t value = entry->number[LOGBOOK_REGISTER + track->reg];
    bool estimated = entry->number[LOGBOOK_HOW] == 1;
    if (value == LOGBOOK_NOTHING)
        return;
    if (track->known)
        close_period(track, entry, value);
    track->sum = track->sum == UNKNOWN || track->part == UNKNOWN ? UNKNOWN : track->sum + track->part;
    track->guessed |= track->known && estimated;
    track->estimated = track->value_guessed = estimated;
    if (track->known && track->reg != SEALED_DEMAND)
        tell_sum(track, entry->at_s);
    if (!estimated || !track->known) {
        track->read_s = entry->at_s;
        track->sum = 0;
        track->guessed = estimated; /* before the first that was taken no sum is exact */
        if (estimated)
            track->sum = UNKNOWN;
    }
    track->known = true;
    track->by_day = entry->day_only && entry->kind == LOGBOOK_READING;
    track->at_s = entry->at_s;
    track->value = value;
    track->part = 0;
    track->rolled = track->exchanged = false;
}

static int64_t given(const struct logbook_entry *entry, enum logbook_key key, int64_t otherwise)
{
    return entry->number[key] == LOGBOOK_NOTHING ? otherwise : entry->number[key];
}

/* The final reading of the old meter ends its part; the new one's first begins another. */
static void take_exchange(struct track *track, const struct logbook_entry *entry, int64_t *digits,
                          int64_t *decimals)
{
    int64_t old = entry->number[LOGBOOK_OLD + track->reg], first = entry->number[LOGBOOK_NEW + track->reg];
    if (track->known && old == LOGBOOK_NOTHING) {
        say(track->spans, "%s, %s: the exchange in line %d has no reading of it, its account begins anew",
            track->meter->name, sealed_register_words[track->reg], (int)entry->line);
        track->known = false;
    }
    if (track->known)
        add_part(track, track->reg == SEALED_DEMAND ? 0 : difference(track, old));
    *digits = given(entry, LOGBOOK_DIGITS, *digits);
    *decimals = given(entry, LOGBOOK_DECIMALS, *decimals);
    set_shape(track, *digits, *decimals, given(entry, LOGBOOK_FACTOR, track->factor));
    if (old == LOGBOOK_NOTHING)
        return;
    if (!track->known) {
        track->known = true;
        track->estimated = false;
        track->by_day = entry->day_only;
        track->at_s = track->read_s = entry->at_s;
        track->part = track->sum = 0;
        track->rolled = track->guessed = track->exchanged = false;
    } else {
        track->exchanged = true;
    }
    track->value_guessed = false;
    track->value = first;
}

static void read_register(struct spans *spans, const struct logbook *logbook, int32_t sealed,
                          enum sealed_register reg)
{
    const struct config_sealed *meter = &spans->config->sealed[sealed];
    struct track track = { .spans = spans, .meter = meter, .sealed = sealed, .reg = reg };
    int64_t digits = meter->digits, decimals = meter->decimals;
    set_shape(&track, digits, decimals, meter->factor_thousandths);
    for (int32_t i = 0; i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        if (entry->revoked || entry->refused || strcmp(entry->subject, meter->name) != 0)
            continue;
        if (entry->kind == LOGBOOK_READING || entry->kind == LOGBOOK_START)
            take_reading(&track, entry);
        else if (entry->kind == LOGBOOK_EXCHANGE)
            take_exchange(&track, entry, &digits, &decimals);
    }
}

/* ---- the registers of tariff periods against the total ---- */

static const struct spans_period *same_span(const struct spans *spans, int32_t first,
                                            const struct spans_period *as, int32_t reg)
{
    for (int32_t i = first; i < spans->count; i++)
        if ((int32_t)spans->periods[i].reg == reg && spans->periods[i].from_s == as->from_s &&
            spans->periods[i].to_s == as->to_s && spans->periods[i].energy != UNKNOWN)
            return &spans->periods[i];
    return NULL;
}

/* `periods`: the first register of the tariff periods that the total consists of. */
static void check_sum(struct spans *spans, int32_t first, const struct spans_period *total,
                      enum sealed_register periods)
{
    const struct config_sealed *meter = &spans->config->sealed[total->sealed];
    char from[STAMP_SIZE], to[STAMP_SIZE], a[NUMBER_SIZE], b[NUMBER_SIZE];
    int64_t sum = 0;
    int32_t parts = 0, wanted = 0;
    for (int32_t reg = (int32_t)periods; reg < (int32_t)periods + 4; reg++) {
        if (!(meter->registers & UINT32_C(1) << reg))
            continue;
        const struct spans_period *part = same_span(spans, first, total, reg);
        wanted++;
        parts += part != NULL;
        sum += part ? part->energy : 0;
    }
    /* each register is cut to its last digit on its own */
    int64_t off = sum - total->energy;
    if (wanted == 0 || parts < wanted || llabs(off) <= (parts + 1) * total->step)
        return;
    say(spans, "%s: from %s to %s its tariff registers add up to %s kWh, %s is %s kWh", meter->name,
        stamp_date(from, spans->civil, total->from_s), stamp_date(to, spans->civil, total->to_s),
        number_print(a, sum, ENERGY_SCALE, number_decimals_of_step(total->step, 3), ','),
        sealed_register_words[total->reg],
        number_print(b, total->energy, ENERGY_SCALE, number_decimals_of_step(total->step, 3), ','));
}

void spans_read(struct spans *spans, const struct logbook *logbook, int32_t sealed)
{
    int32_t first = spans->count;
    for (int32_t reg = 0; reg < SEALED_REGISTERS; reg++)
        if (spans->config->sealed[sealed].registers & UINT32_C(1) << reg)
            read_register(spans, logbook, sealed, (enum sealed_register)reg);
    for (int32_t i = first; i < spans->count; i++)
        if (spans->periods[i].reg <= SEALED_EXPORT && spans->periods[i].energy != UNKNOWN)
            check_sum(spans, first, &spans->periods[i],
                      spans->periods[i].reg == SEALED_IMPORT ? SEALED_T1 : SEALED_EXPORT_T1);
}
