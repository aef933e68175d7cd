/* What must be known to read an answer's figures: who counted, what is
 * estimated, missing or derived. Printed before the figures, in every form. */
#include <stdio.h>
#include <string.h>

#include "answer.h"
#include "notes.h"
#include "number.h"
#include "query_dating.h"
#include "schema.h"
#include "stamp.h"

enum { NAMES_SIZE = 120 };

/* "'House' and 'Barn'": the meters of one use. */
static const char *name_meters(char buffer[NAMES_SIZE], const struct arrangement *arrangement, enum use use)
{
    size_t used = 0;
    int32_t named = 0;
    buffer[0] = '\0';
    for (int32_t i = 0; i < arrangement->meter_count; i++) {
        if (arrangement->meters[i].use != use)
            continue;
        named++;
        const char *joint = named == 1 ? "" : named == arrangement->count[use] ? " and " : ", ";
        int more = snprintf(buffer + used, NAMES_SIZE - used, "%s'%s'", joint, arrangement->meters[i].name);
        if (more < 0 || (size_t)more >= NAMES_SIZE - used) {
            snprintf(buffer, NAMES_SIZE, "%d meters", arrangement->count[use]);
            break;
        }
        used += (size_t)more;
    }
    return buffer;
}

static const char *phase_method(const struct arrangement *arrangement, enum use use)
{
    bool apart = arrangement->count[use] > 1; /* several meters: each counts for itself */
    for (int32_t i = 0; i < arrangement->meter_count; i++)
        apart = apart || (arrangement->meters[i].use == use && arrangement->meters[i].phases_apart);
    return apart ? "phases apart" : "phases netted";
}

/* One meter alone: its own counters, whichever of them is delivery. */
static void note_meter(struct answer *answer)
{
    const struct arrangement *last = &answer->history.arrangements[answer->history.count - 1];
    const struct arranged_meter *meter = last->meter_count ? &last->meters[0] : NULL;
    if (meter)
        answer_note(answer, "import and export as '%s' (%s) counts them%s%s", meter->name,
                    role_name(meter->role), meter->delivers_by_export ? ": what it delivers is export" : "",
                    meter->phases_apart ? ", phases apart" : "");
}

/* Every self-consumption depends on who counted it. */
static void note_counted_by(struct answer *answer, const struct arrangement *arrangement)
{
    const int32_t *count = arrangement->count;
    char production[NAMES_SIZE], grid[NAMES_SIZE], consumption[NAMES_SIZE];
    name_meters(grid, arrangement, USE_GRID);
    name_meters(consumption, arrangement, USE_CONSUMPTION);
    name_meters(production, arrangement, count[USE_PRODUCTION] ? USE_PRODUCTION : USE_GROSS);
    const char *made = arrangement->from_parts ? "production as the sum of parts" : "production";
    if (arrangement->derived)
        answer_note(answer, "import and export are derived from consumption %s (%s) and %s %s", consumption,
                    phase_method(arrangement, USE_CONSUMPTION), made, production);
    else if (count[USE_GRID] && count[USE_PRODUCTION])
        answer_note(answer, "self-consumption as counted by grid %s (%s), %s %s", grid,
                    phase_method(arrangement, USE_GRID), made, production);
    else if (count[USE_GRID] && !count[USE_GROSS])
        answer_note(answer, "production is not metered: grid %s alone (%s) knows import and export only",
                    grid, phase_method(arrangement, USE_GRID));
    else if (count[USE_GRID])
        answer_note(answer, "import as counted by grid %s (%s)", grid, phase_method(arrangement, USE_GRID));
    else if (count[USE_CONSUMPTION])
        answer_note(answer, "consumption as counted by %s (%s)", consumption,
                    phase_method(arrangement, USE_CONSUMPTION));
    if (count[USE_GROSS])
        answer_note(answer, "%s is sold whole (gross): it feeds no consumption here",
                    name_meters(production, arrangement, USE_GROSS));
    if (!count[USE_GRID] && count[USE_PRODUCTION])
        answer_note(answer, "the grid is not metered: import and export are not known");
}

/* All the digits that a step has: behind a transformer it is no power of ten. */
static int32_t step_decimals(int64_t step)
{
    int32_t decimals = 6;
    while (decimals > 0 && step % 10 == 0) {
        step /= 10;
        decimals--;
    }
    return decimals;
}

