#include "espi.h"

#include <inttypes.h>

#include "text.h"

enum { PATH_SIZE = 120, DIGITS = 24, MOST_RELATED = 2 };

#define LOCAL_TIME "LocalTimeParameters/1"

/* Where a resource is below the feed, and what kind of thing stands above it. */
struct place {
    char self[PATH_SIZE], up[PATH_SIZE];
    char related[MOST_RELATED][PATH_SIZE]; /* "": none */
};

/* The same resource of the same site has the same identifier in each extract: a UUID of version 8
 * (RFC 9562, made of what the maker likes) from two hashes (FNV-1a, finished by a multiplication) of its
 * path. */
static uint64_t hash(uint64_t seed, const char *text)
{
    uint64_t value = UINT64_C(14695981039346656037) ^ seed;
    for (; *text; text++)
        value = (value ^ (unsigned char)*text) * UINT64_C(1099511628211);
    value = (value ^ value >> 32) * UINT64_C(0x9E3779B97F4A7C15);
    return value ^ value >> 29;
}

static void put_id(FILE *out, const char *site, const char *path)
{
    uint64_t high = hash(hash(1, site), path), low = hash(hash(2, site), path);
    fprintf(out,
            "<id>urn:uuid:%08" PRIx64 "-%04" PRIx64 "-8%03" PRIx64 "-%04" PRIx64 "-%012" PRIx64 "</id>\n",
            high >> 32, high >> 16 & 0xffff, high & 0xfff, (low >> 48 & 0x3fff) | 0x8000,
            low & UINT64_C(0xffffffffffff));
}

static void put_stamp(FILE *out, const char *element, int64_t utc_s)
{
    int32_t year, month, day;
    int64_t second = utc_s % 86400;
    civil_date(utc_s / 86400, &year, &month, &day);
    fprintf(out, "<%s>%04d-%02d-%02dT%02d:%02d:%02dZ</%s>\n", element, year, month, day, (int)(second / 3600),
            (int)(second / 60 % 60), (int)(second % 60), element);
}

void espi_begin(FILE *out, const struct espi_feed *feed)
{
    fputs("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<feed xmlns=\"http://www.w3.org/2005/Atom\">\n", out);
    put_id(out, feed->site, "");
    fputs("<title>", out);
    text_xml(out, feed->title);
    fputs("</title>\n", out);
    put_stamp(out, "updated", feed->updated_s);
    fputs("<author><name>meterbook " METERBOOK_VERSION
          "</name></author>\n<link rel=\"self\" href=\"feed\"/>\n",
          out);
}

void espi_end(FILE *out)
{
    fputs("</feed>\n", out);
}

static void entry_begin(FILE *out, const struct espi_feed *feed, const struct place *place, const char *title,
                        const char *detail)
{
    fputs("<entry>\n", out);
    put_id(out, feed->site, place->self);
    fprintf(out, "<link rel=\"self\" href=\"%s\"/>\n<link rel=\"up\" href=\"%s\"/>\n", place->self,
            place->up);
    for (int32_t i = 0; i < MOST_RELATED; i++)
        if (place->related[i][0])
            fprintf(out, "<link rel=\"related\" href=\"%s\"/>\n", place->related[i]);
    fputs("<title>", out);
    text_xml(out, title);
    text_xml(out, detail);
    fputs("</title>\n", out);
    put_stamp(out, "updated", feed->updated_s);
    fputs("<content type=\"application/xml\">\n", out);
}

static void entry_end(FILE *out)
{
    fputs("</content>\n</entry>\n", out);
}

void espi_local_time(FILE *out, const struct espi_feed *feed, const struct espi_time *time)
{
    const struct place place = { LOCAL_TIME, "LocalTimeParameters", { "" } };
    entry_begin(out, feed, &place, "local time", "");
    fprintf(out,
            "<LocalTimeParameters xmlns=\"http://naesb.org/espi\"><dstEndRule>%08" PRIX32
            "</dstEndRule><dstOffset>%" PRId32 "</dstOffset><dstStartRule>%08" PRIX32
            "</dstStartRule><tzOffset>%" PRId32 "</tzOffset></LocalTimeParameters>\n",
            time->end, time->summer_s, time->start, time->standard_s);
    entry_end(out);
}

