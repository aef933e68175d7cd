/* links: daemon/record/sun.c */
/* Sources: NREL SPA: I. Reda, A. Andreas, NREL/TP-560-34302, the worked example; rise, transit and set from
 * the calculator of the same institute and the US Naval Observatory, as printed in the tests of pvlib
 * (tests/test_spa.py, tests/test_solarposition.py); Haurwitz values: pvlib/clearsky.py. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "sun.h"

#define DAY_MS  INT64_C(86400000)
#define HOUR_MS INT64_C(3600000)

static int64_t utc(int year, int month, int day, int hour, int minute, int second)
{
    struct tm tm = { .tm_year = year - 1900,
                     .tm_mon = month - 1,
                     .tm_mday = day,
                     .tm_hour = hour,
                     .tm_min = minute,
                     .tm_sec = second };
    return (int64_t)timegm(&tm) * 1000;
}

static void near(double value, double expected, double within)
{
    if (!(fabs(value - expected) <= within))
        fail_msg("%.6f, expected %.6f +- %g", value, expected, within);
}

/* NREL/TP-560-34302: 17 Oct 2003 12:30:30, UTC-7: elevation without refraction
 * 39.872046, azimuth 194.340241. */
static void worked_example(void **state)
{
    (void)state;
    struct sun_place place = { .latitude = 39.742476, .longitude = -105.1786 };
    struct sun sun = sun_position(&place, utc(2003, 10, 17, 19, 30, 30));
    near(sun.elevation, 39.872046, 0.005);
    near(sun.azimuth, 194.340241, 0.005);
    /* at the pole the sun stands at its declination, -9.31434, less the parallax */
    struct sun_place pole = { .latitude = -90 };
    near(sun_position(&pole, utc(2003, 10, 17, 19, 30, 30)).elevation, 9.31434 - 0.00241, 0.003);
}

static double rad(double degrees)
{
    return degrees * 3.14159265358979 / 180;
}

/* The same example: hour angle 11.10590 at the place, and 25.187000 between the sun and the normal of a plane
 * of slope 30 that looks 10 degrees east of south (its azimuth rotation -10; slope and rotation from memory).
 */
static void worked_example_on_a_plane(void **state)
{
    (void)state;
    int64_t at = utc(2003, 10, 17, 19, 30, 30);
    struct sun_place place = { .latitude = 39.742476, .longitude = -105.1786 };
    struct sun sun = sun_position(&place, at);
    double turn = rad(sun.azimuth - (180 - 10));
    double cosine =
        cos(rad(sun.elevation)) * sin(rad(30)) * cos(turn) + sin(rad(sun.elevation)) * cos(rad(30));
    near(acos(cosine) * 180 / 3.14159265358979, 25.187, 0.02);
    /* mean time since noon and the equation of time, 15 degrees an hour */
    int64_t noon = sun_noon_ms(&place, at);
    near((double)(at - noon) / HOUR_MS * 15, 11.10590, 0.01);
}

/* Against another program's theory of the planets, where it is installed
 * (Debian python3-ephem), at seeded instants and places. */
static const char other_program[] = "import ephem, math, random\n"
                                    "random.seed(7)\n"
                                    "for i in range(3000):\n"
                                    "    t = random.randrange(631152000, 2840140800)\n"
                                    "    o = ephem.Observer()\n"
                                    "    o.pressure = 0\n"
                                    "    lat, lon = random.uniform(-85, 85), random.uniform(-180, 180)\n"
                                    "    o.lat, o.lon = math.radians(lat), math.radians(lon)\n"
                                    "    o.date = ephem.Date('1970/1/1') + t / 86400.0\n"
                                    "    s = ephem.Sun(o)\n"
                                    "    print(t, lat, lon, math.degrees(s.alt), math.degrees(s.az))\n";

static void independent_library(void **state)
{
    (void)state;
    // NOLINTNEXTLINE(cert-env33-c): a fixed text
    if (system("/usr/bin/python3 -c 'import ephem' 2>/dev/null") != 0) {
        print_message("no python3-ephem: comparison left out\n");
        skip();
    }
    char command[2048];
    snprintf(command, sizeof command, "/usr/bin/python3 -c \"%s\"", other_program);
    FILE *lines = popen(command, "r"); // NOLINT(cert-env33-c)
    assert_non_null(lines);
    double latitude, longitude, elevation, azimuth, worst = 0, squares = 0;
    long long at;
    int count = 0;
    while (fscanf(lines, "%lld %lf %lf %lf %lf", &at, &latitude, &longitude, &elevation, &azimuth) == 5) {
        struct sun_place place = { latitude, longitude };
        struct sun sun = sun_position(&place, at * 1000);
        /* the distance on the sky: azimuth means little near the zenith */
        double turn = remainder(sun.azimuth - azimuth, 360) * cos(elevation * 3.14159265358979 / 180);
        double off = hypot(sun.elevation - elevation, turn);
        worst = fmax(worst, off);
        squares += off * off;
        count++;
    }
    assert_int_equal(pclose(lines), 0);
    assert_int_equal(count, 3000);
    print_message("3000 positions 1990-2059: worst %.4f, r.m.s. %.4f degrees\n", worst,
                  sqrt(squares / count));
    assert_true(worst < 0.0045);
}

