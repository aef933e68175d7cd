/* links: daemon/record/quantity.c */
/* The words and codes of the trade that the quantities carry. Source of the
 * OBIS codes (IEC 62056-6-1, C.D.E of medium 1): the published lists of drivers
 * that reproduce the standard; those marked are from memory. Direction: energy
 * from the network to the consumer is import (the same standard's A+). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "quantity.h"

static void test_obis(void **state)
{
    static const struct {
        enum quantity quantity;
        const char *name, *obis, *unit;
    } rows[] = {
        { Q_ACTIVE_IMPORT, "active_import", "1.8.0", "kWh" },
        { Q_ACTIVE_EXPORT, "active_export", "2.8.0", "kWh" },
        { Q_REACTIVE_IMPORT, "reactive_import", "3.8.0", "kvarh" },
        { Q_REACTIVE_EXPORT, "reactive_export", "4.8.0", "kvarh" },
        { Q_VOLTAGE_L1, "voltage_l1", "32.7.0", "V" },
        { Q_VOLTAGE_L2, "voltage_l2", "52.7.0", "V" },
        { Q_VOLTAGE_L3, "voltage_l3", "72.7.0", "V" },
        { Q_CURRENT_L1, "current_l1", "31.7.0", "A" },
        { Q_CURRENT_L2, "current_l2", "51.7.0", "A" },
        { Q_CURRENT_L3, "current_l3", "71.7.0", "A" },
        /* from memory */
        { Q_APPARENT_IMPORT, "apparent_import", "9.8.0", "kVAh" },
        { Q_POWER, "power", "16.7.0", "W" },
        { Q_FREQUENCY, "frequency", "14.7.0", "Hz" },
        { Q_POWER_FACTOR, "power_factor", "13.7.0", "" },
    };
    (void)state;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const struct quantity_info *info = quantity_info(rows[i].quantity);
        assert_string_equal(info->name, rows[i].name);
        assert_string_equal(info->obis, rows[i].obis);
        assert_string_equal(info->unit, rows[i].unit);
        assert_int_equal(quantity_by_name(rows[i].name), rows[i].quantity);
    }
    assert_int_equal(quantity_by_name("active"), QUANTITY_COUNT);
}

/* D of a code says how it was made: 8 a time integral (a counter), 7 an
 * instantaneous value. */
static void test_codes_fit_their_kinds(void **state)
{
    (void)state;
    for (int q = 0; q < QUANTITY_COUNT; q++) {
        const struct quantity_info *info = quantity_info((enum quantity)q);
        if (info->obis[0] == '\0' || info->kind == KIND_TEXT)
            continue;
        const char *processing = strchr(info->obis, '.');
        assert_non_null(processing);
        assert_string_equal(processing, info->kind == KIND_COUNTER ? ".8.0" : ".7.0");
        assert_int_equal(q < COUNTER_COUNT, info->kind == KIND_COUNTER);
        for (int other = 0; other < q; other++)
            assert_string_not_equal(info->obis, quantity_info((enum quantity)other)->obis);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_obis),
        cmocka_unit_test(test_codes_fit_their_kinds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
