/* Who was a part when, by the dated settings. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts_read.h"
#include "query_checks.h"

struct work {
    struct parts_answer *answer;
    struct query *query;
    const struct civil *civil;
    const struct period *reach;
    int32_t room;
};

/* A later loaded setting replaces every older one from its date on. One without a date
 * reaches back. */
static bool add_setting(struct work *work, const struct setting_row *row)
{
    struct parts_answer *answer = work->answer;
    struct parts_setting setting = { .id = row->id,
                                     .interval_s = row->interval_s > 0 ? row->interval_s : 300 };
    setting.from_s = row->from_ms == UNKNOWN ? INT64_MIN : row->from_ms / 1000 + (row->from_ms % 1000 > 0);
    while (answer->setting_count > 0 && answer->settings[answer->setting_count - 1].from_s >= setting.from_s)
        answer->setting_count--;
    if (answer->setting_count == work->room) {
        int32_t room = work->room ? 2 * work->room : 16;
        struct parts_setting *grown = realloc(answer->settings, (size_t)room * sizeof(*grown));
        if (!grown)
            return false;
        answer->settings = grown;
        work->room = room;
    }
    answer->settings[answer->setting_count++] = setting;
    return true;
}

/* Only those in force in what is read; the first reaches back. */
static void cut_settings(struct work *work)
{
    struct parts_answer *answer = work->answer;
    int64_t from_s = civil_day_start(work->civil, work->reach->from_day);
    int64_t to_s = civil_day_start(work->civil, work->reach->to_day);
    int32_t first = 0;
    while (first + 1 < answer->setting_count && answer->settings[first + 1].from_s <= from_s)
        first++;
    while (answer->setting_count > first + 1 && answer->settings[answer->setting_count - 1].from_s >= to_s)
        answer->setting_count--;
    answer->setting_count -= first;
    memmove(answer->settings, answer->settings + first,
            (size_t)answer->setting_count * sizeof(*answer->settings));
}

/* Where there is none, production meters with a kWp are. */
static bool is_part(const struct parts_answer *answer, const struct arranged_meter *meter,
                    const struct meter_facts *facts)
{
    if (answer->of_production)
        return meter->role == ROLE_PRODUCTION && facts->peak_w > 0;
    return meter->role == ROLE_PART;
}

static int32_t index_of(struct parts_answer *answer, int32_t number)
{
    struct parts *parts = &answer->parts;
    int32_t at = 0;
    while (at < parts->count && parts->part[at].number != number)
        at++;
    if (at == PARTS_MOST)
        return -1;
    if (at == parts->count) {
        parts->part[at].number = number;
        parts->part[at].energy = parts->part[at].yield = UNKNOWN;
        parts->count++;
    }
    return at;
}

/* Without the configuration's own word the rated power is the limit. */
static int64_t limit_of(const struct config *config, int32_t number, const struct meter_facts *facts)
{
    for (int32_t i = 0; config && i < config->meter_count; i++)
        if (config->meters[i].number == number && config->meters[i].ac_rating_w > 0)
            return config->meters[i].ac_rating_w;
    return facts->rated_w;
}

/* Facts hold from the first whole day on. */
static int32_t whole_day(const struct work *work, const struct parts_setting *setting)
{
    const struct parts_answer *answer = work->answer;
    if (setting == answer->settings)
        return 0;
    int64_t day = civil_day_of(work->civil, setting->from_s);
    day += civil_day_start(work->civil, day) < setting->from_s;
    return (int32_t)(day - answer->first_day);
}

static void take_part(struct work *work, struct parts_setting *setting, const struct arranged_meter *meter,
                      const struct meter_facts *facts, const struct config *config)
{
    int32_t at = index_of(work->answer, meter->number);
    if (at < 0)
        return;
    struct part *part = &work->answer->parts.part[at];
    const struct part_facts now = { whole_day(work, setting), true, facts->peak_w, facts->azimuth,
                                    facts->tilt };
    snprintf(part->name, sizeof(part->name), "%s", meter->name);
    const struct part_facts absent = { .azimuth = UNKNOWN, .tilt = UNKNOWN };
    if (part->fact_count == 0 && now.from_day > 0)
        parts_set_facts(part, &absent);
    parts_set_facts(part, &now);
    setting->parts |= UINT64_C(1) << at;
    setting->parts_export |= (uint64_t)meter->delivers_by_export << at;
    setting->limit_w[at] = limit_of(config, meter->number, facts);
}

static void take_beside(struct parts_answer *answer, struct parts_setting *setting,
                        const struct arranged_meter *meter)
{
    int32_t at = 0;
    while (at < answer->beside_count && answer->beside[at] != meter->number)
        at++;
    if (at == PARTS_MOST)
        return;
    if (at == 0)
        snprintf(answer->beside_name, sizeof(answer->beside_name), "%s", meter->name);
    answer->beside[at] = meter->number;
    answer->beside_count += at == answer->beside_count;
    setting->beside |= UINT64_C(1) << at;
    setting->beside_export |= (uint64_t)meter->delivers_by_export << at;
}

static void read_setting(struct work *work, struct parts_setting *setting)
{
    struct parts_answer *answer = work->answer;
    struct arrangement arrangement;
    const struct setting_row row = { .id = setting->id, .interval_s = setting->interval_s };
    int32_t found;
    int64_t just_after_s = setting->from_s == INT64_MIN ? 0 : setting->from_s + 1;
    struct config *config = config_load_stored(query_setting_text(work->query, just_after_s, &found));
    if (config)
        answer->longitude = config->site.longitude;
    query_meters(work->query, &row, &arrangement);
    for (int32_t i = 0; i < arrangement.meter_count; i++) {
        const struct arranged_meter *meter = &arrangement.meters[i];
        struct meter_facts facts = { 0 };
        if (!query_meter_facts(work->query, setting->id, meter->number, &facts))
            continue;
        if (is_part(answer, meter, &facts))
            take_part(work, setting, meter, &facts, config);
        else if (meter->role == ROLE_PRODUCTION && !answer->of_production)
            take_beside(answer, setting, meter);
    }
    for (int32_t p = 0; p < answer->parts.count; p++) {
        const struct part_facts gone = { .from_day = whole_day(work, setting),
                                         .azimuth = UNKNOWN,
                                         .tilt = UNKNOWN };
        if (!(setting->parts >> p & 1))
            parts_set_facts(&answer->parts.part[p], &gone);
    }
    config_free(config);
}

static void read_all(struct work *work)
{
    for (int32_t i = 0; i < work->answer->setting_count; i++)
        read_setting(work, &work->answer->settings[i]);
}

enum parts_result parts_read_settings(struct parts_answer *answer, struct query *query,
                                      const struct civil *civil, const struct period *reach)
{
    struct work work = { answer, query, civil, reach, 0 };
    struct setting_row row;
    bool room = true;
    query_settings(query);
    while (query_next_setting(query, &row))
        room = room && add_setting(&work, &row);
    if (query_error(query) || !room)
        return PARTS_FAILED;
    if (answer->setting_count == 0)
        return PARTS_NONE;
    cut_settings(&work);
    read_all(&work);
    if (answer->parts.count == 0) {
        answer->of_production = true;
        answer->beside_count = 0;
        read_all(&work);
    }
    return query_error(query) ? PARTS_FAILED : answer->parts.count > 1 ? PARTS_READY : PARTS_NONE;
}
