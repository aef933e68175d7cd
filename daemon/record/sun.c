#include "sun.h"

#include <math.h>
#include <stddef.h>

#define PI               3.14159265358979323846
#define DAY_MS           INT64_C(86400000)
#define J2000_DAYS       10957.5        /* from 1970 to 2000-01-01T12:00 */
#define TERRESTRIAL_DAYS (69.0 / 86400) /* terrestrial time less UTC: 67 s in 2011, 69 s since 2017 */
#define HORIZON          (-0.8333)      /* 34' of refraction and 16' of half the disc */
#define ASLEEP           (-1.0)
#define SOLAR_CONSTANT   1361.0
#define GROUND           0.2
#define STEP_MS          INT64_C(300000)
#define SCAN_MS          INT64_C(600000)

static double radians(double degrees)
{
    return degrees * (PI / 180);
}

static double degrees(double radians)
{
    return radians * (180 / PI);
}

static double sine(double angle)
{
    return sin(radians(angle));
}

static double cosine(double angle)
{
    return cos(radians(angle));
}

/* An angle as -180 .. 180. */
static double folded(double angle)
{
    return remainder(angle, 360);
}

/* Declination of the apparent sun, and its hour angle at Greenwich. */
struct equatorial {
    double declination, hour_angle;
};

/* What Venus, Jupiter, the moon and a slow wave add to the longitude: size,
 * phase and rate of a cosine, degrees, per Julian century from 1900. */
static const double disturbances[][3] = {
    { 0.00134, 153.23, 22518.7541 },  { 0.00154, 216.57, 45037.5082 }, { 0.00200, 312.69, 32964.3577 },
    { 0.00179, 260.74, 445267.1142 }, { 0.00178, 141.19, 20.20 },
};

static double disturbance(double centuries)
{
    double sum = 0;
    for (size_t i = 0; i < sizeof disturbances / sizeof *disturbances; i++)
        sum += disturbances[i][0] * cosine(disturbances[i][1] + disturbances[i][2] * centuries);
    return sum;
}

static struct equatorial equatorial(int64_t utc_ms)
{
    double days = (double)utc_ms / (double)DAY_MS - J2000_DAYS;
    double t = (days + TERRESTRIAL_DAYS) / 36525; /* Julian centuries */
    /* chapter 25: mean longitude, mean anomaly, equation of the centre */
    double mean = 280.46646 + t * (36000.76983 + t * 0.0003032);
    double anomaly = 357.52911 + t * (35999.05029 - t * 0.0001537);
    double centre = (1.914602 - t * (0.004817 + t * 0.000014)) * sine(anomaly) +
                    (0.019993 - t * 0.000101) * sine(2 * anomaly) + 0.000289 * sine(3 * anomaly);
    /* nutation and aberration, by the moon's node alone */
    double node = 125.04 - t * 1934.136;
    double nutation = -0.00478 * sine(node);
    double longitude = mean + centre + disturbance(t + 1) - 0.00569 + nutation;
    double obliquity = 23.4392911 - t * (0.0130042 + t * (1.64e-7 - t * 5.04e-7)) + 0.00256 * cosine(node);
    double ascension = degrees(atan2(cosine(obliquity) * sine(longitude), cosine(longitude)));
    double u = days / 36525;
    double sidereal = 280.46061837 + 360.98564736629 * days + u * u * (0.000387933 - u / 38710000) +
                      nutation * cosine(obliquity);
    return (struct equatorial){ .declination = degrees(asin(sine(obliquity) * sine(longitude))),
                                .hour_angle = folded(sidereal - ascension) };
}

struct sun sun_position(const struct sun_place *place, int64_t utc_ms)
{
    struct equatorial at = equatorial(utc_ms);
    double hour = at.hour_angle + place->longitude;
    double sin_latitude = sine(place->latitude), cos_latitude = cosine(place->latitude);
    double sin_declination = sine(at.declination), cos_declination = cosine(at.declination);
    double up = sin_latitude * sin_declination + cos_latitude * cos_declination * cosine(hour);
    double north = cos_latitude * sin_declination - sin_latitude * cos_declination * cosine(hour);
    double east = -cos_declination * sine(hour);
    double elevation = degrees(atan2(up, hypot(north, east)));
    double azimuth = degrees(atan2(east, north));
    /* seen from the ground the sun stands lower by its parallax, 8.794" */
    return (struct sun){ .elevation = elevation - 8.794 / 3600 * cosine(elevation),
                         .azimuth = azimuth < 0 ? azimuth + 360 : azimuth };
}

double sun_equation_of_time(int64_t utc_ms)
{
    int64_t of_day = (utc_ms % DAY_MS + DAY_MS) % DAY_MS;
    double mean = 360 * ((double)of_day / (double)DAY_MS - 0.5);
    return 4 * folded(equatorial(utc_ms).hour_angle - mean); /* 4 minutes to the degree */
}

