#include "conventions.h"

/* At the average price of the bill without the plant, with all its charges. */
static int64_t at_average(const struct saving *saving, int64_t energy)
{
    return saving->consumption > 0 ? multiply_round(energy, saving->without, saving->consumption) : UNKNOWN;
}

int64_t convention_saving(enum convention convention, const struct saving *saving)
{
    int64_t self_use = at_average(saving, saving->production - saving->export);
    switch (convention) {
    case CONVENTION_FIXED_AGAINST_PLANT:
        return saving->saved - saving->fixed;
    case CONVENTION_PRODUCTION_AT_AVERAGE:
        return at_average(saving, saving->production);
    default:
        return self_use == UNKNOWN || saving->export_value == UNKNOWN ? UNKNOWN
                                                                      : self_use + saving->export_value;
    }
}
