/* The whole days of a record, and which of them were clear by the plant's own curve. */
#include <stdio.h>
#include <stdlib.h>

#include "calendar.h"
#include "query_checks.h"
#include "query_weather.h"
#include "schema.h"
#include "yield.h"

enum { DAYS_OF_YEAR = 366, MOST_BLOCKS = 2 * 26, MOST_UNOBSERVED_S = 1800 };

struct reading {
    const struct session *session;
    const struct plants *plants;
    struct clear_day *days;
    int32_t count;
};

static int32_t season_of(int64_t day)
{
    int32_t year, month, of_month;
    civil_date(day, &year, &month, &of_month);
    return (int32_t)(day - civil_day_number(year, 1, 1));
}

/* Seasons that some day of the period may be compared with: twice the fortnight, since references have
 * days around them too. */
static void find_seasons(struct period period, bool seasons[DAYS_OF_YEAR])
{
    enum { AROUND = 2 * CLEAR_DAYS_AROUND };
    for (int64_t day = period.from_day - AROUND;
         day < period.to_day + AROUND && day < period.from_day + 2 * DAYS_OF_YEAR; day++)
        seasons[season_of(day)] = true;
}

/* What production meters made on a closed day without a gap, kWh; false where one has none. */
static bool made_on(const struct reading *reading, const struct plant *plant, int64_t day, double *made)
{
    *made = 0;
    for (int32_t i = 0; i < plant->meter_count; i++) {
        struct day_row row;
        if (!query_meter_day(reading->session->query, plant->meters[i].number, day, true, &row))
            return false;
        int64_t energy = plant->meters[i].by_export ? row.export : row.import;
        if (energy == UNKNOWN || row.rows != row.expected || row.unobserved > MOST_UNOBSERVED_S)
            return false;
        *made += (double)energy / 1e6;
    }
    return plant->meter_count > 0;
}

static void read_day(const struct reading *reading, struct clear_day *clear)
{
    const struct civil *civil = reading->session->civil;
    int64_t from_s = civil_day_start(civil, clear->day), to_s = civil_day_start(civil, clear->day + 1);
    const struct plant *plant = plants_at(reading->plants, from_s);
    double made, sky;
    if (!(plant->peak_kw > 0) || !made_on(reading, plant, clear->day, &made))
        return;
    sky = plant_clear_sky(plant, from_s, to_s);
    clear->whole = sky > 0;
    clear->ratio = sky > 0 ? made / plant->peak_kw / sky : 0;
}

/* The candidate's energies by half hours. */
static void look_at(const struct reading *reading, struct clear_day *clear)
{
    const struct session *session = reading->session;
    int64_t from_s = civil_day_start(session->civil, clear->day);
    int64_t to_s = civil_day_start(session->civil, clear->day + 1);
    const struct plant *plant = plants_at(reading->plants, from_s);
    double blocks[MOST_BLOCKS] = { 0 };
    for (int32_t i = 0; i < plant->meter_count; i++) {
        struct interval_row row;
        int64_t phases[2];
        for (int64_t at_s = from_s; at_s < to_s; at_s += plant->interval_s) {
            int64_t block = (at_s - from_s) / CLEAR_DAYS_BLOCK_S;
            if (block >= MOST_BLOCKS ||
                !query_meter_interval(session->query, plant->meters[i].number, at_s, &row, phases))
                continue;
            int64_t energy = plant->meters[i].by_export ? row.export : row.import;
            blocks[block] += energy == UNKNOWN ? 0 : (double)energy;
        }
    }
    clear->roughness = clear_days_roughness(blocks, MOST_BLOCKS);
}

static bool read_all(struct reading *reading)
{
    struct query *query = reading->session->query;
    enum { CHUNK = 31 };
    for (int32_t i = 0; i < reading->count; i++) {
        if (i % CHUNK == 0)
            query_begin(query);
        read_day(reading, &reading->days[i]);
        if (i % CHUNK == CHUNK - 1 || i + 1 == reading->count)
            query_end(query);
    }
    clear_days_candidates(reading->days, reading->count);
    for (int32_t i = 0; i < reading->count; i++) {
        if (!reading->days[i].candidate)
            continue;
        query_begin(query);
        look_at(reading, &reading->days[i]);
        query_end(query);
    }
    clear_days_choose(reading->days, reading->count);
    return !query_error(query);
}

bool yield_read_clear(const struct session *session, const struct plants *plants, struct period period,
                      struct clear_day **days, int32_t *count)
{
    struct site site;
    bool seasons[DAYS_OF_YEAR] = { false };
    struct reading reading = { .session = session, .plants = plants };
    *days = NULL;
    *count = 0;
    query_begin(session->query);
    bool known = query_site(session->query, &site) && site.has_rows;
    query_end(session->query);
    if (!known)
        return !query_error(session->query) || (session_failed(session), false);
    find_seasons(period, seasons);
    int64_t first = civil_day_of(session->civil, site.first_s),
            last = civil_day_of(session->civil, site.last_s);
    reading.days = calloc((size_t)(last - first) + 1, sizeof *reading.days);
    if (!reading.days) {
        fputs("meterbook: out of memory\n", stderr);
        return false;
    }
    for (int64_t day = first; day <= last; day++)
        if (seasons[season_of(day)])
            reading.days[reading.count++] = (struct clear_day){ .day = day, .season = season_of(day) };
    *days = reading.days;
    *count = reading.count;
    if (!read_all(&reading)) {
        session_failed(session);
        return false;
    }
    return true;
}