/* Equation of time. -14.2 min on 11 February and +16.4 on 3 November are the
 * extremes; 1992-10-13 0 h: +13 min 42.6 s (Meeus, example 28.a). From memory. */
static void equation_of_time(void **state)
{
    (void)state;
    near(sun_equation_of_time(utc(1992, 10, 13, 0, 0, 0)) * 60, 13 * 60 + 42.6, 1.5);
    near(sun_equation_of_time(utc(2020, 2, 11, 12, 0, 0)), -14.2, 0.1);
    near(sun_equation_of_time(utc(2020, 11, 3, 12, 0, 0)), 16.4, 0.1);
    near(sun_equation_of_time(utc(1965, 11, 3, 12, 0, 0)), 16.4, 0.1);
}

struct published_day {
    struct sun_place place;
    int year, month, day, zone; /* hours from UTC */
    int rise, transit, set;     /* seconds of the civil day, 0 = not published */
    int within;                 /* s: the publication's own rounding and 2 s more */
};

#define HMS(h, m, s) ((h)*3600 + (m)*60 + (s))
static const struct published_day published_days[] = {
    /* the worked example and the calculator take rise and set from one UTC day:
     * a set after 17:00 in Colorado is the evening before */
    { { 39.742476, -105.1786 }, 2003, 10, 17, -7, HMS(6, 12, 43), 0, 0, 3 },
    { { 39.742476, -105.1786 }, 2003, 10, 16, -7, 0, 0, HMS(17, 20, 19), 3 },
    { { 39.742476, -105.1786 }, 2015, 1, 2, -7, HMS(7, 21, 55), HMS(12, 4, 45), HMS(16, 47, 43), 3 },
    { { 39.742476, -105.1786 }, 2015, 8, 2, -7, HMS(5, 0, 27), HMS(12, 6, 58), 0, 3 },
    { { 39.742476, -105.1786 }, 2015, 8, 1, -7, 0, 0, HMS(19, 13, 58), 3 },
    { { -35, 0 }, 1996, 7, 5, 0, HMS(7, 8, 15), HMS(12, 4, 36), HMS(17, 1, 4), 3 },
    { { -35, 0 }, 2004, 12, 4, 0, HMS(4, 38, 57), HMS(11, 50, 22), HMS(19, 2, 3), 3 },
    { { 35, 0 }, 1994, 1, 2, 0, HMS(7, 8, 12), 0, HMS(16, 59, 55), 3 },
    { { 40, -80 }, 2000, 1, 1, -5, HMS(7, 41, 51), HMS(12, 23, 23), HMS(17, 5, 4), 3 },
    { { 39, -105 }, 2015, 1, 2, -7, HMS(7, 19, 0), 0, HMS(16, 49, 0), 33 },
    { { 39, -105 }, 2015, 4, 2, -7, HMS(5, 43, 0), 0, HMS(18, 24, 0), 33 },
    { { 39, -105 }, 2015, 8, 2, -7, HMS(5, 1, 0), 0, HMS(19, 10, 0), 33 },
    { { 39, -105 }, 2015, 12, 2, -7, HMS(7, 1, 0), 0, HMS(16, 38, 0), 33 },
};

static void published_rise_transit_set(void **state)
{
    (void)state;
    for (size_t i = 0; i < sizeof published_days / sizeof *published_days; i++) {
        const struct published_day *p = &published_days[i];
        int64_t from = utc(p->year, p->month, p->day, 0, 0, 0) - p->zone * HOUR_MS;
        struct sun_day day = sun_day(&p->place, from, from + DAY_MS);
        assert_true(day.rises && day.sets && !day.up);
        if (p->rise != 0)
            near((double)(day.rise_ms - from) / 1000, p->rise, p->within);
        if (p->set != 0)
            near((double)(day.set_ms - from) / 1000, p->set, p->within);
        int64_t noon = sun_noon_ms(&p->place, from + DAY_MS / 2);
        if (p->transit != 0)
            near((double)(noon - from) / 1000, p->transit, p->within);
        /* noon and sundial agree: 12:00 mean time at this longitude less the equation of time */
        double mean = 43200 - p->place.longitude * 240 + p->zone * 3600 - sun_equation_of_time(noon) * 60;
        near((double)(noon - from) / 1000, mean, 0.1);
    }
}

