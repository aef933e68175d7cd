/* links: daemon/bus/sunspec.c daemon/bus/sunspec_models.c daemon/bus/plan.c daemon/decode.c daemon/record/muldiv.c daemon/record/quantity.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "decode.h"
#include "sunspec.h"

/* A device: its registers, and which of them it answers for. */
struct device {
    uint16_t registers[65536];
    bool answers[65536];
    int32_t end; /* where the next model goes */
    int asked;
};

static struct device device; /* 200 kB: too large for a stack */

static void begin(int32_t base)
{
    memset(&device, 0, sizeof device);
    device.registers[base] = 0x5375;
    device.registers[base + 1] = 0x6E53;
    device.answers[base] = device.answers[base + 1] = true;
    device.end = base + 2;
}

static int32_t put_model(int id, int length)
{
    int32_t address = device.end;
    device.registers[address] = (uint16_t)id;
    device.registers[address + 1] = (uint16_t)length;
    for (int32_t i = address; i < address + 2 + length && i < 65536; i++) {
        device.answers[i] = true;
    }
    device.end = address + 2 + length;
    return address;
}

static const uint16_t *ask(const struct request *request)
{
    device.asked++;
    for (int32_t i = request->address; i < request->address + request->count; i++) {
        if (!device.answers[i]) {
            return NULL;
        }
    }
    return device.registers + request->address;
}

static enum sunspec_state run(struct sunspec_walk *walk)
{
    struct request request;
    while (sunspec_next(walk, &request) == SUNSPEC_ASKING) {
        assert_int_equal(request.function, 3);
        assert_int_equal(request.count, 2);
        sunspec_take(walk, ask(&request));
    }
    return walk->state;
}

static const struct point *point_of(const struct sunspec_walk *walk, enum quantity quantity)
{
    for (int i = 0; i < walk->map.point_count; i++) {
        if (walk->map.points[i].quantity == quantity) {
            return &walk->map.points[i];
        }
    }
    return NULL;
}

/* The walk of the discovery rules: models 1, 103 and 203 after the marker at
 * 40000, the end marker at 40229. Addresses computed from the models' lengths
 * (SunSpec Alliance, model definitions: 66, 50, 105). */
static void chain_of_three(void **state)
{
    struct sunspec_walk walk;
    (void)state;
    begin(40000);
    assert_int_equal(put_model(1, 66), 40002);
    assert_int_equal(put_model(103, 50), 40070);
    assert_int_equal(put_model(203, 105), 40122);
    assert_int_equal(put_model(0xFFFF, 0), 40229);

    sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_int_equal(device.asked, 5);
    assert_string_equal(walk.map.name, "sunspec");
    assert_false(walk.map.walk);
    assert_int_equal(walk.map.max_registers, 125);
    assert_int_equal(point_of(&walk, Q_SERIAL_NUMBER)->address, 40002 + 50);
    assert_int_equal(point_of(&walk, Q_ACTIVE_EXPORT)->address, 40070 + 24);
    assert_int_equal(point_of(&walk, Q_ACTIVE_EXPORT)->scale_address, 40070 + 26);
    assert_int_equal(point_of(&walk, Q_POWER)->address, 40070 + 14);
    assert_true(point_of(&walk, Q_POWER)->negate);
    assert_null(point_of(&walk, Q_ACTIVE_IMPORT)); /* the inverter's, not the meter's */
    assert_int_equal(walk.map.range_count, 2);
    assert_int_equal(walk.map.ranges[1].from, 40070);
    assert_int_equal(walk.map.ranges[1].to, 40121);

    sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, true, true);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_int_equal(point_of(&walk, Q_ACTIVE_EXPORT)->address, 40122 + 38);
    assert_int_equal(point_of(&walk, Q_ACTIVE_IMPORT)->address, 40122 + 46);
    assert_true(point_of(&walk, Q_POWER)->negate); /* by the setting */
    sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, false, true);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_false(point_of(&walk, Q_POWER)->negate);
}

static void bases(void **state)
{
    static const int32_t usual[] = { 40000, 0, 50000 };
    struct sunspec_walk walk;
    (void)state;
    for (int i = 0; i < 3; i++) {
        begin(usual[i]);
        put_model(1, 65); /* without the pad */
        put_model(101, 50);
        put_model(0xFFFF, 0);
        sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, false, false);
        assert_int_equal(run(&walk), SUNSPEC_DONE);
        assert_int_equal(device.asked, i + 4);
        assert_int_equal(point_of(&walk, Q_POWER)->address, usual[i] + 2 + 67 + 14);
    }
    /* registers that answer but hold no marker lead on as well */
    device.answers[40000] = device.answers[40001] = true;
    sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    /* a base of its own is the only one asked */
    begin(1000);
    put_model(1, 66);
    put_model(101, 50);
    put_model(0xFFFF, 0);
    sunspec_start(&walk, SUNSPEC_TRY_BASES, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "no SunSpec marker at registers 40000, 0 and 50000");
    sunspec_start(&walk, 1000, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    sunspec_start(&walk, 999, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "no SunSpec marker at register 999");
    sunspec_take(&walk, device.registers); /* too late: nothing */
    assert_int_equal(walk.state, SUNSPEC_FAILED);
}