void espi_usage_point(FILE *out, const struct espi_feed *feed, int32_t meter, const char *name,
                      const char *role)
{
    struct place place = { "", "UsagePoint", { "", LOCAL_TIME } };
    char detail[PATH_SIZE];
    snprintf(place.self, PATH_SIZE, "UsagePoint/%d", meter);
    snprintf(place.related[0], PATH_SIZE, "UsagePoint/%d/MeterReading", meter);
    snprintf(detail, sizeof(detail), " (%s)", role);
    entry_begin(out, feed, &place, name, detail);
    fputs("<UsagePoint xmlns=\"http://naesb.org/espi\"><ServiceCategory><kind>0</kind></ServiceCategory>"
          "</UsagePoint>\n",
          out);
    entry_end(out);
}

static void series_path(char path[PATH_SIZE], const struct espi_series *series)
{
    snprintf(path, PATH_SIZE, "UsagePoint/%d/MeterReading/%d-%d", series->meter, (int)series->flow,
             series->interval_s);
}

void espi_series(FILE *out, const struct espi_feed *feed, const struct espi_series *series)
{
    struct place place = { "", "", { "" } }, type = { "", "ReadingType", { "" } };
    const char *detail = series->flow == ESPI_FORWARD ? ", import (1-0:1.8.0)" : ", export (1-0:2.8.0)";
    series_path(place.self, series);
    snprintf(place.up, PATH_SIZE, "UsagePoint/%d/MeterReading", series->meter);
    snprintf(type.self, PATH_SIZE, "ReadingType/%d-%d-%d", series->meter, (int)series->flow,
             series->interval_s);
    snprintf(place.related[0], PATH_SIZE, "%s", type.self);
    snprintf(place.related[1], PATH_SIZE, "UsagePoint/%d/MeterReading/%d-%d/IntervalBlock", series->meter,
             (int)series->flow, series->interval_s);
    entry_begin(out, feed, &place, series->name, detail);
    fputs("<MeterReading xmlns=\"http://naesb.org/espi\"/>\n", out);
    entry_end(out);
    entry_begin(out, feed, &type, series->name, detail);
    /* delta values, secondary electricity, energy in Wh */
    fprintf(out,
            "<ReadingType xmlns=\"http://naesb.org/espi\"><accumulationBehaviour>4</accumulationBehaviour>"
            "<commodity>1</commodity><dataQualifier>12</dataQualifier><defaultQuality>0</defaultQuality>"
            "<flowDirection>%d</flowDirection><intervalLength>%d</intervalLength><kind>12</kind>"
            "<powerOfTenMultiplier>-3</powerOfTenMultiplier><uom>72</uom></ReadingType>\n",
            (int)series->flow, series->interval_s);
    entry_end(out);
}

void espi_block_begin(FILE *out, const struct espi_feed *feed, const struct espi_series *series,
                      int64_t start_s, int64_t end_s)
{
    struct place place = { "", "", { "" } };
    char path[PATH_SIZE - 40];
    snprintf(path, sizeof(path), "UsagePoint/%d/MeterReading/%d-%d", series->meter, (int)series->flow,
             series->interval_s);
    snprintf(place.self, PATH_SIZE, "%s/IntervalBlock/%" PRId64, path, start_s);
    snprintf(place.up, PATH_SIZE, "%s/IntervalBlock", path);
    entry_begin(out, feed, &place, series->name, "");
    fprintf(out,
            "<IntervalBlock xmlns=\"http://naesb.org/espi\">\n<interval><duration>%" PRId64
            "</duration><start>%" PRId64 "</start></interval>\n",
            end_s - start_s, start_s);
}

/* A year has hundreds of thousands of these: digits by hand are four times as fast as printf. */
static void put_number(FILE *out, int64_t value)
{
    char digits[DIGITS];
    int32_t at = DIGITS;
    uint64_t rest = value < 0 ? 0 - (uint64_t)value : (uint64_t)value;
    do
        digits[--at] = (char)('0' + rest % 10);
    while (rest /= 10);
    if (value < 0)
        digits[--at] = '-';
    fwrite(digits + at, 1, (size_t)(DIGITS - at), out);
}

void espi_reading(FILE *out, const struct espi_reading *reading)
{
    fputs("<IntervalReading>", out);
    for (int32_t i = 0; i < reading->quality_count; i++)
        fprintf(out, "<ReadingQuality><quality>%d</quality></ReadingQuality>", (int)reading->quality[i]);
    fputs("<timePeriod><duration>", out);
    put_number(out, reading->duration_s);
    fputs("</duration><start>", out);
    put_number(out, reading->start_s);
    fputs("</start></timePeriod><value>", out);
    put_number(out, reading->value);
    fputs("</value></IntervalReading>\n", out);
}

void espi_block_end(FILE *out)
{
    fputs("</IntervalBlock>\n", out);
    entry_end(out);
}
