#include "one_bill.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "calendar.h"

const struct contract house = { .with_plant = true, .phases = 1 };

struct usage use_of(const struct tariff *tariff, int64_t days, double import, double export)
{
    struct usage use = { .from_day = civil_day_number(2024, 3, 1), .schedule = &tariff->schedules[0] };
    use.to_day = use.from_day + days;
    use.energy[MEASURE_IMPORT][0] = KWH(import);
    use.energy[MEASURE_EXPORT][0] = KWH(export);
    return use;
}

struct bill bill_once(const struct tariff *tariff, const struct usage *use)
{
    struct credit credit = { 0 };
    struct bill bill;
    assert_true(bill_make(&bill, tariff, &house, use, 1, &credit));
    assert_false(bill.cut);
    return bill;
}

struct bill bill_of(const struct tariff *tariff, int64_t days, double import)
{
    struct usage use = use_of(tariff, days, import, 0);
    return bill_once(tariff, &use);
}
