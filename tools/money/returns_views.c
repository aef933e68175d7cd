#include "returns_views.h"

#include <math.h>

#include "calendar.h"
#include "number.h"

struct list {
    struct returns_figure *figures;
    int32_t count;
};

static struct returns_figure *add(struct list *list, bool projected, const char *name)
{
    struct returns_figure *figure = &list->figures[list->count];
    list->count += list->count + 1 < RETURNS_FIGURES;
    *figure = (struct returns_figure){ projected, name, UNKNOWN, UNKNOWN, UNKNOWN, UNKNOWN };
    return figure;
}

static int64_t millionths(double value)
{
    return isfinite(value) && fabs(value) < 9e12 ? (int64_t)llround(value * 1e6) : UNKNOWN;
}

static void add_day(struct list *list, const struct returns *returns, bool projected, const char *name,
                    int64_t day)
{
    struct returns_figure *figure = add(list, projected, name);
    figure->day = day;
    figure->days = day == UNKNOWN ? UNKNOWN : day - returns->first_day;
}

static void add_realised(struct list *list, const struct returns *returns)
{
    add(list, false, "paid for the plant, less subsidies")->amount = returns->paid;
    add(list, false, "saved")->amount = returns->saved;
    add(list, false, "of what was paid")->share = number_share(returns->saved, returns->paid);
    add(list, false, "saved in a year, by the last bills")->amount = returns->year_saving;
    add(list, false, "simple return a year on what was paid")->share = returns->simple_return;
    if (returns->payback_day != UNKNOWN && !returns->payback_projected)
        add_day(list, returns, false, "paid back", returns->payback_day);
}

static void add_projected(struct list *list, const struct returns *returns,
                          const struct contract_projection *projection)
{
    const char *rate = returns->rate_count > 1 ? "internal rate, one of several" : "internal rate of return";
    if (returns->payback_day == UNKNOWN)
        add_day(list, returns, true, "paid back: never within the life", UNKNOWN);
    else if (returns->payback_projected)
        add_day(list, returns, true, "paid back", returns->payback_day);
    add(list, true, "net present value at the discount rate")->amount = millionths(returns->present_value);
    for (int32_t i = 0; i < returns->rate_count && i < RETURNS_RATES; i++)
        add(list, true, rate)->share = millionths(returns->rates[i]);
    add(list, true, "interest of the deposit beside it")->share = projection->deposit;
    add(list, true, "wealth at the life's end, savings deposited")->amount =
        millionths(returns->plant_wealth);
    add(list, true, "wealth at the life's end, cost deposited instead")->amount =
        millionths(returns->deposit_wealth);
    add(list, true, "levelised cost of a kWh")->amount = millionths(returns->levelised);
    add_day(list, returns, true, "end of the plant's life", returns->end_day);
}

int32_t returns_figures(const struct returns *returns, const struct contract_projection *projection,
                        struct returns_figure figures[RETURNS_FIGURES])
{
    struct list list = { figures, 0 };
    add_realised(&list, returns);
    if (returns->has_projection)
        add_projected(&list, returns, projection);
    return list.count;
}

const char *returns_rate_words(const struct returns *returns)
{
    if (!returns->has_projection || returns->rate_count == 1)
        return NULL;
    return returns->rate_count == 0
               ? "internal rate of return: no solution, all payments go one way or never meet"
               : "internal rate of return: several solutions, since payments change their sign more than "
                 "once; no one of them is the return: compare end wealth";
}

static int32_t year_of(int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return year;
}

bool returns_next_year(const struct returns *returns, int32_t *at, struct returns_year *year)
{
    if (*at >= returns->flow_count)
        return false;
    int64_t sum = *at > 0 ? year->sum : 0;
    *year = (struct returns_year){ .year = year_of(returns->flows[*at].day) };
    for (; *at < returns->flow_count && year_of(returns->flows[*at].day) == year->year; ++*at) {
        const struct returns_flow *flow = &returns->flows[*at];
        year->cost += flow->cost;
        year->saving += flow->saving;
        year->operating += flow->operating;
        year->realised |= !flow->projected;
        year->projected |= flow->projected;
    }
    year->sum = sum + year->cost + year->saving + year->operating;
    return true;
}