/* Tromso, 69.65 N 18.96 E: from memory, the sun is down from 27 November to 15
 * January and up from 18 May to 26 July. */
static void polar_day_and_night(void **state)
{
    (void)state;
    struct sun_place place = { 69.65, 18.96 };
    struct sun_day winter = sun_day(&place, utc(2012, 12, 20, 23, 0, 0), utc(2012, 12, 21, 23, 0, 0));
    assert_false(winter.rises || winter.sets || winter.up);
    struct sun_day summer = sun_day(&place, utc(2012, 6, 20, 22, 0, 0), utc(2012, 6, 21, 22, 0, 0));
    assert_false(summer.rises || summer.sets);
    assert_true(summer.up);
    assert_false(sun_asleep(&place, utc(2012, 6, 21, 22, 0, 0), utc(2012, 6, 21, 23, 0, 0)));
    assert_true(sun_asleep(&place, utc(2012, 12, 21, 13, 0, 0), utc(2012, 12, 22, 8, 0, 0)));
    int without = 0;
    for (int64_t at = utc(2012, 1, 1, 0, 0, 0); at < utc(2013, 1, 1, 0, 0, 0); at += DAY_MS) {
        struct sun_day day = sun_day(&place, at, at + DAY_MS);
        if (day.rises)
            near(sun_position(&place, day.rise_ms).elevation, -0.8333, 1e-4);
        if (day.sets)
            near(sun_position(&place, day.set_ms).elevation, -0.8333, 1e-4);
        without += !day.rises && !day.sets;
    }
    assert_in_range(without, 100, 125);
    struct sun_place pole = { 90, 0 };
    assert_true(sun_day(&pole, utc(2012, 6, 1, 0, 0, 0), utc(2012, 6, 2, 0, 0, 0)).up);
    assert_true(sun_asleep(&pole, utc(2012, 12, 1, 0, 0, 0), utc(2013, 1, 1, 0, 0, 0)));
}

/* A civil day far from the sun's own: set and rise inside it, in this order. */
static void evening_stays_in_its_day(void **state)
{
    (void)state;
    struct sun_place place = { 10, 179 };
    int64_t from = utc(2012, 3, 20, 0, 0, 0);
    struct sun_day day = sun_day(&place, from, from + DAY_MS);
    assert_true(day.up && day.sets && day.rises);
    assert_true(from < day.set_ms && day.set_ms < day.rise_ms && day.rise_ms < from + DAY_MS);
    near((double)(day.set_ms - from) / (double)HOUR_MS, 6.2, 0.2);
}

static void asleep_is_all_of_it(void **state)
{
    (void)state;
    struct sun_place place = { 47.4, 8.1 };
    int64_t midnight = utc(2019, 3, 20, 23, 30, 0);
    int64_t from = midnight, to = midnight;
    while (sun_asleep(&place, from - 60000, to))
        from -= 60000;
    while (sun_asleep(&place, from, to + 60000))
        to += 60000;
    near((double)(to - from) / (double)HOUR_MS, 11.7,
         0.2); /* at the equinox: 12 h less 2 x 7 minutes and more */
    near(sun_position(&place, from).elevation, -1, 0.2);
    near(sun_position(&place, to).elevation, -1, 0.2);
    assert_false(sun_asleep(&place, from, to + DAY_MS));
    assert_false(sun_asleep(&place, from, to + 10 * DAY_MS));
    for (int64_t at = from; at < to; at += 300000)
        assert_int_equal(sun_weight(&place, &(struct sun_plane){ 180, 30 }, at, at + 300000), 0);
}

/* Haurwitz 1945, 1946; the values of pvlib/clearsky.py and SAND2012-2389. */
static void clear_sky_as_published(void **state)
{
    (void)state;
    near(sun_clear_horizontal(5), 48.6298688, 1e-6);
    near(sun_clear_horizontal(10), 135.7417481, 1e-6);
    near(sun_clear_horizontal(30), 487.8941329, 1e-6);
    near(sun_clear_horizontal(50), 778.7666893, 1e-6);
    near(sun_clear_horizontal(90), 1035.0920325, 1e-6);
    near(sun_clear_horizontal(0), 0, 0);
    near(sun_clear_horizontal(-30), 0, 0);
}

