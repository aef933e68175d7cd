#include "extremes.h"

#include <string.h>

void extremes_init(struct extremes *extremes, enum extremes_of of, int32_t count)
{
    *extremes = (struct extremes){ .of = of, .count = count };
}

static int64_t energy_of(const struct balance *balance, enum extremes_of of)
{
    const int64_t energies[EXTREMES_FIGURES] = {
        [EXTREMES_PRODUCTION] = balance->production,
        [EXTREMES_IMPORT] = balance->import,
        [EXTREMES_EXPORT] = balance->export,
        [EXTREMES_CONSUMPTION] = balance->consumption,
        [EXTREMES_SELF_CONSUMPTION] = balance->self_consumption,
    };
    return energies[of];
}

/* Puts the day behind those that are as extreme; the last one falls out. `sign` turns high to low. */
static void keep(struct extreme_day *list, int32_t *count, int32_t room, const struct extreme_day *day,
                 int32_t sign)
{
    int32_t at = *count;
    while (at > 0 && sign * day->energy > sign * list[at - 1].energy)
        at--;
    if (at == room)
        return;
    int32_t kept = *count < room ? *count : room - 1;
    memmove(&list[at + 1], &list[at], (size_t)(kept - at) * sizeof(*list));
    list[at] = *day;
    *count = kept + 1;
}

void extremes_add(struct extremes *extremes, const struct answer_row *day)
{
    struct extreme_day entry = {
        .from_s = day->from_s,
        .energy = energy_of(&day->balance, extremes->of),
        .estimated = day->balance.estimated,
        .observed = number_share_down(day->span_s - day->lost_s, day->span_s),
        .flags = day->flags,
    };
    if (entry.energy == UNKNOWN || day->span_s < day->to_s - day->from_s) {
        extremes->in_part++;
        return;
    }
    extremes->days++;
    keep(extremes->high, &extremes->high_count, extremes->count, &entry, 1);
    if (entry.observed < SHARE_ONE)
        extremes->unobserved++;
    else
        keep(extremes->low, &extremes->low_count, extremes->count, &entry, -1);
}
