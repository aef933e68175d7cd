#include "validate_walk.h"

#include <stdlib.h>
#include <string.h>

#include "schema.h"

enum { DAY_S = 86400, REFERENCE_S = 400 * DAY_S, LONGEST_INTERVAL_S = 3600 };
#define MOST_STEP INT64_C(1000000000000) /* mWh; a damaged record may say more */

/* NULL for a number that no setting of the span has, or none can have. */
static struct validate_meter *meter_of(struct validate *validate, int32_t number)
{
    int16_t place = number < 0 || number >= METER_NUMBERS ? -1 : validate->index[number];
    return place < 0 ? NULL : &validate->meters[place];
}

static int64_t least(int64_t a, int64_t b)
{
    return a < b ? a : b;
}

static const char *serial_of(const struct validate *validate, int32_t number)
{
    for (int32_t i = 0; validate->facts && i < validate->facts->meter_count; i++)
        if (validate->facts->meters[i].number == number)
            return validate->facts->meters[i].serial;
    return "";
}

static bool is_solar(const struct validate_meter *meter)
{
    return meter->arranged.role == ROLE_PRODUCTION || meter->arranged.role == ROLE_PART;
}

static void set_sun(const struct validate *validate, struct validate_meter *meter)
{
    meter->sun = (struct sun_check){
        .has_plane = meter->facts.azimuth != UNKNOWN && meter->facts.tilt != UNKNOWN,
        .peak_w = meter->facts.peak_w,
        .percent = validate->checks.clear_sky_percent,
        .step = meter->step,
        .by_export = meter->arranged.delivers_by_export,
    };
    if (meter->sun.has_plane)
        meter->sun.plane = (struct sun_plane){ (double)meter->facts.azimuth, (double)meter->facts.tilt };
    if (validate->facts) {
        meter->sun.has_place = true;
        meter->sun.place =
            (struct sun_place){ validate->facts->site.latitude, validate->facts->site.longitude };
    }
}

/* Blocks of the wanted length, or of an interval where that does not fit into it. */
static int32_t block_length(const struct validate *validate, int32_t interval_s)
{
    int32_t wanted_s = validate->checks.spike_block_s;
    return wanted_s > interval_s && wanted_s % interval_s == 0 ? wanted_s : interval_s;
}

static void add_meter(struct validate *validate, const struct arranged_meter *arranged, int32_t setting)
{
    struct validate_meter *meter = meter_of(validate, arranged->number);
    if (!meter) {
        if (validate->meter_count == VALIDATE_METERS || arranged->number < 0 ||
            arranged->number >= METER_NUMBERS)
            return;
        validate->index[arranged->number] = (int16_t)validate->meter_count;
        meter = &validate->meters[validate->meter_count++];
    }
    meter->arranged = *arranged;
    if (!query_meter_facts(validate->query, setting, arranged->number, &meter->facts) && !meter->step)
        meter->facts = (struct meter_facts){ .azimuth = UNKNOWN, .tilt = UNKNOWN };
    meter->step =
        least(query_step(validate->query, arranged->number, validate->from_s, validate->to_s), MOST_STEP);
}

static void begin_meter(struct validate *validate, struct validate_meter *meter)
{
    int64_t begin_s = query_begin_of(validate->query, meter->arranged.number);
    meter->serial = serial_of(validate, meter->arranged.number);
    meter->day = meter->counted = day_check_empty;
    meter->spike.percent = validate->checks.spike_percent;
    meter->spike.floor_w = meter->facts.rated_w * validate->checks.spike_floor_percent / 100;
    set_sun(validate, meter);
    for (int32_t c = 0; c < CHECK_COUNTERS; c++)
        meter->cursor[c] = -1;
    begin_s = least(begin_s, validate->to_s);
    time_check_init(&meter->time, begin_s > validate->from_s ? begin_s : validate->from_s, validate->now_s);
}

static void read_undated(struct validate *validate)
{
    struct setting_row row;
    query_settings(validate->query);
    while (query_next_setting(validate->query, &row))
        if (row.from_ms == UNKNOWN && row.interval_s > 0 && validate->undated_count < UNDATED_LENGTHS)
            validate->undated[validate->undated_count++] = row.interval_s;
}

/* Every meter that some setting of the span has, as the newest of them has it. */
static void begin_meters(struct validate *validate)
{
    int32_t setting;
    memset(validate->index, -1, sizeof(validate->index));
    query_setting_text(validate->query, validate->to_s, &setting);
    for (int32_t a = 0; a < validate->history.count; a++) {
        const struct arrangement *arrangement = &validate->history.arrangements[a];
        for (int32_t m = 0; arrangement->to_s > validate->from_s && m < arrangement->meter_count; m++)
            add_meter(validate, &arrangement->meters[m], setting);
    }
    for (int32_t i = 0; i < validate->meter_count; i++)
        begin_meter(validate, &validate->meters[i]);
}

