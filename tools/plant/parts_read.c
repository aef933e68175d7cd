#include "parts_read.h"

#include <stdlib.h>
#include <string.h>

#include "muldiv.h"
#include "query_checks.h"
#include "schema.h"

enum { HOUR_S = 3600, DAY_S = 86400, MERIDIAN_S = 240 /* of longitude a degree */, LIMIT_PERCENT = 98 };

/* One meter's row at an instant. */
struct work {
    struct parts_answer *answer;
    struct query *query;
    const struct civil *civil;
    int64_t span_from_s;
    int32_t hint; /* setting in force */
    int32_t day;  /* index of the one that is read */
    int64_t day_from_s, day_to_s;
    int32_t seen_s[PARTS_MOST][PARTS_HOURS]; /* of each hour, by good rows */
    struct part_hour hours[PARTS_MOST][PARTS_HOURS];
    int64_t at_s; /* the instant whose rows are added up */
    uint64_t parts, beside;
    int64_t parts_mwh, beside_mwh;
};

static const struct parts_setting *setting_at(struct work *work, int64_t start_s)
{
    const struct parts_answer *answer = work->answer;
    while (work->hint + 1 < answer->setting_count && answer->settings[work->hint + 1].from_s <= start_s)
        work->hint++;
    return &answer->settings[work->hint];
}

/* The instant's rows are all there is of it. */
static void close_instant(struct work *work)
{
    struct parts_sum *sum = &work->answer->sum;
    const struct parts_setting *setting = setting_at(work, work->at_s);
    if (work->at_s >= work->span_from_s && (work->parts | work->beside) != 0) {
        bool all = work->parts == setting->parts && work->beside == setting->beside;
        *(all ? &sum->known_s : &sum->left_out_s) += setting->interval_s;
        sum->parts += all ? work->parts_mwh : 0;
        sum->beside += all ? work->beside_mwh : 0;
    }
    work->parts = work->beside = 0;
    work->parts_mwh = work->beside_mwh = 0;
}

/* An hour is seen where its rows leave no more than one out. */
static void close_day(struct work *work)
{
    const struct parts_setting *setting = &work->answer->settings[work->hint];
    struct parts *parts = &work->answer->parts;
    for (int32_t p = 0; p < parts->count; p++)
        for (int32_t h = 0; h < PARTS_HOURS; h++)
            if (work->seen_s[p][h] == 0 || work->seen_s[p][h] + setting->interval_s < HOUR_S)
                work->hours[p][h].state = HOUR_UNSEEN;
    if (work->day >= 0 && work->day < parts->days)
        parts_feed(parts, work->day, (const struct part_hour(*)[PARTS_HOURS])work->hours);
}

static void begin_day(struct work *work, int64_t start_s)
{
    int64_t day = civil_day_of(work->civil, start_s);
    work->day = (int32_t)(day - work->answer->first_day);
    work->day_from_s = civil_day_start(work->civil, day);
    work->day_to_s = civil_day_start(work->civil, day + 1);
    memset(work->seen_s, 0, sizeof(work->seen_s));
    memset(work->hours, 0, sizeof(work->hours));
}

/* Observed, and by itself: neither filled nor shared out of something coarser. Who sleeps is watched. */
static bool is_good(const struct interval_row *row, int32_t interval_s)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    bool watched = method == HOW_ASLEEP || row->unobserved * 10 <= interval_s;
    return watched && method != HOW_INTERPOLATED && method != HOW_ESTIMATED && row->estimated == 0 &&
           !(row->how & (HOW_CLOCK | HOW_RUN_CHANGE));
}

static int32_t hour_of(const struct work *work, int64_t start_s, int32_t interval_s)
{
    int64_t sun_s = start_s + interval_s / 2 + (int64_t)(work->answer->longitude * MERIDIAN_S);
    return (int32_t)((sun_s % DAY_S + DAY_S) % DAY_S / HOUR_S);
}

