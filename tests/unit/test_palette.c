/* links: tools/report/palette.c */
/* Contrast: the formula of WCAG 2.1 (relative luminance; 4.5 for text, 3 for what a picture needs).
 * Colour-blind readers: the matrices for severity 1.0 of Machado, Oliveira, Fernandes, "A
 * Physiologically-based Model for Simulation of Color Vision Deficiency", 2009, on linear sRGB. Distances:
 * Oklab (Ottosson, 2020). All three from memory. */
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

#include <cmocka.h>

#include "palette.h"

enum { SIGHTS = 4, MODES = 2 };

struct colour {
    double c[3]; /* linear */
};

static const char *const sights[SIGHTS] = { "usual", "protan", "deutan", "tritan" };
static const double matrices[SIGHTS][3][3] = {
    { { 1, 0, 0 }, { 0, 1, 0 }, { 0, 0, 1 } },
    { { 0.152286, 1.052583, -0.204868 },
      { 0.114503, 0.786281, 0.099216 },
      { -0.003882, -0.048116, 1.051998 } },
    { { 0.367322, 0.860646, -0.227968 },
      { 0.280085, 0.672501, 0.047413 },
      { -0.011820, 0.042940, 0.968881 } },
    { { 1.255528, -0.076749, -0.178779 },
      { -0.078411, 0.930809, 0.147602 },
      { 0.004733, 0.691367, 0.303900 } },
};

static struct colour multiply(const double matrix[3][3], struct colour colour)
{
    struct colour result;
    for (int32_t i = 0; i < 3; i++)
        result.c[i] = matrix[i][0] * colour.c[0] + matrix[i][1] * colour.c[1] + matrix[i][2] * colour.c[2];
    return result;
}

static struct colour colour_of(int32_t which, int32_t mode)
{
    uint32_t rgb = mode ? palette[which].dark : palette[which].light;
    struct colour colour;
    for (int32_t i = 0; i < 3; i++) {
        double v = (double)(rgb >> (16 - 8 * i) & 255) / 255;
        colour.c[i] = v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
    }
    return colour;
}

static double luminance(struct colour colour)
{
    return 0.2126 * colour.c[0] + 0.7152 * colour.c[1] + 0.0722 * colour.c[2];
}

static double contrast(int32_t a, int32_t b, int32_t mode)
{
    double first = luminance(colour_of(a, mode)) + 0.05, second = luminance(colour_of(b, mode)) + 0.05;
    return first > second ? first / second : second / first;
}

static struct colour oklab(struct colour colour)
{
    static const double to_lms[3][3] = { { 0.4122214708, 0.5363325363, 0.0514459929 },
                                         { 0.2119034982, 0.6806995451, 0.1073969566 },
                                         { 0.0883024619, 0.2817188376, 0.6299787005 } };
    static const double to_lab[3][3] = { { 0.2104542553, 0.7936177850, -0.0040720468 },
                                         { 1.9779984951, -2.4285922050, 0.4505937099 },
                                         { 0.0259040371, 0.7827717662, -0.8086757660 } };
    struct colour lms = multiply(to_lms, colour);
    for (int32_t i = 0; i < 3; i++)
        lms.c[i] = cbrt(lms.c[i]);
    return multiply(to_lab, lms);
}

static double distance(int32_t a, int32_t b, int32_t mode, int32_t sight)
{
    struct colour ends[2] = { colour_of(a, mode), colour_of(b, mode) };
    double sum = 0;
    for (int32_t e = 0; e < 2; e++) {
        ends[e] = multiply(matrices[sight], ends[e]);
        for (int32_t i = 0; i < 3; i++)
            ends[e].c[i] = ends[e].c[i] < 0 ? 0 : ends[e].c[i] > 1 ? 1 : ends[e].c[i];
        ends[e] = oklab(ends[e]);
    }
    for (int32_t i = 0; i < 3; i++)
        sum += (ends[0].c[i] - ends[1].c[i]) * (ends[0].c[i] - ends[1].c[i]);
    return sqrt(sum);
}

static void check_contrast(int32_t a, int32_t b, double least)
{
    for (int32_t mode = 0; mode < MODES; mode++) {
        if (contrast(a, b, mode) < least)
            print_error("%s on %s, %s: %.2f\n", palette[a].name, palette[b].name, mode ? "dark" : "light",
                        contrast(a, b, mode));
        assert_true(contrast(a, b, mode) >= least);
    }
}

static void check_distance(int32_t a, int32_t b, double least)
{
    for (int32_t mode = 0; mode < MODES; mode++)
        for (int32_t sight = 0; sight < SIGHTS; sight++) {
            double here = distance(a, b, mode, sight);
            if (here < least)
                print_error("%s and %s, %s, %s: %.3f\n", palette[a].name, palette[b].name,
                            mode ? "dark" : "light", sights[sight], here);
            assert_true(here >= least);
        }
}

static void test_text(void **state)
{
    (void)state;
    static const int32_t grounds[] = { COLOUR_PAPER, COLOUR_PANEL };
    static const int32_t texts[] = { COLOUR_INK, COLOUR_FAINT, COLOUR_LINK };
    for (int32_t g = 0; g < 2; g++)
        for (int32_t t = 0; t < 3; t++)
            check_contrast(texts[t], grounds[g], 4.5);
}

/* Things that stand beside each other in a picture. */
static void test_things(void **state)
{
    (void)state;
    static const int32_t things[] = { COLOUR_SELF, COLOUR_EXPORT, COLOUR_IMPORT };
    for (int32_t i = 0; i < 3; i++) {
        check_contrast(things[i], COLOUR_PAPER, 3);
        for (int32_t j = 0; j < i; j++)
            check_distance(things[i], things[j], 0.12);
    }
    check_contrast(COLOUR_PLAIN, COLOUR_PAPER, 3);
    check_contrast(COLOUR_WARN, COLOUR_PAPER, 3);
    check_distance(COLOUR_PLAIN, COLOUR_WARN, 0.08);
}

/* Levels rise, in lightness too, so that they are told apart without any colour. */
static void test_levels(void **state)
{
    (void)state;
    static const int32_t ramps[] = { COLOUR_PRODUCTION_LEVELS, COLOUR_IMPORT_LEVELS, COLOUR_EXPORT_LEVELS };
    for (int32_t r = 0; r < 3; r++)
        for (int32_t level = 0; level < PALETTE_LEVELS; level++) {
            int32_t below = level ? ramps[r] + level - 1 : COLOUR_NOTHING;
            check_distance(ramps[r] + level, below, 0.04);
            for (int32_t mode = 0; mode < MODES; mode++) {
                double rise =
                    luminance(colour_of(ramps[r] + level, mode)) - luminance(colour_of(below, mode));
                assert_true(mode ? rise > 0 : rise < 0);
            }
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_text),
        cmocka_unit_test(test_things),
        cmocka_unit_test(test_levels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