/* Why a figure is not there, and how fine the others are. */
static void note_registers(struct answer *answer, const struct arrangement *arrangement)
{
    char number[NUMBER_SIZE];
    const struct balance *total = &answer->total.balance;
    if (!answer->what.meter && arrangement->count[USE_GRID] && !(answer_sealed_terms(answer) & TERMS_GRID) &&
        (total->import == UNKNOWN) != (total->export == UNKNOWN))
        answer_note(answer, "the grid meter has no %s counter: what needs it is not known",
                    total->import == UNKNOWN ? "import" : "export");
    int32_t decimals = number_decimals_of_step(answer->coarsest_step, ENERGY_SCALE);
    if (decimals < 3)
        answer_note(answer, "the coarsest register counts in steps of %s kWh%s",
                    number_print(number, answer->coarsest_step, ENERGY_SCALE,
                                 step_decimals(answer->coarsest_step), 0),
                    answer->total.sources & SOURCE_SEALED ? "" : ": within a step the shape is from power");
}

static void note_changes(struct answer *answer)
{
    char at[STAMP_SIZE];
    int32_t changes = answer->history.count - 1;
    if (changes == 0)
        return;
    stamp_minute(at, answer->civil, answer->history.arrangements[changes].from_s);
    if (changes == 1)
        answer_note(answer, "the meters of the balance were set differently before %s", at);
    else
        answer_note(answer, "the meters of the balance were set differently %d times, last before %s",
                    changes, at);
}

static void note_reach(struct answer *answer)
{
    char at[STAMP_SIZE];
    bool begins = answer->site.first_s > answer->from_s && answer->site.first_s < answer->to_s;
    const struct answer_piece *first = answer->pieces;
    if (answer->piece_count > 0 && first->sealed && first->before && first->from_s > answer->from_s)
        answer_note(answer, "nothing is known before %s: the readings of sealed meters begin there",
                    stamp_date(at, answer->civil, first->from_s));
    if (begins && sources_sealed(answer->sources, answer->site.first_s - 1) != TERMS_ALL)
        answer_note(answer, "the record begins at %s", stamp_minute(at, answer->civil, answer->site.first_s));
    if (answer->reach_s < answer->to_s)
        answer_note(answer, "known until %s", stamp_minute(at, answer->civil, answer->reach_s));
    if (answer->waiting && answer->record_s < answer->to_s)
        answer_note(answer, "later readings " WAIT_FOR_CLOCK);
}

static const struct arranged_meter *meter_of_slot(const struct answer *answer, int32_t slot)
{
    for (int32_t i = answer->history.count - 1; i >= 0; i--) {
        const struct arrangement *arrangement = &answer->history.arrangements[i];
        for (int32_t j = 0; j < arrangement->meter_count; j++)
            if (arrangement->meters[j].slot == slot)
                return &arrangement->meters[j];
    }
    return NULL;
}

/* A meter whose newest row is older than the record's: lost, or not yet filled. */
static void note_silent(struct answer *answer)
{
    char at[STAMP_SIZE];
    const struct arrangement *last = &answer->history.arrangements[answer->history.count - 1];
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++) {
        const struct arranged_meter *meter = meter_of_slot(answer, slot);
        int64_t until = answer->last_s[slot];
        if (!meter || until + INT64_C(2) * last->interval_s > answer->reach_s ||
            answer_used_s(answer, slot, answer->reach_s - last->interval_s, answer->reach_s) == 0)
            continue;
        if (until == INT64_MIN)
            answer_note(answer, "'%s' has no interval in this span: figures that need it are not known",
                        meter->name);
        else
            answer_note(answer, "'%s' is known until %s only: figures that need it are not known after that",
                        meter->name, stamp_minute(at, answer->civil, until));
    }
}

/* A hole between a meter's rows. */
static void note_missing(struct answer *answer)
{
    int64_t first = answer->site.first_s > answer->from_s ? answer->site.first_s : answer->from_s;
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++) {
        const struct arranged_meter *meter = meter_of_slot(answer, slot);
        int64_t missing = answer_used_s(answer, slot, first, answer->last_s[slot]) - answer->present_s[slot];
        if (meter && missing > 0)
            answer_note(answer,
                        "'%s' has no intervals for %d min of this span: figures that need it leave them out",
                        meter->name, (int)((missing + 59) / 60));
    }
}

static void note_shares(struct answer *answer)
{
    char number[NUMBER_SIZE];
    const struct balance *balance = &answer->total.balance;
    int64_t observed = answer_observed_share(&answer->total);
    if (observed != UNKNOWN && observed < SHARE_ONE && !answer->what.measured_only)
        answer_note(answer, "observed %s %% of the span so far, by the least observed meter",
                    number_print(number, observed / 100, 2, 2, 0));
    if (balance->estimated != UNKNOWN && balance->estimated != 0)
        answer_note(answer, "estimated: %s kWh were placed by filling gaps",
                    number_print(number, balance->estimated, ENERGY_SCALE, 3, ','));
    int64_t residual = balance_residual_share(balance);
    if (residual != UNKNOWN) {
        char energy[NUMBER_SIZE];
        answer_note(answer, "the consumption meter counted %s kWh, %s %% beside the figure",
                    number_print(energy, balance->metered_compared, ENERGY_SCALE, 3, ','),
                    number_print(number, residual, SHARE_SCALE - 2, 2, 0));
    }
}

