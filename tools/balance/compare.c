#include "compare.h"

#include "muldiv.h"

const char *const compare_words[COMPARE_FIGURES] = {
    [COMPARE_PRODUCTION] = "production",
    [COMPARE_IMPORT] = "import",
    [COMPARE_EXPORT] = "export",
    [COMPARE_CONSUMPTION] = "consumption",
    [COMPARE_SELF_CONSUMPTION] = "self-consumption",
    [COMPARE_CHARGE] = "charge",
    [COMPARE_DISCHARGE] = "discharge",
    [COMPARE_GENERATOR] = "generator",
};

static int64_t energy_of(const struct balance *balance, enum compare_figure figure)
{
    const int64_t energies[COMPARE_FIGURES] = {
        [COMPARE_PRODUCTION] = balance->production,
        [COMPARE_IMPORT] = balance->import,
        [COMPARE_EXPORT] = balance->export,
        [COMPARE_CONSUMPTION] = balance->consumption,
        [COMPARE_SELF_CONSUMPTION] = balance->self_consumption,
        [COMPARE_CHARGE] = balance->charge,
        [COMPARE_DISCHARGE] = balance->discharge,
        [COMPARE_GENERATOR] = balance->generated,
    };
    return energies[figure];
}

static struct compare_side side_of(const struct compare_span *span, enum compare_figure figure)
{
    struct compare_side side = { .energy = energy_of(&span->balance, figure),
                                 .known_s = span->known_s[figure],
                                 .per_day = UNKNOWN };
    /* a day of the span's own length: a month with a day of 23 hours has all of its days */
    if (side.energy != UNKNOWN && side.known_s > 0)
        side.per_day = mul_div(side.energy, span->length_s, side.known_s * span->days);
    return side;
}

void compare_make(const struct compare_span span[2], struct compare_line lines[COMPARE_FIGURES])
{
    for (int32_t i = 0; i < COMPARE_FIGURES; i++) {
        struct compare_line *line = &lines[i];
        *line = (struct compare_line){ .difference = UNKNOWN, .difference_share = UNKNOWN };
        for (int32_t s = 0; s < 2; s++)
            line->side[s] = side_of(&span[s], (enum compare_figure)i);
        if (line->side[0].per_day == UNKNOWN || line->side[1].per_day == UNKNOWN)
            continue;
        line->difference = line->side[0].per_day - line->side[1].per_day;
        line->difference_share = number_share(line->difference, line->side[1].per_day);
    }
}

/* The date of a day in another year; 29 February is 1 March where there is none. */
static int64_t in_year(int64_t day, int32_t years)
{
    int32_t year, month, date;
    civil_date(day, &year, &month, &date);
    return civil_day_number(year + years, month, date);
}

struct period compare_year_before(const struct period *period, bool weeks)
{
    int32_t year, week, other_year, other_week;
    if (!weeks) {
        struct period before = { in_year(period->from_day, -1), in_year(period->to_day, -1) };
        before.to_day += before.to_day == before.from_day; /* of 29 February alone */
        return before;
    }
    int64_t back = 52 * 7;
    period_week(period->from_day, &year, &week);
    period_week(period->from_day - back, &other_year, &other_week);
    if (other_week != week)
        back += 7;
    return (struct period){ period->from_day - back, period->to_day - back };
}

int32_t compare_cut(struct period period[2], int64_t known_day)
{
    int32_t cut = period[0].to_day > known_day ? 0 : period[1].to_day > known_day ? 1 : -1;
    int32_t year[2], month[2], date[2];
    if (cut < 0)
        return cut;
    struct period *first = &period[cut], *other = &period[1 - cut];
    for (int32_t i = 0; i < 2; i++)
        civil_date(period[i].from_day, &year[i], &month[i], &date[i]);
    first->to_day = known_day > first->from_day ? known_day : first->from_day;
    int64_t same = month[0] == month[1] && date[0] == date[1]
                       ? in_year(first->to_day, year[1 - cut] - year[cut])
                       : other->from_day + (first->to_day - first->from_day);
    if (same < other->to_day)
        other->to_day = same;
    if (other->to_day > known_day) /* both go on */
        other->to_day = known_day > other->from_day ? known_day : other->from_day;
    return cut;
}