static void take_part_row(struct work *work, const struct parts_setting *setting, int32_t p,
                          const struct interval_row *row, int64_t energy)
{
    struct part *part = &work->answer->parts.part[p];
    int32_t h = hour_of(work, row->start_s, setting->interval_s);
    struct part_hour *hour = &work->hours[p][h];
    work->parts |= UINT64_C(1) << p;
    work->parts_mwh += energy;
    if (row->start_s >= work->span_from_s) {
        int64_t peak_w = parts_facts(part, work->day)->peak_w;
        bool known = part->energy == UNKNOWN || part->yield != UNKNOWN;
        part->energy = number_sum(part->energy, energy);
        part->yield = known && peak_w > 0
                          ? number_sum(part->yield, energy == 0 ? 0 : mul_div(energy, 1000, peak_w))
                          : UNKNOWN;
    }
    if (!is_good(row, setting->interval_s))
        return;
    work->seen_s[p][h] += setting->interval_s;
    hour->energy += energy;
    int64_t limit_w = setting->limit_w[p];
    if (limit_w > 0 && energy > 0 &&
        mul_div(energy, HOUR_S, setting->interval_s * INT64_C(1000)) * 100 >= limit_w * LIMIT_PERCENT)
        hour->state = HOUR_LIMITED;
    else if (hour->state == HOUR_UNSEEN)
        hour->state = HOUR_SEEN;
}

static void take_row(struct work *work, const struct interval_row *row)
{
    const struct parts_answer *answer = work->answer;
    if (row->start_s != work->at_s)
        close_instant(work);
    work->at_s = row->start_s;
    const struct parts_setting *setting = setting_at(work, row->start_s);
    int32_t p = 0, b = 0;
    while (p < answer->parts.count && answer->parts.part[p].number != row->meter)
        p++;
    while (b < answer->beside_count && answer->beside[b] != row->meter)
        b++;
    bool part = p < answer->parts.count && (setting->parts >> p & 1);
    bool beside = b < answer->beside_count && (setting->beside >> b & 1);
    bool by_export = (part ? setting->parts_export >> p : setting->beside_export >> b) & 1;
    int64_t energy = by_export ? row->export : row->import;
    if ((!part && !beside) || energy == UNKNOWN)
        return;
    if (part) {
        take_part_row(work, setting, p, row, energy);
    } else {
        work->beside |= UINT64_C(1) << b;
        work->beside_mwh += energy;
    }
}

/* What is read: the parts, the meters beside them, and whose numbers lie between. */
static struct meter_range meters_of(const struct parts_answer *answer)
{
    struct meter_range range = { INT32_MAX, 0 };
    for (int32_t i = 0; i < answer->parts.count + answer->beside_count; i++) {
        int32_t number =
            i < answer->parts.count ? answer->parts.part[i].number : answer->beside[i - answer->parts.count];
        range.first = number < range.first ? number : range.first;
        range.last = number > range.last ? number : range.last;
    }
    return range;
}

/* A month per read transaction. */
static void read_rows(struct work *work, const struct period *reach)
{
    struct interval_row row;
    int64_t day = reach->from_day;
    const struct meter_range meters = meters_of(work->answer);
    begin_day(work, civil_day_start(work->civil, day));
    while (day < reach->to_day) {
        int64_t next = period_next_month(day);
        next = next < reach->to_day ? next : reach->to_day;
        query_begin(work->query);
        query_energies_of(work->query, civil_day_start(work->civil, day), civil_day_start(work->civil, next),
                          meters);
        while (query_next_interval(work->query, &row)) {
            if (row.start_s >= work->day_to_s) {
                close_day(work);
                begin_day(work, row.start_s);
            }
            take_row(work, &row);
        }
        query_end(work->query);
        day = next;
    }
    close_instant(work);
    close_day(work);
}

