/* links: tests/bench/invent_*.c daemon/record/?*.c */
/* Writes the record, the configuration and the logbook of an INVENTED plant.
 *
 *     invent DIR [--years N] [--days N] [--interval S] [--seed N]
 *
 * Two years from 2023-03-01 on unless said otherwise, more than three from
 * 2016-01-01 on; intervals of 300 s. The same arguments write the same bytes.
 * invent.h says what the plant is. */
#include "invent.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "calendar.h"

enum { MONTHS = 12, MONTHS_BEFORE = 10, BEFORE_STEP_S = 1800, LONG_YEARS = 3 };

#define KWH INT64_C(1000000)

const struct invented_meter invented_meters[INVENTED_METERS] = {
    [INVENTED_GRID] = { 1, "grid meter", { true, true }, 20000, 3 * KWH },
    [INVENTED_PRODUCTION] = { 2, "production meter", { true, true }, 1000, KWH },
    [INVENTED_PART] = { 11, "inverter 1", { false, true }, 100000, 2310 * KWH },
    [INVENTED_PART + 1] = { 12, "inverter 2", { false, true }, 100000, 2250 * KWH },
    [INVENTED_PART + 2] = { 13, "inverter 3", { false, true }, 100000, 1790 * KWH },
    [INVENTED_PART + 3] = { 14, "inverter 4", { false, true }, 100000, 2680 * KWH },
    [INVENTED_HEAT_PUMP] = { 21, "heat pump", { true, false }, 1000, 12 * KWH },
    [INVENTED_WORKSHOP] = { 22, "workshop", { true, false }, 1000, 40 * KWH },
    [INVENTED_WEATHER] = { 31, "weather station", { false, false }, 0, 0 },
};

/* When each planned defect comes, local time, in the year that begins a year after the record. */
static const struct {
    int32_t month, day, hour;
    int32_t hours; /* how long; 0: for good */
} plans[DEFECT_COUNT] = {
    [DEFECT_SOILED] = { 4, 10, 0, 101 * 24 + 10 }, /* cleaned on 20 July at 10:00 */
    [DEFECT_SHADED] = { 5, 15, 0, 0 },
    [DEFECT_FAILED] = { 8, 3, 0, 9 * 24 },
    [DEFECT_GAP] = { 6, 11, 8, 30 },
    [DEFECT_OUTAGE] = { 9, 14, 13, 3 },
    [DEFECT_VOLTAGE] = { 5, 1, 0, 31 * 24 },
    [DEFECT_AHEAD] = { 11, 20, 0, 1 }, /* the span between readings that holds it */
};

static int64_t local_time(const struct invent *invent, int32_t year, int32_t month, int32_t day, int32_t hour)
{
    return civil_day_start(invent->civil, civil_day_number(year, month, day)) + hour * INT64_C(3600);
}

/* Years and days count from the date on; days go before years. */
static void set_spans(struct invent *invent, int32_t years, int32_t days)
{
    int32_t year = years > LONG_YEARS ? 2016 : 2023, month = years > LONG_YEARS ? 1 : 3;
    int32_t before = month - 1 - MONTHS_BEFORE; /* months since January of that year */
    invent->begin_s = local_time(invent, year, month, 1, 0);
    invent->before_s = local_time(invent, year - 1, before + MONTHS + 1, 1, 0);
    invent->end_s = local_time(invent, year + years, month, 1, 0);
    if (days > 0)
        invent->end_s = civil_day_start(invent->civil, civil_day_number(year, month, 1) + days);
    for (int i = 0; i < DEFECT_COUNT; i++) {
        int32_t in = plans[i].month < month ? year + 2 : year + 1;
        int64_t from_s = local_time(invent, in, plans[i].month, plans[i].day, plans[i].hour);
        invent->defects[i].from_s = from_s;
        invent->defects[i].to_s = plans[i].hours ? from_s + plans[i].hours * INT64_C(3600) : INT64_MAX;
    }
}

static bool write_all(const struct invent *invent)
{
    struct flow flow;
    struct invent_logbook *logbook = invent_logbook_open(invent);
    struct invent_record *record = logbook && invent_config(invent) ? invent_record_open(invent) : NULL;
    if (!record)
        return false;
    for (int64_t at_s = invent->before_s; at_s < invent->begin_s; at_s += BEFORE_STEP_S) {
        invent_flow(invent, at_s, BEFORE_STEP_S, &flow);
        invent_logbook_take(logbook, &flow);
    }
    bool good = true;
    for (int64_t at_s = invent->begin_s; at_s < invent->end_s && good; at_s += invent->interval_s) {
        invent_flow(invent, at_s, invent->interval_s, &flow);
        invent_logbook_take(logbook, &flow);
        good = invent_record_take(record, &flow);
    }
    good = invent_record_close(record) && good;
    return invent_logbook_close(logbook) && good;
}

static bool usage(void)
{
    fputs("usage: invent DIR [--years N] [--days N] [--interval S] [--seed N]\n", stderr);
    return false;
}

static bool read_arguments(int argc, char **argv, struct invent *invent, int32_t *years, int32_t *days)
{
    if (argc < 2 || argc % 2 != 0 || argv[1][0] == '-')
        return usage();
    for (int i = 2; i < argc; i += 2) {
        char *end;
        long value = strtol(argv[i + 1], &end, 10);
        if (*end || value < 1)
            return usage();
        if (strcmp(argv[i], "--years") == 0 && value <= 50)
            *years = (int32_t)value;
        else if (strcmp(argv[i], "--days") == 0 && value <= 20000)
            *days = (int32_t)value;
        else if (strcmp(argv[i], "--interval") == 0 && value <= 1800 && 3600 % value == 0)
            invent->interval_s = (int32_t)value;
        else if (strcmp(argv[i], "--seed") == 0)
            invent->seed = (uint64_t)value;
        else
            return usage();
    }
    return true;
}

int main(int argc, char **argv)
{
    struct invent invent = { .seed = 1, .interval_s = 300 };
    int32_t years = 2, days = 0;
    if (!read_arguments(argc, argv, &invent, &years, &days))
        return 2;
    invent.civil = civil_open("Europe/Prague");
    if (!invent.civil) {
        fputs("invent: this computer's zone data has no Europe/Prague\n", stderr);
        return 1;
    }
    if ((mkdir(argv[1], 0755) != 0 && errno != EEXIST) || chdir(argv[1]) != 0) {
        perror(argv[1]);
        return 1;
    }
    set_spans(&invent, years, days);
    bool good = write_all(&invent);
    civil_close(invent.civil);
    return good ? 0 : 1;
}
