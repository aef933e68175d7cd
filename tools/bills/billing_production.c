/* What was made between two readings. Bills are for whole civil days, registers go from reading to reading: a
 * reading in the afternoon leaves most of its day's import and export to the bill before it, so the day's
 * production has to go there too. */
#include "billing_read.h"
#include "spans_own.h"

/* Of what sealed meters say; their shares are cut by midnights, and end where readings do. */
static int64_t sealed_production(const struct sources *sources, int64_t from_s, int64_t to_s)
{
    int64_t sum = 0;
    for (int32_t i = 0; i < sources->share_count; i++) {
        const struct sources_share *share = &sources->shares[i];
        int64_t begin_s = share->from_s > from_s ? share->from_s : from_s;
        int64_t end_s = share->to_s < to_s ? share->to_s : to_s;
        if (end_s > begin_s && sources->parts[share->part].term == TERM_PRODUCTION)
            sum += multiply_round(share->energy, end_s - begin_s, share->to_s - share->from_s);
    }
    return sum;
}

/* What was made in the civil day of an instant before it; 0 where nobody knows. */
static int64_t head_of(const struct billing *billing, int64_t at_s)
{
    const struct inquiry *inquiry = billing->inquiry;
    const struct session *session = &inquiry->session;
    int64_t day_s = civil_day_start(session->civil, civil_day_of(session->civil, at_s));
    if (at_s == day_s)
        return 0;
    if (inquiry->sources && sources_sealed(inquiry->sources, at_s - 1) & 1U << TERM_PRODUCTION)
        return sealed_production(inquiry->sources, day_s, at_s);
    struct spans_own own = { .query = session->query, .civil = session->civil };
    int64_t production = spans_own(&own, TERM_PRODUCTION, day_s, at_s);
    return production == UNKNOWN ? 0 : production;
}

static int64_t head_before(struct billing *billing, int64_t at_s)
{
    struct billing_head *heads = billing->heads;
    for (int32_t i = 0; i < 2; i++)
        if (heads[i].at_s == at_s)
            return heads[i].production;
    heads[0] = heads[1];
    heads[1] = (struct billing_head){ at_s, head_of(billing, at_s) };
    return heads[1].production;
}

int64_t gather_production(const struct gather *gather)
{
    const struct billing *billing = gather->billing;
    int64_t from_s = INT64_MAX, to_s = INT64_MAX;
    for (int32_t i = 0; i < billing->spans.count; i++) {
        const struct spans_period *part = &billing->spans.periods[i];
        int64_t from_day = billing_day(billing, part->from_s), to_day = billing_day(billing, part->to_s);
        if (part->reg != SEALED_IMPORT)
            continue;
        if (from_day == gather->period.from_day && part->from_s < from_s)
            from_s = part->from_s;
        if (to_day == gather->period.to_day && part->to_s < to_s)
            to_s = part->to_s;
    }
    if (from_s == INT64_MAX || to_s == INT64_MAX)
        return UNKNOWN;
    int64_t days = gather_sum(gather->result, MEASURE_PRODUCTION);
    return days - head_before(gather->billing, from_s) + head_before(gather->billing, to_s);
}
