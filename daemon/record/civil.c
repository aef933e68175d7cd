#include "civil.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "zone_file.h"

#define ZONE_DIRECTORY "/usr/share/zoneinfo"

enum {
    DAY_S = 86400,
    OFFSET_LIMIT_S = 26 * 3600, /* RFC 8536, 3.2: offsets lie between -25 h and +26 h */
    ZONE_FILE_LIMIT = 64 * 1024,
    FIRST_YEAR = 1990, /* of civil_grid_fits(): some zones had odd offsets before */
    LAST_YEAR = 2100,
};

struct civil {
    int32_t count;
    struct zone_span *spans;
};

static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b != 0 && (a < 0) != (b < 0));
}

/* Names in the zone data are plain: no way out of its directory. */
static bool name_is_plain(const char *zone)
{
    static const char letters[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_+-/";
    return zone[0] != '\0' && zone[0] != '/' && zone[strspn(zone, letters)] == '\0';
}

struct civil *civil_open_bytes(const unsigned char *bytes, size_t size)
{
    struct civil *civil = calloc(1, sizeof *civil);
    if (!civil)
        return NULL;
    civil->count = zone_file_read(bytes, size, &civil->spans);
    if (civil->count < 0) {
        free(civil);
        return NULL;
    }
    return civil;
}

struct civil *civil_open(const char *zone)
{
    char path[256];
    if (!name_is_plain(zone) || snprintf(path, sizeof path, ZONE_DIRECTORY "/%s", zone) >= (int)sizeof path)
        return NULL;
    FILE *file = fopen(path, "rb");
    if (!file)
        return NULL;
    struct civil *civil = NULL;
    unsigned char *bytes = malloc(ZONE_FILE_LIMIT);
    if (bytes) {
        size_t size = fread(bytes, 1, ZONE_FILE_LIMIT, file);
        if (!ferror(file))
            civil = civil_open_bytes(bytes, size);
    }
    free(bytes);
    fclose(file);
    return civil;
}

void civil_close(struct civil *civil)
{
    if (civil)
        free(civil->spans);
    free(civil);
}

static int32_t span_of(const struct civil *civil, int64_t utc_s)
{
    int32_t low = 0, high = civil->count; /* spans[low].from_s <= utc_s < spans[high].from_s */
    while (high - low > 1) {
        int32_t middle = low + (high - low) / 2;
        if (civil->spans[middle].from_s <= utc_s)
            low = middle;
        else
            high = middle;
    }
    return low;
}

int32_t civil_offset(const struct civil *civil, int64_t utc_s)
{
    return civil->spans[span_of(civil, utc_s)].offset_s;
}

/* Within a span local time runs with UTC, so the day starts in the first span
 * whose end shows at least its midnight: at that midnight, or, where the clock
 * jumped over it, with the span. */
int64_t civil_day_start(const struct civil *civil, int64_t day)
{
    int64_t midnight = day * DAY_S; /* as local time */
    int32_t i = span_of(civil, midnight - OFFSET_LIMIT_S);
    for (;; i++) {
        int64_t start = midnight - civil->spans[i].offset_s;
        if (start < civil->spans[i].from_s)
            start = civil->spans[i].from_s;
        if (i + 1 == civil->count || start < civil->spans[i + 1].from_s)
            return start;
    }
}

int64_t civil_day_of(const struct civil *civil, int64_t utc_s)
{
    int64_t day = floor_div(utc_s + civil_offset(civil, utc_s), DAY_S);
    while (civil_day_start(civil, day) > utc_s)
        day--;
    while (civil_day_start(civil, day + 1) <= utc_s)
        day++;
    return day;
}

/* A day begins at a midnight of one of the offsets or where the clock was changed: where all of these
 * fit, every day does. Tells at once what holds nearly everywhere; false says nothing. */
static bool changes_fit(const struct civil *civil, int32_t length_s, int64_t from_s)
{
    int32_t first = span_of(civil, from_s);
    bool fits = DAY_S % length_s == 0;
    for (int32_t i = first; i < civil->count && fits; i++)
        fits = civil->spans[i].offset_s % length_s == 0 &&
               (i == first || civil->spans[i].from_s % length_s == 0);
    return fits;
}

bool civil_grid_fits(const struct civil *civil, int32_t length_s, int64_t *day)
{
    int64_t last = civil_day_number(LAST_YEAR, 12, 31);
    if (changes_fit(civil, length_s, civil_day_number(FIRST_YEAR, 1, 1) * DAY_S - OFFSET_LIMIT_S))
        return true;
    for (int64_t d = civil_day_number(FIRST_YEAR, 1, 1); d <= last; d++) {
        if (civil_day_start(civil, d) % length_s != 0) {
            *day = d;
            return false;
        }
    }
    return true;
}

void civil_edition(char *edition, size_t size)
{
    /* Both begin with a line that holds the edition: "# version 2024a", "2024a". */
    static const char *const paths[] = { ZONE_DIRECTORY "/tzdata.zi", ZONE_DIRECTORY "/+VERSION" };
    static const char lead[] = "# version ";
    char found[16] = "";
    for (size_t i = 0; i < sizeof paths / sizeof paths[0] && !found[0]; i++) {
        char line[80];
        FILE *file = fopen(paths[i], "r");
        if (!file)
            continue;
        if (fgets(line, sizeof line, file)) {
            const char *word = strncmp(line, lead, sizeof lead - 1) == 0 ? line + sizeof lead - 1 : line;
            size_t length = strspn(word, "0123456789abcdefghijklmnopqrstuvwxyz");
            if (length < sizeof found)
                memcpy(found, word, length);
        }
        fclose(file);
    }
    snprintf(edition, size, "%s", found);
}