/* Shown as it comes out, never clamped: whoever reads it must know that it is no use of energy. */
static void note_negative(struct answer *answer)
{
    char number[NUMBER_SIZE];
    int64_t below = answer->total.balance.self_consumption;
    int64_t steps = answer->production_step + answer->grid_step;
    if (below == UNKNOWN || below >= -steps)
        return;
    answer_note(
        answer,
        "self-consumption comes out %s kWh below zero: the meters contradict one another, by their "
        "classes, or by a direction, a ratio, a meter's place or 'connection' that is set wrong",
        number_print(number, -below, ENERGY_SCALE, number_decimals_of_step(answer->coarsest_step, 3), ','));
}

static const char *name_of(const struct answer *answer, int32_t number)
{
    for (int32_t i = answer->history.count - 1; i >= 0; i--) {
        const struct arrangement *arrangement = &answer->history.arrangements[i];
        for (int32_t j = 0; j < arrangement->meter_count; j++)
            if (arrangement->meters[j].number == number)
                return arrangement->meters[j].name;
    }
    return "?";
}

static void note_corrections(struct answer *answer)
{
    for (int32_t i = 0; i < answer->correction_count && i < ANSWER_MAX_CORRECTIONS; i++) {
        const struct correction_row *row = &answer->corrections[i];
        char from[STAMP_SIZE], to[STAMP_SIZE], how[2 * CONFIG_NAME_SIZE], energy[NUMBER_SIZE];
        if (row->other != 0)
            snprintf(how, sizeof(how), "swapped with '%s'", name_of(answer, row->other));
        else if (strcmp(row->what, "ratio") == 0)
            snprintf(how, sizeof(how), "ratio wrong, times %lld/%lld", (long long)row->up,
                     (long long)row->down);
        else if (strcmp(row->what, "exchange") == 0)
            snprintf(how, sizeof(how), "meter exchanged, %s kWh added from its declared readings",
                     number_print(energy, row->added, ENERGY_SCALE, 3, ','));
        else
            snprintf(how, sizeof(how), "import and export exchanged");
        answer_note(answer, "corrected: '%s' from %s to %s: %s", name_of(answer, row->meter),
                    stamp_minute(from, answer->civil, row->from_s),
                    stamp_minute(to, answer->civil, row->to_s), how);
    }
    if (answer->correction_count > ANSWER_MAX_CORRECTIONS)
        answer_note(answer, "corrected: %d more times",
                    (int)(answer->correction_count - ANSWER_MAX_CORRECTIONS));
    if (answer->correcting)
        answer_note(answer, "corrections are being applied: some figures are still as measured");
}

static bool exchanged(const struct answer *answer)
{
    for (int32_t i = 0; i < answer->correction_count && i < ANSWER_MAX_CORRECTIONS; i++)
        if (strcmp(answer->corrections[i].what, "exchange") == 0)
            return true;
    return false;
}

static void note_flags(struct answer *answer)
{
    static const struct {
        int32_t flag;
        const char *text;
    } table[] = {
        { HOW_CLOCK, "the clock stepped in this span" },
        { HOW_BACK_DATED, "some intervals were dated after the fact" },
        { HOW_RE_DATED, "some intervals were moved by a better clock" },
        { HOW_RUN_CHANGE, "a counter was reset or exchanged in this span: some energy is unknown" },
        { HOW_POWER_FAILED, "the collector was off in this span" },
    };
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++)
        if (answer->total.flags & table[i].flag)
            answer_note(answer, "%s%s", table[i].text,
                        table[i].flag == HOW_RUN_CHANGE && exchanged(answer) ? ", but for what is corrected"
                                                                             : "");
}

/* Does the record speak anywhere in the span? */
static bool record_speaks(const struct answer *answer)
{
    return !answer->sources || answer->total.span_s > 0;
}

void answer_make_notes(struct answer *answer)
{
    make_marks(answer);
    if (answer->what.measured_only)
        answer_note(answer,
                    "measured values only: intervals that are estimated, interpolated or not observed "
                    "whole by every meter are left out");
    if (answer->what.meter)
        note_meter(answer);
    else if (record_speaks(answer))
        note_counted_by(answer, &answer->history.arrangements[answer->history.count - 1]);
    note_sources(answer);
    note_registers(answer, &answer->history.arrangements[answer->history.count - 1]);
    if (record_speaks(answer) && !answer->what.meter)
        note_changes(answer);
    note_reach(answer);
    note_silent(answer);
    note_missing(answer);
    note_shares(answer);
    note_negative(answer);
    note_flags(answer);
    note_corrections(answer);
}
