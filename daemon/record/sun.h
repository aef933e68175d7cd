/* Where the sun stands, and what a clear sky would bring.
 *
 * Position: J. Meeus, Astronomical Algorithms, chapters 12, 22, 25, 28 (the sun
 * of low accuracy), with the five largest disturbances of his Astronomical
 * Formulae for Calculators, chapter 18 (coefficients from memory, proved by
 * test), with parallax, without refraction; UTC is taken as UT1 (at most 0.9 s,
 * 0.004 degree) and 69 s from UTC to terrestrial time. Against an independent
 * theory (tests/unit/test_sun.c): at most 0.0045 degree from 1990 to 2060.
 *
 * Clear sky: a *shape*, good for sharing out energy that is known. It is no
 * reference for yield: it knows neither height, haze and horizon nor the
 * plant. Pure; degrees, UTC ms, W/m2. Latitudes north and longitudes east are
 * positive. */
#ifndef METERBOOK_SUN_H
#define METERBOOK_SUN_H

#include <stdbool.h>
#include <stdint.h>

struct sun_place {
    double latitude, longitude; /* degrees, -90 .. 90, -180 .. 180 */
};

/* A plane of modules; tilt 0 is flat, and what to take where the plane is unknown. */
struct sun_plane {
    double azimuth; /* degrees clockwise from north, where it looks */
    double tilt;    /* degrees from horizontal */
};

struct sun {
    double elevation; /* of the centre above the horizon, degrees, no refraction */
    double azimuth;   /* degrees clockwise from north, 0 .. 360 */
};

struct sun_day {
    bool rises, sets; /* at rise_ms, at set_ms */
    bool up;          /* at the day's start; with neither rise nor set: polar day or night */
    int64_t rise_ms, set_ms;
};

struct sun sun_position(const struct sun_place *place, int64_t utc_ms);

/* Sundial time minus mean time, in minutes: -14.3 in February, +16.4 in November. */
double sun_equation_of_time(int64_t utc_ms);

/* The solar noon (upper transit) nearest to an instant. */
int64_t sun_noon_ms(const struct sun_place *place, int64_t near_ms);

/* Sunrise and sunset (upper limb, 34' of refraction: centre at -0.833 degree)
 * inside [from, to), which is a civil day: the first rise and the last set.
 * Either may be missing. Nights and days of less than ten minutes are not
 * seen. */
struct sun_day sun_day(const struct sun_place *place, int64_t from_ms, int64_t to_ms);

/* Is the sun below -1 degree during all of [from, to)? Then an inverter sleeps. */
bool sun_asleep(const struct sun_place *place, int64_t from_ms, int64_t to_ms);

/* Global irradiance of a clear sky on the horizontal by elevation: B. Haurwitz,
 * J. Meteorology 2 (1945) and 3 (1946). 0 with the sun below the horizon. */
double sun_clear_horizontal(double elevation);

/* The same on a plane: the diffuse share by D. G. Erbs, S. A. Klein, J. A.
 * Duffie, Solar Energy 28 (1982), spread evenly over the sky; ground
 * reflecting 0.2 of what falls on it. */
double sun_clear_plane(const struct sun *sun, const struct sun_plane *plane);

/* Clear-sky energy on a plane during [from, to), in mJ/m2: the weight of a
 * piece of a gap. Taken at the middles of pieces of at most five minutes, 0 at
 * night. 400 days make 2e13. */
int64_t sun_weight(const struct sun_place *place, const struct sun_plane *plane, int64_t from_ms,
                   int64_t to_ms);

/* How long the sun stood above -1 degree during [from, to), ms; same pieces. */
int64_t sun_daylight(const struct sun_place *place, int64_t from_ms, int64_t to_ms);

#endif
