/* What an answer says of a span that is compared. */
#include "compare.h"
#include "known.h"

struct compare_span compare_span_of(const struct answer *answer, int64_t days)
{
    static const struct {
        unsigned terms;
        bool others;
    } needs[COMPARE_FIGURES] = {
        [COMPARE_PRODUCTION] = { TERMS_PRODUCTION, false },
        [COMPARE_IMPORT] = { 1U << TERM_IMPORT, false },
        [COMPARE_EXPORT] = { 1U << TERM_EXPORT, false },
        [COMPARE_CONSUMPTION] = { TERMS_ALL, true },
        [COMPARE_SELF_CONSUMPTION] = { TERMS_PRODUCTION | 1U << TERM_EXPORT, false },
        [COMPARE_CHARGE] = { 0, true },
        [COMPARE_DISCHARGE] = { 0, true },
        [COMPARE_GENERATOR] = { 0, true },
    };
    struct compare_span span = { .days = days,
                                 .length_s = answer->to_s - answer->from_s,
                                 .balance = answer->total.balance };
    for (int32_t i = 0; i < COMPARE_FIGURES; i++)
        span.known_s[i] = known_s(answer, needs[i].terms, needs[i].others);
    return span;
}
