/* links: daemon/bus/sunspec_models.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "sunspec_models.h"

static const char *const type_names[TYPE_COUNT][2] = {
    [TYPE_INT16] = { "int16" },   [TYPE_UINT16] = { "uint16" },   [TYPE_UINT32] = { "acc32", "uint32" },
    [TYPE_UINT64] = { "uint64" }, [TYPE_FLOAT32] = { "float32" }, [TYPE_STRING] = { "string" },
};

/* A line of sunspec_offsets.py. */
struct published {
    int model, offset, registers, scale_offset, exponent;
    char name[32], type[16], units[16];
};

static bool type_is(enum point_type type, const char *name)
{
    for (int i = 0; i < 2; i++) {
        if (type_names[type][i] != NULL && strcmp(type_names[type][i], name) == 0) {
            return true;
        }
    }
    return false;
}

/* Rows of the table that this published point bears out; any disagreement fails. */
static int rows_confirmed(const struct published *published)
{
    size_t count;
    const struct sunspec_row *rows = sunspec_rows(&count);
    int confirmed = 0;
    for (size_t i = 0; i < count; i++) {
        if (published->model < rows[i].first_model || published->model > rows[i].last_model ||
            strcmp(rows[i].name, published->name) != 0) {
            continue;
        }
        struct point point = sunspec_point(&rows[i], 0, false);
        int exponent = published->exponent - (strcmp(published->units, "Pct") == 0 ? 2 : 0);
        assert_int_equal(rows[i].offset, published->offset);
        assert_int_equal(rows[i].scale_offset, published->scale_offset);
        assert_int_equal(rows[i].exponent, exponent);
        assert_int_equal(point.size, published->registers);
        assert_true(type_is(rows[i].type, published->type));
        confirmed++;
    }
    return confirmed;
}

/* SunSpec Alliance, sunspec/models, commit 7abdf898: offsets are running sums of
 * the points' sizes. */
static void offsets_as_published(void **state)
{
    const char *shared = getenv("METERBOOK_SHARED");
    char path[300], command[400];
    int confirmed = 0, expected = 0;
    size_t count;
    const struct sunspec_row *rows = sunspec_rows(&count);
    struct published published;
    (void)state;
    snprintf(path, sizeof path, "%s/sunspec", shared != NULL ? shared : "../shared");
    snprintf(command, sizeof command, "%s/model_1.json", path);
    if (access(command, R_OK) != 0) {
        print_message("no model definitions in '%s': comparison left out\n", path);
        skip();
    }
    snprintf(command, sizeof command, "python3 tests/unit/sunspec_offsets.py '%s'", path);
    FILE *lines = popen(command, "r");
    assert_non_null(lines);
    while (fscanf(lines, "%d %31s %d %15s %d %d %d %15s", &published.model, published.name, &published.offset,
                  published.type, &published.registers, &published.scale_offset, &published.exponent,
                  published.units) == 8) {
        confirmed += rows_confirmed(&published);
    }
    assert_int_equal(pclose(lines), 0);
    for (size_t i = 0; i < count; i++) {
        expected += rows[i].last_model - rows[i].first_model + 1;
    }
    assert_int_equal(confirmed, expected);
}

/* No model gives a quantity twice, and every quantity here has a use. */
static void one_point_per_quantity(void **state)
{
    size_t count;
    const struct sunspec_row *rows = sunspec_rows(&count);
    (void)state;
    for (size_t i = 0; i < count; i++) {
        assert_true(sunspec_kind_of(rows[i].first_model) < SUNSPEC_KIND_COUNT);
        assert_int_equal(sunspec_kind_of(rows[i].first_model), sunspec_kind_of(rows[i].last_model));
        for (size_t j = 0; j < i; j++) {
            assert_false(rows[i].first_model == rows[j].first_model && rows[i].quantity == rows[j].quantity);
        }
    }
    assert_int_equal(sunspec_kind_of(104), SUNSPEC_KIND_COUNT);
    assert_int_equal(sunspec_kind_of(0), SUNSPEC_KIND_COUNT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(offsets_as_published),
        cmocka_unit_test(one_point_per_quantity),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