int64_t sun_noon_ms(const struct sun_place *place, int64_t near_ms)
{
    int64_t at = near_ms;
    for (int turn = 0; turn < 3; turn++)
        at -= llround(folded(equatorial(at).hour_angle + place->longitude) / 360 * (double)DAY_MS);
    return at;
}

static bool above(const struct sun_place *place, int64_t at_ms, double elevation)
{
    return sun_position(place, at_ms).elevation > elevation;
}

/* The instant between two at which the sun crosses the horizon, to the ms. */
static int64_t crossing(const struct sun_place *place, int64_t from_ms, int64_t to_ms)
{
    bool up = above(place, from_ms, HORIZON);
    while (to_ms - from_ms > 1) {
        int64_t middle = from_ms + (to_ms - from_ms) / 2;
        if (above(place, middle, HORIZON) == up)
            from_ms = middle;
        else
            to_ms = middle;
    }
    return to_ms;
}

struct sun_day sun_day(const struct sun_place *place, int64_t from_ms, int64_t to_ms)
{
    bool up = above(place, from_ms, HORIZON);
    struct sun_day day = { .up = up };
    for (int64_t at = from_ms; at < to_ms; at += SCAN_MS) {
        int64_t next = at + SCAN_MS < to_ms ? at + SCAN_MS : to_ms;
        bool next_up = above(place, next, HORIZON);
        if (next_up && !up && !day.rises) {
            day.rises = true;
            day.rise_ms = crossing(place, at, next);
        } else if (up && !next_up) {
            day.sets = true;
            day.set_ms = crossing(place, at, next);
        }
        up = next_up;
    }
    return day;
}

bool sun_asleep(const struct sun_place *place, int64_t from_ms, int64_t to_ms)
{
    /* highest at an end or at a noon between: noons are a day apart */
    for (int64_t at = from_ms; at < to_ms; at += DAY_MS) {
        int64_t noon = sun_noon_ms(place, at + DAY_MS / 2);
        if (above(place, at, ASLEEP) || (noon < to_ms && above(place, noon, ASLEEP)))
            return false;
    }
    return !above(place, to_ms, ASLEEP);
}

double sun_clear_horizontal(double elevation)
{
    double up = sine(elevation);
    return up > 0 ? 1098 * up * exp(-0.059 / up) : 0;
}

/* Share of the horizontal irradiance that is diffuse, by the clearness index. */
static double diffuse_share(double clearness)
{
    double k = clearness;
    return k <= 0.22 ? 1 - 0.09 * k : 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)));
}

double sun_clear_plane(const struct sun *sun, const struct sun_plane *plane)
{
    double horizontal = sun_clear_horizontal(sun->elevation);
    if (horizontal <= 0)
        return 0;
    double up = sine(sun->elevation);
    double diffuse = horizontal * diffuse_share(horizontal / (SOLAR_CONSTANT * up));
    double facing = cosine(plane->tilt) * up +
                    sine(plane->tilt) * cosine(sun->elevation) * cosine(sun->azimuth - plane->azimuth);
    double beam = facing > 0 ? (horizontal - diffuse) / up * facing : 0;
    double sky = (1 + cosine(plane->tilt)) / 2;
    return beam + diffuse * sky + horizontal * GROUND * (1 - sky);
}

/* So many steps after an elevation there is no light yet: the sky turns 15.04 degrees an hour. */
static int64_t dark_steps(double elevation, int64_t step_ms)
{
    double climb = 15.1 / 3600e3 * (double)step_ms;
    return elevation < ASLEEP ? (int64_t)((ASLEEP - elevation) / climb) : 0;
}

/* Irradiance, or without a plane the light itself, at the middles of equal pieces of at most STEP_MS. */
static double sum_over(const struct sun_place *place, const struct sun_plane *plane, int64_t from_ms,
                       int64_t to_ms)
{
    int64_t span = to_ms - from_ms;
    int64_t count = (span + STEP_MS - 1) / STEP_MS;
    double sum = 0;
    for (int64_t i = 0; i < count; i++) {
        struct sun sun = sun_position(place, from_ms + (2 * i + 1) * span / (2 * count));
        sum += plane != NULL ? sun_clear_plane(&sun, plane) : sun.elevation > ASLEEP;
        i += dark_steps(sun.elevation, STEP_MS);
    }
    return count > 0 ? sum * (double)span / (double)count : 0;
}

int64_t sun_weight(const struct sun_place *place, const struct sun_plane *plane, int64_t from_ms,
                   int64_t to_ms)
{
    return llround(sum_over(place, plane, from_ms, to_ms)); /* W/m2 x ms */
}

int64_t sun_daylight(const struct sun_place *place, int64_t from_ms, int64_t to_ms)
{
    return llround(sum_over(place, NULL, from_ms, to_ms));
}