static void chains_that_fail(void **state)
{
    struct sunspec_walk walk;
    (void)state;
    begin(0); /* not model 1 first */
    put_model(103, 50);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "the SunSpec chain begins with model 103, not with model 1");

    begin(0); /* nothing behind it */
    put_model(1, 66);
    put_model(120, 26);
    put_model(0xFFFF, 0);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "none of the 2 SunSpec models is one that is read here");

    begin(0); /* silence in the chain */
    put_model(1, 66);
    put_model(103, 50);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "no answer in the SunSpec chain at register 122");

    begin(40000); /* past the last register */
    put_model(1, 66);
    put_model(64000, 30000);
    sunspec_start(&walk, 40000, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "no SunSpec model can be at register 40070, the chain has no end");

    for (int past = 0; past < 2; past++) { /* the last place for an end marker is register 65534 */
        begin(65000);
        put_model(1, 66);
        put_model(120, 65534 - 65072 + past);
        device.answers[65534] = device.answers[65535] = true;
        device.registers[65534] = past ? 0 : 0xFFFF;
        sunspec_start(&walk, 65000, 0, false, false);
        assert_int_equal(run(&walk), SUNSPEC_FAILED);
        assert_string_equal(walk.reason,
                            past ? "no SunSpec model can be at register 65070, the chain has no end"
                                 : "none of the 2 SunSpec models is one that is read here");
    }

    begin(0); /* more models than there are */
    put_model(1, 66);
    for (int i = 0; i < SUNSPEC_MAX_MODELS; i++) {
        put_model(120, 26);
    }
    put_model(103, 50);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_FAILED);
    assert_string_equal(walk.reason, "more than 64 SunSpec models, the chain has no end");
}

/* Without an end marker: what was found counts. */
static void chains_without_end(void **state)
{
    struct sunspec_walk walk;
    (void)state;
    begin(0);
    put_model(1, 66);
    put_model(103, 50);
    device.answers[device.end] = device.answers[device.end + 1] = true; /* zeros behind */
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_int_equal(point_of(&walk, Q_POWER)->address, 70 + 14);

    begin(0);
    put_model(1, 66);
    put_model(103, 50);
    for (int i = 0; i < SUNSPEC_MAX_MODELS; i++) {
        put_model(120, 26);
    }
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
}

static void unknown_and_repeated_models(void **state)
{
    struct sunspec_walk walk;
    (void)state;
    begin(0);
    put_model(1, 66);
    put_model(64001, 7);
    put_model(302, 10);
    int32_t inverter = put_model(113, 60);
    put_model(103, 50); /* a second inverter: not read */
    int32_t module = put_model(303, 2);
    int32_t weather = put_model(307, 11);
    put_model(302, 0);
    put_model(0xFFFF, 0);
    sunspec_start(&walk, 0, 0, false, true);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_int_equal(point_of(&walk, Q_ACTIVE_EXPORT)->address, inverter + 32);
    assert_int_equal(point_of(&walk, Q_IRRADIANCE)->address, 70 + 9 + 3);
    assert_int_equal(point_of(&walk, Q_MODULE_TEMPERATURE)->address, module + 2);
    assert_int_equal(point_of(&walk, Q_AMBIENT_TEMPERATURE)->address, weather + 2);
    assert_int_equal(point_of(&walk, Q_AMBIENT_TEMPERATURE)->exponent, -1);
}

static void models_shorter_than_published(void **state)
{
    struct sunspec_walk walk;
    (void)state;
    begin(0);
    put_model(1, 66);
    put_model(103, 24); /* registers 0..25: without the scale factor of WH */
    put_model(0xFFFF, 0);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_non_null(point_of(&walk, Q_POWER));
    assert_null(point_of(&walk, Q_ACTIVE_EXPORT));
    assert_null(point_of(&walk, Q_DC_POWER));
}

