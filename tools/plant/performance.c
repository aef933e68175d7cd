#include "performance.h"

#include <math.h>

void performance_add(struct performance *sum, int64_t seconds, double made, double reference, double light,
                     double temperature)
{
    sum->seconds += seconds;
    sum->made += made;
    sum->reference += reference;
    sum->light += light;
    if (isnan(temperature))
        return;
    sum->made_warm += made;
    sum->reference_warm += reference;
    sum->light_warm += light;
    sum->heat += reference * temperature;
}

void performance_join(struct performance *sum, const struct performance *other)
{
    sum->seconds += other->seconds;
    sum->made += other->made;
    sum->reference += other->reference;
    sum->light += other->light;
    sum->made_warm += other->made_warm;
    sum->reference_warm += other->reference_warm;
    sum->light_warm += other->light_warm;
    sum->heat += other->heat;
}

double performance_ratio(const struct performance *sum)
{
    return sum->reference > 0 ? sum->made / sum->reference : NAN;
}

double performance_ratio_at(const struct performance *sum, double gamma, double temperature)
{
    double reference = sum->reference_warm + gamma * (sum->heat - temperature * sum->reference_warm);
    return reference > 0 ? sum->made_warm / reference : NAN;
}

double performance_warmth(const struct performance *sum)
{
    return sum->reference_warm > 0 ? sum->heat / sum->reference_warm : NAN;
}

double performance_cell_temperature(const struct mounting *mounting, double irradiance, double air,
                                    double wind)
{
    return irradiance * exp(mounting->a + mounting->b * wind) + air + irradiance / 1000 * mounting->above;
}

double performance_capacity_factor(double energy_kwh, double power_kw, double hours)
{
    return power_kw > 0 && hours > 0 ? energy_kwh / (power_kw * hours) : NAN;
}