static void clear_sky_on_planes(void **state)
{
    (void)state;
    struct sun_plane flat = { 90, 0 }, east = { 90, 40 }, west = { 270, 40 }, wall = { 180, 90 };
    for (int half = -10; half <= 180; half++) {
        double elevation = half / 2.0;
        struct sun noon = { elevation, 180 }, morning = { elevation, 90 }, north = { elevation, 0 };
        near(sun_clear_plane(&noon, &flat), sun_clear_horizontal(elevation), 1e-9);
        near(sun_clear_plane(&noon, &east), sun_clear_plane(&noon, &west), 1e-9);
        assert_true(sun_clear_plane(&morning, &east) >= sun_clear_plane(&morning, &west));
        double behind = sun_clear_plane(&north, &wall);
        assert_true(behind >= 0 && behind <= sun_clear_horizontal(elevation));
        assert_true(sun_clear_plane(&morning, &east) < 1400);
        assert_int_equal(sun_clear_plane(&noon, &wall) > 0, elevation > 0.01);
    }
}

/* A day of weights is the day's energy: an hour splits into its minutes
 * within the rule's own error, and mornings belong to the east. */
static void weights(void **state)
{
    (void)state;
    struct sun_place place = { 47.4, 8.1 };
    struct sun_plane flat = { 0, 0 }, east = { 90, 30 };
    int64_t midnight = utc(2019, 6, 20, 23, 0, 0);
    int64_t day = sun_weight(&place, &flat, midnight, midnight + DAY_MS), sum = 0, before = 0;
    for (int64_t at = midnight; at < midnight + DAY_MS; at += 60000)
        sum += sun_weight(&place, &flat, at, at + 60000);
    near((double)sum / (double)day, 1, 0.0005);
    near((double)day / 3.6e9, 8.5, 0.5); /* kWh/m2 of a clear midsummer day; common practice, no source */
    int64_t noon = sun_noon_ms(&place, midnight + DAY_MS / 2);
    for (int64_t at = midnight; at + 60000 < noon; at += 60000)
        before += sun_weight(&place, &east, at, at + 60000);
    assert_true(before > sun_weight(&place, &east, noon, midnight + DAY_MS));
    assert_int_equal(sun_weight(&place, &flat, midnight, midnight), 0);
    int64_t light = sun_daylight(&place, midnight, midnight + DAY_MS);
    struct sun_day rises = sun_day(&place, midnight, midnight + DAY_MS);
    assert_in_range(light - (rises.set_ms - rises.rise_ms), 0, 10 * 60000);
}

/* Where the sun is known to be down its place is not reckoned: the sums are those over every step all the
 * same. */
static void night_is_passed_over(void **state)
{
    static const double latitudes[] = { -78, -51.5, -23, 0, 12, 49.8, 65.7, 69, 89.9 };
    static const struct sun_plane plane = { 160, 35 };
    const int64_t step = 300000, count = DAY_MS / step;
    (void)state;
    for (size_t l = 0; l < sizeof latitudes / sizeof latitudes[0]; l++)
        for (int64_t day = 0; day < 366; day += 5) {
            struct sun_place place = { latitudes[l], 15.5 };
            int64_t from = utc(2024, 1, 1, 0, 0, 0) + day * DAY_MS - HOUR_MS;
            double light = 0, up = 0;
            for (int64_t i = 0; i < count; i++) {
                struct sun sun = sun_position(&place, from + i * step + step / 2);
                light += sun_clear_plane(&sun, &plane);
                up += sun.elevation > -1;
            }
            assert_int_equal(sun_weight(&place, &plane, from, from + DAY_MS), llround(light * (double)step));
            assert_int_equal(sun_daylight(&place, from, from + DAY_MS), llround(up * (double)step));
        }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(worked_example),
        cmocka_unit_test(worked_example_on_a_plane),
        cmocka_unit_test(independent_library),
        cmocka_unit_test(equation_of_time),
        cmocka_unit_test(published_rise_transit_set),
        cmocka_unit_test(polar_day_and_night),
        cmocka_unit_test(evening_stays_in_its_day),
        cmocka_unit_test(asleep_is_all_of_it),
        cmocka_unit_test(clear_sky_as_published),
        cmocka_unit_test(clear_sky_on_planes),
        cmocka_unit_test(weights),
        cmocka_unit_test(night_is_passed_over),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
