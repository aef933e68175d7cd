/* Performance ratio as IEC 61724-1 defines it: what was made, of what the
 * plant's peak power would make of the light that fell into its plane.
 *
 *     PR       = sum(E) / sum(P0 H),            H in kWh/m2, reference 1 kW/m2
 *     PR at T  = sum(E) / sum(C P0 H),          C = 1 + gamma (T_module - T)
 *
 * T is 25 degC, or the irradiance-weighted mean of the module temperature, as a
 * year is corrected (M. Dierauf et al., NREL/TP-5200-57991, equation 5). An interval without energy or
 * without irradiance must not be added: it belongs to neither sum. One without module temperature counts in
 * the plain ratio only. Pure; kWh, kWp, degC. */
#ifndef METERBOOK_PERFORMANCE_H
#define METERBOOK_PERFORMANCE_H

#include <stdint.h>

struct performance {
    int64_t seconds;        /* of the intervals added */
    double made, reference; /* kWh; reference: P0 H */
    double light;           /* kWh/m2: where planes differ, weighted by their peak power */
    double made_warm, reference_warm, light_warm; /* of those with a module temperature */
    double heat;                                  /* sum(P0 H T) of these */
};

/* Of one interval: energy, P0 H, H, and the module temperature or NAN. */
void performance_add(struct performance *sum, int64_t seconds, double made, double reference, double light,
                     double temperature);
void performance_join(struct performance *sum, const struct performance *other);

/* NAN where there was no light. */
double performance_ratio(const struct performance *sum);
/* gamma per degC, negative; NAN where no module temperature is known. */
double performance_ratio_at(const struct performance *sum, double gamma, double temperature);
/* Mean module temperature, weighted by the light: what a year is corrected to. */
double performance_warmth(const struct performance *sum);

/* Cell temperature of a module from air and wind (D. L. King et al., SAND2004-3535): irradiance W/m2, air
 * degC, wind m/s; a and b say how it is mounted, `above` how much warmer the cell is than its back at
 * 1000 W/m2. */
struct mounting {
    double a, b, above;
};
double performance_cell_temperature(const struct mounting *mounting, double irradiance, double air,
                                    double wind);

/* Energy over what a power would bring in so many hours; NAN where one of them is not above 0. */
double performance_capacity_factor(double energy_kwh, double power_kw, double hours);

#endif