/* Model 701 is 155 registers, 211 is 126: neither fits one read. */
static void wide_models_are_split(void **state)
{
    static const struct {
        int id, length;
    } models[] = { { 701, 153 }, { 211, 124 }, { 204, 105 }, { 103, 50 } };
    const struct line_cost cost = { .request_us = 27918, .register_us = 2292 };
    struct sunspec_walk walk;
    struct plan plan;
    (void)state;
    for (size_t i = 0; i < sizeof models / sizeof models[0]; i++) {
        for (int limit = 0; limit <= 125; limit += 25) {
            begin(40000);
            put_model(1, 66);
            int32_t address = put_model(models[i].id, models[i].length);
            put_model(0xFFFF, 0);
            sunspec_start(&walk, SUNSPEC_TRY_BASES, limit, false, false);
            if (run(&walk) == SUNSPEC_FAILED) {
                assert_true(models[i].id == 701 && limit < 90 &&
                            limit > 0); /* the scale factors are far away */
                continue;
            }
            assert_int_equal(plan_make(&plan, &walk.map, walk.map.max_registers, cost), 0);
            assert_int_equal(plan.point_count, walk.map.point_count);
            for (int r = 0; r < plan.request_count; r++) {
                struct request *request = &plan.requests[r];
                assert_in_range(request->count, 1, limit > 0 ? limit : 125);
                assert_non_null(ask(request));
                assert_true(request->address >= address || request->read_class == READ_START);
            }
        }
    }
}

static void put_values(int32_t address, const uint16_t *values, int count)
{
    memcpy(device.registers + address, values, (size_t)count * sizeof values[0]);
}

static enum decode_result value_of(const struct sunspec_walk *walk, enum quantity quantity, int64_t *value)
{
    struct decoded decoded = { 0 };
    const struct point *point = point_of(walk, quantity);
    assert_non_null(point);
    enum decode_result result = decode_point(point, device.registers, 0, &decoded);
    *value = decoded.value;
    return result;
}

/* From the wire to numbers; the values are computed from value = raw * 10^sf. */
static void values(void **state)
{
    struct sunspec_walk walk;
    char text[TEXT_SIZE];
    int64_t value;
    (void)state;
    begin(0);
    int32_t common = put_model(1, 66);
    put_values(common + 50, (const uint16_t[]){ 0x4142, 0x3132, 0x3300 }, 3);
    int32_t inverter = put_model(103, 50);
    put_values(inverter + 10, (const uint16_t[]){ 2305, 0xFFFF, 2310, 0xFFFF }, 4);
    put_values(inverter + 14, (const uint16_t[]){ 1523, 0, 5001, 0xFFFE }, 4);     /* W, Hz */
    put_values(inverter + 22, (const uint16_t[]){ 985, 0xFFFF, 1, 0xE240, 1 }, 5); /* PF, WH */
    put_values(inverter + 33, (const uint16_t[]){ 0x8000, 0, 0, 0, 0xFFFF }, 5);
    put_model(0xFFFF, 0);
    sunspec_start(&walk, 0, 0, false, false);
    assert_int_equal(run(&walk), SUNSPEC_DONE);

    assert_int_equal(decode_text(point_of(&walk, Q_SERIAL_NUMBER), device.registers, 0, text), DECODE_OK);
    assert_string_equal(text, "AB123");
    assert_int_equal(value_of(&walk, Q_VOLTAGE_L1, &value), DECODE_OK);
    assert_int_equal(value, 230500);
    assert_int_equal(value_of(&walk, Q_VOLTAGE_L2, &value), DECODE_ABSENT);
    assert_int_equal(value_of(&walk, Q_POWER, &value), DECODE_OK);
    assert_int_equal(value, -1523000); /* generation is export */
    assert_int_equal(value_of(&walk, Q_FREQUENCY, &value), DECODE_OK);
    assert_int_equal(value, 50010);
    assert_int_equal(value_of(&walk, Q_POWER_FACTOR, &value), DECODE_OK);
    assert_int_equal(value, 985);
    assert_int_equal(value_of(&walk, Q_ACTIVE_EXPORT, &value), DECODE_OK);
    assert_int_equal(value, 1234560000);
    assert_int_equal(value_of(&walk, Q_TEMPERATURE, &value), DECODE_ABSENT);
    device.registers[inverter + 24] = device.registers[inverter + 25] = 0; /* just woken up */
    assert_int_equal(value_of(&walk, Q_ACTIVE_EXPORT, &value), DECODE_ABSENT);

    begin(0); /* a new meter: its energies are 0, its apparent ones are not there */
    put_model(1, 66);
    put_model(203, 105);
    put_model(0xFFFF, 0);
    sunspec_start(&walk, 0, 0, false, true);
    assert_int_equal(run(&walk), SUNSPEC_DONE);
    assert_int_equal(value_of(&walk, Q_ACTIVE_EXPORT, &value), DECODE_OK);
    assert_int_equal(value, 0);
    assert_int_equal(value_of(&walk, Q_APPARENT_EXPORT, &value), DECODE_ABSENT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(chain_of_three),
        cmocka_unit_test(bases),
        cmocka_unit_test(chains_that_fail),
        cmocka_unit_test(chains_without_end),
        cmocka_unit_test(unknown_and_repeated_models),
        cmocka_unit_test(models_shorter_than_published),
        cmocka_unit_test(wide_models_are_split),
        cmocka_unit_test(values),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
