#include "sources.h"

#include <stdlib.h>

enum balance_term sources_term(const struct config_sealed *meter, enum sealed_register reg)
{
    if (meter->role == ROLE_PRODUCTION)
        return reg == (meter->delivers_by_export ? SEALED_EXPORT : SEALED_IMPORT) ? TERM_PRODUCTION
                                                                                  : TERM_COUNT;
    return reg == SEALED_IMPORT ? TERM_IMPORT : reg == SEALED_EXPORT ? TERM_EXPORT : TERM_COUNT;
}

enum source_subject sources_subject(enum balance_term term)
{
    return term == TERM_PRODUCTION ? SUBJECT_OF_PRODUCTION : SUBJECT_OF_GRID;
}

void sources_free(struct sources *sources)
{
    for (int32_t i = 0; i < SOURCE_SUBJECTS; i++)
        free(sources->changes[i]);
    free(sources->parts);
    free(sources->shares);
    free(sources->breaks);
    *sources = (struct sources){ 0 };
}

static bool is_sealed(const struct sources *sources, enum source_subject subject, int64_t at_s)
{
    bool sealed = false;
    for (int32_t i = 0; i < sources->change_count[subject] && sources->changes[subject][i].at_s <= at_s; i++)
        sealed = sources->changes[subject][i].sealed;
    return sealed;
}

unsigned sources_sealed(const struct sources *sources, int64_t at_s)
{
    if (!sources)
        return 0;
    return (is_sealed(sources, SUBJECT_OF_GRID, at_s) ? TERMS_GRID : 0U) |
           (is_sealed(sources, SUBJECT_OF_PRODUCTION, at_s) ? TERMS_PRODUCTION : 0U);
}

int64_t sources_next(const struct sources *sources, int64_t at_s)
{
    for (int32_t i = 0; sources && i < sources->break_count; i++)
        if (sources->breaks[i] > at_s)
            return sources->breaks[i];
    return INT64_MAX;
}

void sources_reach(const struct sources *sources, int64_t from_s, int64_t to_s, int64_t *first_s,
                   int64_t *last_s)
{
    *first_s = INT64_MAX;
    *last_s = INT64_MIN;
    for (int32_t i = 0; sources && i < sources->share_count; i++) {
        const struct sources_share *share = &sources->shares[i];
        if (share->to_s <= from_s || share->from_s >= to_s)
            continue;
        *first_s = share->from_s < *first_s ? share->from_s : *first_s;
        *last_s = share->to_s > *last_s ? share->to_s : *last_s;
    }
}

int64_t sources_energy(const struct sources *sources, enum balance_term term, int64_t from_s, int64_t to_s)
{
    int64_t sum = 0, covered_s = 0;
    if (!sources || sources->meter_count[term] == 0)
        return UNKNOWN;
    for (int32_t i = 0; i < sources->share_count; i++) {
        const struct sources_share *share = &sources->shares[i];
        if (sources->parts[share->part].term != term || share->from_s < from_s || share->to_s > to_s)
            continue;
        sum += share->energy;
        covered_s += share->to_s - share->from_s;
    }
    return covered_s == sources->meter_count[term] * (to_s - from_s) ? sum : UNKNOWN;
}

bool sources_covers(const struct sources *sources, enum balance_term term, int32_t sealed, int64_t from_s,
                    int64_t to_s)
{
    int64_t covered_s = 0;
    for (int32_t i = 0; sources && i < sources->share_count; i++) {
        const struct sources_share *share = &sources->shares[i];
        const struct sources_part *part = &sources->parts[share->part];
        if (part->term == term && part->sealed == sealed && share->from_s >= from_s && share->to_s <= to_s)
            covered_s += share->to_s - share->from_s;
    }
    return covered_s == to_s - from_s;
}

int64_t sources_prorated(const struct sources *sources, int64_t from_s, int64_t to_s)
{
    int64_t sum = UNKNOWN;
    for (int32_t i = 0; sources && i < sources->share_count; i++) {
        const struct sources_share *share = &sources->shares[i];
        const struct sources_part *part = &sources->parts[share->part];
        if (share->to_s <= from_s || share->from_s >= to_s)
            continue;
        bool whole = part->first_s >= from_s && part->last_s <= to_s && part->how != PART_PRORATED;
        sum = number_sum(sum, whole ? 0 : llabs(share->energy));
    }
    return sum;
}

bool sources_guessed(const struct sources *sources, int64_t from_s, int64_t to_s)
{
    for (int32_t i = 0; sources && i < sources->part_count; i++) {
        const struct sources_part *part = &sources->parts[i];
        if (part->guessed && part->to_s > from_s && part->from_s < to_s)
            return true;
    }
    return false;
}

int64_t sources_step(const struct sources *sources, enum balance_term term, int64_t from_s, int64_t to_s)
{
    int64_t step = 1;
    for (int32_t i = 0; sources && i < sources->part_count; i++) {
        const struct sources_part *part = &sources->parts[i];
        if (part->term == term && part->to_s > from_s && part->from_s < to_s && part->step > step)
            step = part->step;
    }
    return step;
}