static void take_block(struct validate_meter *meter, const struct block *block)
{
    spike_check_block(&meter->spike, block);
    if (is_solar(meter) && block_whole(block))
        sun_check_block(&meter->sun, meter->tallies, block);
}

static void count_shares(struct shares *shares, const struct interval_row *row)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    int64_t energy = 0;
    if (row->import != UNKNOWN)
        energy += llabs(row->import);
    if (row->export != UNKNOWN)
        energy += llabs(row->export);
    shares->rows++;
    shares->energy += energy;
    shares->unobserved_s += row->unobserved;
    *(method == HOW_INTERPOLATED ? &shares->interpolated : &shares->estimated) += row->estimated;
    if (method == HOW_ENTERED || method == HOW_ENTERED_ENERGY)
        shares->entered += energy;
    if (row->how & HOW_CORRECTED)
        shares->corrected += energy;
    shares->stepped += (row->how & HOW_CLOCK) != 0;
    shares->back_dated += (row->how & HOW_BACK_DATED) != 0;
    shares->re_dated += (row->how & HOW_RE_DATED) != 0;
}

static void note_clock(struct validate_meter *meter, const struct interval_row *row)
{
    struct finding finding = finding_at(row->start_s);
    if (row->how & (HOW_CLOCK | HOW_BACK_DATED | HOW_RE_DATED))
        tally_note(&meter->tallies[ITEM_CLOCK], ITEM_CLOCK, &finding, 1);
    else
        tally_pass(&meter->tallies[ITEM_CLOCK], 1);
}

static int64_t grid_end(int64_t start_s, int32_t interval_s)
{
    return start_s - start_s % interval_s + interval_s;
}

/* The length of a row that the meter goes on from at next_s. A row of a span that nobody watched may be
 * older than the setting whose length it has: it was made when the meter was heard again. A setting
 * may have no date at all. */
static int32_t length_of(struct validate *validate, int64_t start_s, int64_t next_s)
{
    const struct history *history = &validate->history;
    const struct arrangement *own = history_at(history, start_s, &validate->hint);
    int32_t any = 0;
    for (const struct arrangement *later = own; later < history->arrangements + history->count; later++) {
        if (grid_end(start_s, later->interval_s) != next_s)
            continue;
        if (start_s % later->interval_s == 0)
            return later->interval_s;
        any = any ? any : later->interval_s; /* the first after a change may begin off its grid */
    }
    for (int32_t i = 0; i < validate->undated_count; i++)
        if (grid_end(start_s, validate->undated[i]) == next_s &&
            (!any || start_s % validate->undated[i] == 0))
            return validate->undated[i];
    return any ? any : own->interval_s;
}

/* The row that is held, for which the meter goes on at next_s. */
static void give_row(struct validate *validate, struct validate_meter *meter, int64_t next_s)
{
    const struct interval_row *row = &meter->held, *counted = &meter->held_counted;
    const int64_t energy[2] = { counted->import, counted->export }, kept[2] = { row->import, row->export };
    bool measured = row->estimated == 0 && !(row->how & (HOW_CLOCK | HOW_RUN_CHANGE));
    struct block done;
    int32_t interval_s = length_of(validate, row->start_s, next_s);
    if (meter->shares.rows == 0 && row->start_s < meter->time.begin_s)
        time_check_init(&meter->time, row->start_s, validate->now_s); /* rows older than any run */
    int64_t end_s = time_check_row(&meter->time, meter->tallies, row->start_s, interval_s);
    if (meter->block.covered_s == 0)
        meter->block.length_s = block_length(validate, interval_s);
    if (block_add(&meter->block, row->start_s, end_s, energy, measured, &done))
        take_block(meter, &done);
    /* An interval in which the clock stepped holds the energy of another time than its own. */
    spike_check_rated(&meter->tallies[ITEM_RATED], row->how & HOW_CLOCK ? 0 : meter->facts.rated_w,
                      meter->step, row->start_s, end_s, energy);
    day_check_add(&meter->day, row);
    day_check_add(&meter->counted, counted);
    note_clock(meter, row);
    count_shares(&meter->shares, counted);
    for (int32_t c = 0; c < 2; c++)
        if (kept[c] != UNKNOWN)
            validate_runs_row(validate, meter, c, row->start_s, kept[c]);
}

