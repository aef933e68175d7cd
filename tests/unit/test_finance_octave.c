/* links: tools/money/finance.c */
/* Returns against another library: the financial package of GNU Octave, on random cash flows, with pmt, npv,
 * irr and mirr, and fzero for dated payments. Skipped where it is not installed (Debian: octave,
 * octave-financial). METERBOOK_SEED=N for others. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "finance.h"

enum { CASES = 60, MOST_FLOWS = 30, FIGURES = 5 };

static const char *const names[FIGURES] = { "npv", "irr", "pmt", "mirr", "dated rate" };

struct flows {
    double rate, values[MOST_FLOWS];
    struct flow_of_money dated[MOST_FLOWS];
    int32_t count;
};

static uint64_t draw(uint64_t *seed)
{
    *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *seed >> 33;
}

/* An investment, then what it returns: one change of sign, so one rate. */
static struct flows draw_flows(uint64_t *seed)
{
    struct flows flows = { .rate = (double)(1 + draw(seed) % 200) / 1000 };
    int64_t day = 18000;
    flows.count = 3 + (int32_t)(draw(seed) % (MOST_FLOWS - 3));
    flows.values[0] = -(double)(10000 + draw(seed) % 90000);
    for (int32_t i = 1; i < flows.count; i++)
        flows.values[i] = (1 + (double)(draw(seed) % 1000) / 500) * -flows.values[0] / flows.count;
    for (int32_t i = 0; i < flows.count; i++) {
        flows.dated[i] = (struct flow_of_money){ day, flows.values[i] };
        day += 20 + (int64_t)(draw(seed) % 500);
    }
    return flows;
}

static void write_case(FILE *script, const struct flows *flows)
{
    fputs("p = [", script);
    for (int32_t i = 1; i < flows->count; i++)
        fprintf(script, " %.17g", flows->values[i]);
    fputs("]; t = [", script);
    for (int32_t i = 0; i < flows->count; i++)
        fprintf(script, " %.17g", (double)(flows->dated[i].day - flows->dated[0].day) / 365);
    fprintf(script,
            "]; c = %.17g; r = %.17g;\n"
            "printf(\"%%.17g %%.17g %%.17g %%.17g %%.17g\\n\", npv(r, p, c), irr(p, -c), pmt(r, %d, 1), "
            "mirr([c p], r, r / 2), fzero(@(x) sum([c p] ./ (1 + x) .^ t), [-0.5 20], "
            "optimset(\"TolX\", 1e-15)));\n",
            flows->values[0], flows->rate, (int)flows->count);
}

static bool has_octave(void)
{
    return system("octave-cli -qf --eval 'pkg load financial; exit(0)' >/dev/null 2>&1") == 0;
}

static void compare(FILE *answers, const struct flows *flows, double largest[FIGURES])
{
    double theirs[FIGURES], ours[FIGURES];
    for (int32_t f = 0; f < FIGURES; f++)
        assert_int_equal(fscanf(answers, "%lf", &theirs[f]), 1);
    ours[0] = net_present_value(flows->rate, flows->values, flows->count);
    assert_int_equal(internal_rates(flows->values, flows->count, &ours[1], 1), 1);
    ours[2] = recovery_factor(flows->rate, flows->count);
    ours[3] = modified_internal_rate(flows->values, flows->count, flows->rate, flows->rate / 2);
    assert_int_equal(internal_rates_dated(flows->dated, flows->count, &ours[4], 1), 1);
    for (int32_t f = 0; f < FIGURES; f++) {
        double difference = fabs(ours[f] - theirs[f]) / (f == 0 ? fabs(flows->values[0]) : 1);
        largest[f] = difference > largest[f] ? difference : largest[f];
    }
}

static void test_octave(void **state)
{
    const char *asked = getenv("METERBOOK_SEED");
    uint64_t seed = asked ? strtoull(asked, NULL, 10) : 20261125, again = seed;
    char path[] = "/tmp/finance-XXXXXX", command[64];
    double largest[FIGURES] = { 0 };
    (void)state;
    if (!has_octave()) {
        print_message("octave with its package financial is not installed: nothing to compare with\n");
        skip();
    }
    int descriptor = mkstemp(path);
    FILE *script = descriptor >= 0 ? fdopen(descriptor, "w") : NULL;
    assert_non_null(script);
    fputs("warning(\"off\", \"all\"); pkg load financial;\n", script);
    for (int32_t i = 0; i < CASES; i++) {
        struct flows flows = draw_flows(&seed);
        write_case(script, &flows);
    }
    assert_int_equal(fclose(script), 0);
    snprintf(command, sizeof(command), "octave-cli -qf %s 2>/dev/null", path);
    FILE *answers = popen(command, "r");
    assert_non_null(answers);
    for (int32_t i = 0; i < CASES; i++) {
        struct flows flows = draw_flows(&again);
        compare(answers, &flows, largest);
    }
    pclose(answers);
    unlink(path);
    for (int32_t f = 0; f < FIGURES; f++) {
        printf("%s: largest difference %.3g over %d cases, seed %llu\n", names[f], largest[f], (int)CASES,
               (unsigned long long)(asked ? strtoull(asked, NULL, 10) : 20261125));
        assert_true(largest[f] < 1e-7);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = { cmocka_unit_test(test_octave) };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
