/* links: daemon/record/anchor_sun.c daemon/record/sun.c */
/* What time it was, by the sun: invented days, fair and cloudy, whole and cut. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>

#include "anchor_sun.h"

#define MINUTE INT64_C(60000)
#define HOUR   (60 * MINUTE)

static const struct sun_plane planes[] = { { 180, 30 }, { 90, 20 }, { 250, 35 }, { 180, 0 } };
static const struct sun_place places[] = { { 48.85, 2.35 }, { -1.3, 36.8 }, { 27.7, 85.3 }, { -33.9, 18.4 } };
static struct sun_slice slices[ANCHOR_SUN_SLICES];

static uint32_t noise;

static double chance(void)
{
    noise = noise * 1664525 + 1013904223;
    return (double)(noise >> 8) / (1 << 24);
}

/* Production from an instant on, for so long, under a sky that lets 1 - clouds .. 1
 * through, changing every 20 minutes or so. */
static int32_t produce(const struct sun_place *place, const struct sun_plane *plane, int64_t from_ms,
                       int64_t length_ms, double clouds, int64_t boot_ms)
{
    int32_t count = 0;
    double through = 1;
    for (int64_t t = 0; t < length_ms && count < ANCHOR_SUN_SLICES; t += 5 * MINUTE) {
        if (chance() < 0.25)
            through = 1 - clouds * chance();
        struct sun sun = sun_position(place, from_ms + t + 5 * MINUTE / 2);
        double w = sun_clear_plane(&sun, plane) * through;
        slices[count++] =
            (struct sun_slice){ boot_ms + t + 5 * MINUTE / 2, 5 * MINUTE, (int64_t)(w * 5000 / 12) };
    }
    return count;
}

/* Error in minutes; -1 where nothing was found. */
static double error(int at, int64_t day, int64_t from_h, int64_t hours, double clouds,
                    struct sun_anchor *anchor)
{
    int64_t from_ms = INT64_C(1782000000000) / (24 * HOUR) * 24 * HOUR + day * 24 * HOUR + from_h * HOUR -
                      (int64_t)(places[at].longitude * 4 * (double)MINUTE);
    int32_t count = produce(&places[at], &planes[at], from_ms, hours * HOUR, clouds, 60000);
    if (!anchor_sun(&places[at], &planes[at], slices, count, from_ms + (day % 19 - 9) * HOUR, anchor))
        return -1;
    return fabs((double)(anchor->offset_ms - (from_ms - 60000)) / (double)MINUTE);
}

static void test_days(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double clouds;
        int64_t from_h, hours;
        double mean; /* error that is allowed, minutes */
        int least;   /* days of 100 that say something */
    } cases[] = {
        { "fair, whole day", 0.05, 0, 24, 2, 100 },  { "fair, 8 to 20 h", 0.05, 8, 12, 5, 90 },
        { "fair, forenoon", 0.05, 5, 7, 15, 60 },    { "some clouds, whole day", 0.5, 0, 24, 15, 90 },
        { "clouds, whole day", 0.9, 0, 24, 25, 40 }, { "some clouds, 9 h to 9 h", 0.5, 9, 24, 15, 60 },
    };
    for (size_t c = 0; c < sizeof cases / sizeof cases[0]; c++) {
        double sum = 0, most = 0, doubt = 0;
        int found = 0, beyond = 0;
        noise = 1;
        for (int i = 0; i < 100; i++) {
            struct sun_anchor anchor;
            double e = error(i % 4, i * 3, cases[c].from_h, cases[c].hours, cases[c].clouds, &anchor);
            if (e < 0)
                continue;
            found++;
            sum += e;
            most = e > most ? e : most;
            doubt += (double)anchor.doubt_ms / (double)MINUTE;
            beyond += e > (double)anchor.doubt_ms / (double)MINUTE;
        }
        print_message(
            "%-24s %3d of 100 days, mean error %.1f min, most %.1f, mean doubt %.1f, beyond it %d\n",
            cases[c].name, found, sum / (found ? found : 1), most, doubt / (found ? found : 1), beyond);
        assert_true(found >= cases[c].least);
        assert_true(sum / found <= cases[c].mean);
        assert_true(beyond * 20 <= found);
    }
}

static void test_nothing_is_no_time(void **state)
{
    (void)state;
    struct sun_anchor anchor;
    int32_t count = produce(&places[0], &planes[0], INT64_C(1782000000000), 24 * HOUR, 0, 0);
    for (int32_t i = 0; i < count; i++)
        slices[i].energy = 0;
    assert_false(anchor_sun(&places[0], &planes[0], slices, count, 0, &anchor));
    /* a lamp: the same all day */
    for (int32_t i = 0; i < count; i++)
        slices[i].energy = 10000;
    assert_false(anchor_sun(&places[0], &planes[0], slices, count, INT64_C(1782000000000), &anchor));
    assert_false(anchor_sun(&places[0], &planes[0], slices, 0, 0, &anchor));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_days),
        cmocka_unit_test(test_nothing_is_no_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