static void let_go(struct validate *validate, struct validate_meter *meter, int64_t next_s)
{
    if (meter->holds)
        give_row(validate, meter, next_s);
    meter->holds = false;
}

static void take_row(struct validate *validate, struct validate_meter *meter, const struct interval_row *row,
                     const struct interval_row *counted)
{
    let_go(validate, meter, row->start_s);
    meter->held = *row;
    meter->held_counted = *counted;
    meter->holds = true;
}

static void close_day(struct validate *validate)
{
    for (int32_t i = 0; i < validate->meter_count; i++)
        let_go(validate, &validate->meters[i], validate->next_day_s);
    validate_site_day(validate);
    for (int32_t i = 0; i < validate->meter_count; i++) {
        struct validate_meter *meter = &validate->meters[i];
        struct block done;
        struct day_row closed;
        if (block_end(&meter->block, &done))
            take_block(meter, &done);
        spike_check_day(&meter->spike, &meter->tallies[ITEM_SPIKE]);
        bool is_closed =
            query_meter_day(validate->query, meter->arranged.number, validate->day, false, &closed);
        day_check_end(&meter->day, is_closed ? &closed : NULL, &meter->tallies[ITEM_DAY_SUMS],
                      validate->day_s, validate->next_day_s);
        meter->counted = day_check_empty;
        time_check_day(&meter->time, meter->tallies, validate->day_s, validate->next_day_s);
    }
}

static void next_day(struct validate *validate, int64_t day)
{
    validate->day = day;
    validate->day_s = civil_day_start(validate->civil, day);
    validate->next_day_s = civil_day_start(validate->civil, day + 1);
}

static void read_rows(struct validate *validate)
{
    struct interval_row row, counted;
    next_day(validate, validate->period.from_day);
    query_kept_rows(validate->query, validate->from_s, validate->to_s);
    while (query_next_kept_row(validate->query, &row, &counted)) {
        for (; row.start_s >= validate->next_day_s; next_day(validate, validate->day + 1))
            close_day(validate);
        struct validate_meter *meter = meter_of(validate, row.meter);
        validate->rows++;
        if (!meter)
            continue;
        take_row(validate, meter, &row, &counted);
        validate_site_row(validate, &counted);
    }
    for (int32_t i = 0; i < validate->meter_count; i++)
        let_go(validate, &validate->meters[i], validate->next_day_s);
    /* What is left of days that are over. */
    while (validate->day < validate->period.to_day && validate->next_day_s <= validate->now_s) {
        close_day(validate);
        next_day(validate, validate->day + 1);
    }
}

static void read_others(struct validate *validate)
{
    struct other_row row;
    query_other_rows(validate->query, validate->from_s, validate->to_s);
    while (query_next_other_row(validate->query, &row)) {
        struct validate_meter *meter = meter_of(validate, row.meter);
        for (int32_t c = 2; meter && c < CHECK_COUNTERS; c++)
            if (row.energy[c] != UNKNOWN)
                validate_runs_row(validate, meter, c, row.start_s, row.energy[c]);
    }
}

static void end_meter(struct validate *validate, struct validate_meter *meter)
{
    int64_t end_s = least(validate->to_s, validate->now_s - validate->now_s % LONGEST_INTERVAL_S);
    int64_t after_s = meter->time.end_s > end_s ? meter->time.end_s : end_s;
    bool goes_on =
        meter->time.end_s < end_s && query_goes_on(validate->query, meter->arranged.number, after_s);
    time_check_end(&meter->time, meter->tallies, validate->to_s, goes_on);
}

bool validate_run(struct validate *validate)
{
    validate->from_s = civil_day_start(validate->civil, validate->period.from_day);
    validate->to_s = civil_day_start(validate->civil, validate->period.to_day);
    if (history_read(&validate->history, validate->query, validate->from_s - REFERENCE_S, validate->to_s) !=
        0)
        return false;
    begin_meters(validate);
    if (!validate_runs_read(validate)) {
        validate->memory_out = true;
        return false;
    }
    read_undated(validate);
    validate_site_begin(validate);
    read_rows(validate);
    read_others(validate);
    for (int32_t i = 0; i < validate->meter_count; i++)
        end_meter(validate, &validate->meters[i]);
    validate_runs_end(validate);
    validate_site_end(validate);
    validate_seen(validate);
    return !query_error(validate->query) && !validate->memory_out;
}

void validate_free(struct validate *validate)
{
    history_free(&validate->history);
    free(validate->runs);
    free(validate->run_checks);
}