static void read_resolution(struct parts_answer *answer, struct query *query, int64_t from_s, int64_t to_s)
{
    query_begin(query);
    for (int32_t p = 0; p < answer->parts.count; p++)
        answer->sum.resolution += query_step(query, answer->parts.part[p].number, from_s, to_s);
    for (int32_t b = 0; b < answer->beside_count; b++)
        answer->sum.resolution += query_step(query, answer->beside[b], from_s, to_s);
    query_end(query);
}

/* Cleanings of a part, or of no one in particular; of another subject they are nobody's here. */
static int32_t read_cleanings(const struct parts_answer *answer, const struct civil *civil,
                              const struct logbook *logbook, struct part_cleaning *cleanings)
{
    int32_t count = 0;
    for (int32_t i = 0; logbook && i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        int32_t part = entry->subject[0] ? 0 : -1;
        while (part >= 0 && part < answer->parts.count && answer->parts.part[part].number != entry->meter)
            part++;
        if (entry->kind != LOGBOOK_CLEANING || entry->refused || entry->revoked ||
            part == answer->parts.count)
            continue;
        cleanings[count].day = (int32_t)(civil_day_of(civil, entry->at_s) - answer->first_day);
        cleanings[count++].part = part;
    }
    return count;
}

static bool judge(struct parts_answer *answer, const struct civil *civil, const struct logbook *logbook)
{
    size_t room = logbook ? (size_t)logbook->count : 0;
    struct part_cleaning *cleanings = malloc((room + 1) * sizeof(*cleanings));
    bool good = cleanings &&
                parts_judge(&answer->parts, cleanings, read_cleanings(answer, civil, logbook, cleanings));
    free(cleanings);
    return good;
}

/* What the record has of the span and of the days before it. */
static struct period find_reach(struct query *query, const struct civil *civil, const struct period *period)
{
    struct site site;
    struct period reach = { period->from_day - PARTS_HISTORY_DAYS, period->to_day };
    if (!query_site(query, &site) || !site.has_rows)
        return (struct period){ period->from_day, period->from_day };
    int64_t first = civil_day_of(civil, site.first_s), end = civil_day_of(civil, site.last_s) + 1;
    reach.from_day = first > reach.from_day ? first : reach.from_day;
    reach.to_day = end < reach.to_day ? end : reach.to_day;
    return reach;
}

enum parts_result parts_read(struct parts_answer *answer, struct query *query, const struct civil *civil,
                             const struct logbook *logbook, const struct period *period)
{
    *answer = (struct parts_answer){ 0 };
    query_begin(query);
    struct period reach = find_reach(query, civil, period);
    answer->first_day = reach.from_day;
    answer->record_to_day = reach.to_day;
    enum parts_result result = reach.to_day > reach.from_day && reach.to_day > period->from_day
                                   ? parts_read_settings(answer, query, civil, &reach)
                                   : PARTS_NONE;
    query_end(query);
    int64_t span_from = period->from_day > reach.from_day ? period->from_day : reach.from_day;
    if (result != PARTS_READY)
        return query_error(query) ? PARTS_FAILED : result;
    struct work *work = calloc(1, sizeof(*work));
    if (!work || !parts_open(&answer->parts, answer->parts.count, (int32_t)(reach.to_day - reach.from_day),
                             (int32_t)(span_from - reach.from_day))) {
        free(work);
        return PARTS_FAILED;
    }
    work->answer = answer;
    work->query = query;
    work->civil = civil;
    work->span_from_s = civil_day_start(civil, span_from);
    read_rows(work, &reach);
    free(work);
    read_resolution(answer, query, civil_day_start(civil, span_from), civil_day_start(civil, reach.to_day));
    return !query_error(query) && judge(answer, civil, logbook) ? PARTS_READY : PARTS_FAILED;
}

void parts_answer_free(struct parts_answer *answer)
{
    parts_close(&answer->parts);
    free(answer->settings);
    answer->settings = NULL;
}
