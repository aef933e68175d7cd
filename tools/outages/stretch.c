#include "stretch.h"

enum { DAY_S = 86400, UNWATCHED = 10 };

static int64_t floor_to(int64_t at, int64_t length)
{
    return at - at % length;
}

struct stretch stretch_of(struct query *query, int32_t meter, int64_t from_ms, int64_t to_ms)
{
    struct stretch stretch = { .query = query, .meter = meter };
    stretch.interval_s = query_interval_at(query, from_ms / 1000);
    stretch.from_s = floor_to(from_ms / 1000, stretch.interval_s);
    stretch.to_s = floor_to((to_ms + 999) / 1000 + stretch.interval_s - 1, stretch.interval_s);
    return stretch;
}

struct meter_sum stretch_sum(const struct stretch *stretch, int64_t shift_s)
{
    return query_meter_sum(stretch->query, stretch->meter, stretch->from_s + shift_s,
                           stretch->to_s + shift_s);
}

int64_t stretch_shift_s(const struct stretch *stretch, int32_t index)
{
    int64_t days = (stretch->to_s - stretch->from_s + DAY_S - 1) / DAY_S + index / 2;
    return (index % 2 == 0 ? -1 : 1) * days * DAY_S;
}

bool stretch_day(const struct stretch *stretch, int32_t index, struct meter_sum *sum)
{
    int64_t length_s = stretch->to_s - stretch->from_s;
    *sum = stretch_sum(stretch, stretch_shift_s(stretch, index));
    return sum->rows * stretch->interval_s == length_s && sum->unobserved_s * UNWATCHED <= length_s;
}
