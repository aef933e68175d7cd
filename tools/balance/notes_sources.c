/* Notes on sealed meters: who counted, where the seams are, what is shared out. */
#include <stdio.h>
#include <string.h>

#include "answer.h"
#include "notes.h"
#include "stamp.h"

enum { NAMES_SIZE = 120 };

static const char *const term_names[TERM_COUNT] = { "production", "import", "export" };

/* "production, import and export" */
static const char *name_terms(char buffer[NAMES_SIZE], unsigned terms)
{
    size_t used = 0;
    buffer[0] = '\0';
    for (int32_t t = 0; t < TERM_COUNT; t++) {
        if (!(terms & 1U << t))
            continue;
        bool last = terms >> (t + 1) == 0;
        used += (size_t)snprintf(buffer + used, NAMES_SIZE - used, "%s%s",
                                 used == 0 ? ""
                                 : last    ? " and "
                                           : ", ",
                                 term_names[t]);
    }
    return buffer;
}

/* Terms that a sealed meter's registers count, one bit each. */
static unsigned terms_of(const struct config_sealed *meter)
{
    unsigned terms = 0;
    for (int32_t reg = 0; reg < SEALED_REGISTERS; reg++)
        if (meter->registers & UINT32_C(1) << reg)
            terms |= 1U << sources_term(meter, (enum sealed_register)reg);
    return terms & TERMS_ALL;
}

static void note_meters(struct answer *answer, unsigned speak)
{
    char terms[NAMES_SIZE];
    const struct config *config = answer->sources->config;
    for (int32_t i = 0; i < config->sealed_count; i++) {
        const struct config_sealed *meter = &config->sealed[i];
        bool phases = meter->phase_method != PHASES_UNKNOWN;
        if (!(terms_of(meter) & speak))
            continue;
        answer_note(answer, "%s as read from the sealed meter '%s'%s%s%s",
                    name_terms(terms, terms_of(meter) & speak), meter->name, phases ? " (phases " : "",
                    phases ? phase_method_name(meter->phase_method) : "", phases ? ")" : "");
    }
}

/* Where a source gives way to the other, inside what is known. */
static void note_seams(struct answer *answer)
{
    char at[STAMP_SIZE], terms[NAMES_SIZE];
    for (int32_t i = 1; i < answer->piece_count; i++) {
        const struct answer_piece *piece = &answer->pieces[i];
        unsigned before = answer->pieces[i - 1].sealed, begun = piece->sealed & ~before,
                 ended = before & ~piece->sealed;
        stamp_minute(at, answer->civil, piece->from_s);
        if (ended)
            answer_note(answer, "seam: %s from sealed readings until %s, from the record after it",
                        name_terms(terms, ended), at);
        if (begun)
            answer_note(answer, "seam: %s from the record until %s, from sealed readings after it",
                        name_terms(terms, begun), at);
    }
}

/* A reading period that lies on both sides of a seam. */
static void note_straddle(struct answer *answer, const struct sources_part *part)
{
    char from[STAMP_SIZE], to[STAMP_SIZE], energy[NUMBER_SIZE], counted[NUMBER_SIZE];
    const char *term = term_names[part->term];
    stamp_date(from, answer->civil, part->period_from_s);
    stamp_date(to, answer->civil, part->period_to_s);
    number_print(energy, part->period_energy, ENERGY_SCALE, number_decimals_of_step(part->step, 3), ',');
    if (part->how == PART_PRORATED) {
        answer_note(answer,
                    "%s: %s kWh from %s to %s lie on both sides of a seam, and the record has not all of its "
                    "side: prorated",
                    term, energy, from, to);
        return;
    }
    number_print(counted, part->counted, ENERGY_SCALE, 3, ',');
    answer_note(answer,
                "%s: of %s kWh from %s to %s the record counted %s kWh, sealed readings give the rest", term,
                energy, from, to, counted);
    if (part->energy < 0)
        answer_note(answer, "%s: that is more than the sealed meter did: see 'meterbook spans'", term);
    if (part->missed)
        answer_note(answer, "%s: a counter of ours was reset there: what it missed is in the sealed part",
                    term);
    if (part->by_day)
        answer_note(answer, "%s: a reading of that period has no time of day and counts as noon", term);
}

/* Stretches that a sealed meter speaks for and was not read over. */
static void note_unread(struct answer *answer, enum balance_term term, int32_t sealed)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    for (int32_t i = 0, end; i < answer->piece_count; i = end + 1) {
        end = i;
        while (end < answer->piece_count && answer->pieces[end].sealed & 1U << term &&
               !sources_covers(answer->sources, term, sealed, answer->pieces[end].from_s,
                               answer->pieces[end].to_s))
            end++;
        if (end == i)
            continue;
        answer_note(answer, "%s is not known from %s to %s: no readings of '%s'", term_names[term],
                    stamp_minute(from, answer->civil, answer->pieces[i].from_s),
                    stamp_minute(to, answer->civil, answer->pieces[end - 1].to_s),
                    answer->sources->config->sealed[sealed].name);
    }
}

static void note_prorated(struct answer *answer)
{
    char number[NUMBER_SIZE];
    bool any = false;
    for (int32_t i = 0; i < answer->row_count; i++)
        any |= answer->rows[i].flags & ROW_PRORATED;
    if (!any)
        return;
    answer_note(answer,
                "prorated rows have shares of reading periods that they cut: production and export along a "
                "clear sky, import evenly by time; of the total %s kWh are such shares",
                number_print(number, answer->total.prorated, ENERGY_SCALE,
                             number_decimals_of_step(answer->coarsest_step, 3), ','));
}

void note_sources(struct answer *answer)
{
    unsigned terms = answer_sealed_terms(answer);
    if (!terms)
        return;
    note_meters(answer, terms);
    note_seams(answer);
    if (answer_is_fine(answer)) {
        answer_note(answer, "sealed readings know no single hour or day: what they speak for is left out "
                            "here, 'month' has it");
        return;
    }
    for (int32_t i = 0; i < answer->sources->part_count; i++) {
        const struct sources_part *part = &answer->sources->parts[i];
        bool told = i > 0 && part[-1].term == part->term && part[-1].first_s == part->first_s &&
                    part[-1].to_s > answer->from_s;
        if (part->how != PART_WHOLE && !told && part->to_s > answer->from_s && part->from_s < answer->to_s)
            note_straddle(answer, part);
    }
    for (int32_t t = 0; t < TERM_COUNT; t++)
        for (int32_t i = 0; i < answer->sources->config->sealed_count; i++)
            if (terms_of(&answer->sources->config->sealed[i]) & 1U << t)
                note_unread(answer, (enum balance_term)t, i);
    note_prorated(answer);
    if (answer->total.flags & ROW_GUESSED)
        answer_note(answer, "estimated readings, which nobody took, bound some of the reading periods");
    if (answer->sources->unclear > 0)
        answer_note(answer, "reading periods that cannot be told, see 'meterbook spans': %d",
                    (int)answer->sources->unclear);
    if (answer->sources->logbook_errors > 0)
        answer_note(answer, "lines of the logbook with errors, left out: %d",
                    (int)answer->sources->logbook_errors);
}
