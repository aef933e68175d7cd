#include "known.h"

/* Does the record have to tell any of the terms of this piece? */
static bool needs_record(const struct answer_piece *piece, unsigned terms)
{
    return (terms & ~piece->sealed) != 0;
}

static bool readings_cover(const struct answer *answer, const struct answer_piece *piece, unsigned terms)
{
    for (int32_t t = 0; t < TERM_COUNT; t++)
        if (terms & piece->sealed & 1U << t &&
            (answer_is_fine(answer) ||
             sources_energy(answer->sources, (enum balance_term)t, piece->from_s, piece->to_s) == UNKNOWN))
            return false;
    return true;
}

static bool stands_for(enum use use, unsigned terms, bool others)
{
    return use_terms(use) & terms ||
           (others && (use == USE_STORAGE || use == USE_GENERATOR || use == USE_CONSUMPTION));
}

/* Is the meter of the slot one of those of the terms, in any arrangement? */
static bool slot_counts(const struct answer *answer, int32_t slot, unsigned terms, bool others)
{
    for (int32_t i = 0; i < answer->history.count; i++) {
        const struct arrangement *arrangement = &answer->history.arrangements[i];
        for (int32_t j = 0; j < arrangement->meter_count; j++)
            if (arrangement->meters[j].slot == slot && !arrangement->meters[j].only_compared &&
                stands_for(arrangement->meters[j].use, terms, others))
                return true;
    }
    return false;
}

int64_t known_s(const struct answer *answer, unsigned terms, bool others)
{
    int64_t known = 0, missing = 0;
    for (int32_t i = 0; i < answer->piece_count; i++) {
        const struct answer_piece *piece = &answer->pieces[i];
        bool from_record = needs_record(piece, terms);
        if (!(from_record && piece->before) && readings_cover(answer, piece, terms))
            known += piece->to_s - piece->from_s;
    }
    for (int32_t slot = 0; slot < answer->history.slot_count; slot++) {
        int64_t used = answer_used_s(answer, slot, answer->from_s, answer->to_s);
        if (slot_counts(answer, slot, terms, others) && used - answer->present_s[slot] > missing)
            missing = used - answer->present_s[slot];
    }
    return known > missing ? known - missing : 0;
}
