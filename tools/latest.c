/* The pure part of `now`: what the collector's file says, and sums of it. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "present.h"

enum {
    STALE_POLLS = 5,        /* poll periods after which a reading is old */
    STALE_LEAST_MS = 10000, /* but never before this */
};

const char *present_state_name(enum meter_state state)
{
    static const char *const names[] = {
        [STATE_FRESH] = "ok",        [STATE_OLD] = "old",           [STATE_LOST] = "lost",
        [STATE_WAITING] = "waiting", [STATE_RECORDED] = "recorded",
    };
    return names[state];
}

int64_t present_stale_ms(const struct present *present)
{
    int64_t some = (int64_t)STALE_POLLS * present->site.poll_ms;
    return some > STALE_LEAST_MS ? some : STALE_LEAST_MS;
}

struct present_meter *present_find(struct present *present, int32_t number)
{
    for (int32_t i = 0; i < present->meter_count; i++)
        if (present->meters[i].number == number)
            return &present->meters[i];
    return NULL;
}

/* Next word of a line, ended in place; "" past the end. */
static char *next_word(char **line)
{
    char *word = *line + strspn(*line, " ");
    char *end = word + strcspn(word, " ");
    *line = *end ? end + 1 : end;
    *end = '\0';
    return word;
}

/* No meter's value is beyond this, and all of them still add up. */
static const long long most_number = 100000000000000000;

/* A number, or "-" for UNKNOWN; false for anything else. */
static bool read_number(char **line, int64_t *value)
{
    char *word = next_word(line), *end;
    if (strcmp(word, "-") == 0) {
        *value = UNKNOWN;
        return true;
    }
    errno = 0;
    long long number = strtoll(word, &end, 10);
    *value = number;
    return *word && !*end && errno == 0 && number >= -most_number && number <= most_number;
}

static bool read_state(const char *word, enum meter_state *state)
{
    static const struct {
        const char *word;
        enum meter_state state;
    } table[] = { { "ok", STATE_FRESH }, { "lost", STATE_LOST }, { "waiting", STATE_WAITING } };
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++) {
        if (strcmp(table[i].word, word) == 0) {
            *state = table[i].state;
            return true;
        }
    }
    return false;
}

static bool read_meter(struct present *present, char *line)
{
    struct present_meter read = { 0 };
    int64_t number, import, export;
    if (!read_number(&line, &number) || !read_state(next_word(&line), &read.state) ||
        !read_number(&line, &read.at_ms) || !read_number(&line, &read.power) ||
        !read_number(&line, &read.voltage) || !read_number(&line, &import) || !read_number(&line, &export) ||
        !read_number(&line, &read.today_import) || !read_number(&line, &read.today_export))
        return false;
    struct present_meter *meter =
        number > 0 && number <= METER_DERIVED ? present_find(present, (int32_t)number) : NULL;
    if (!meter)
        return true; /* configured since the record's newest settings: shown next time */
    if (read.state == STATE_FRESH &&
        (read.at_ms == UNKNOWN || present->now_ms - read.at_ms > present_stale_ms(present)))
        read.state = STATE_OLD;
    meter->state = read.state;
    meter->at_ms = read.at_ms;
    meter->power = read.power;
    meter->voltage = read.voltage;
    meter->today_import = read.today_import;
    meter->today_export = read.today_export;
    return true;
}

static bool read_bus(struct present *present, char *line)
{
    int64_t index;
    if (!read_number(&line, &index))
        return false;
    if (present->bus_count == CONFIG_MAX_BUSES)
        return true;
    struct present_bus *bus = &present->buses[present->bus_count++];
    snprintf(bus->state, sizeof(bus->state), "%s", next_word(&line));
    snprintf(bus->name, sizeof(bus->name), "%s", line);
    return true;
}

static bool read_first(struct present *present, char *line)
{
    int64_t version, synchronised;
    if (strcmp(next_word(&line), "meterbook-latest") != 0 || !read_number(&line, &version) || version != 1)
        return false;
    next_word(&line); /* boot id */
    return read_number(&line, &present->at_ms) && present->at_ms != UNKNOWN &&
           read_number(&line, &synchronised);
}

bool present_unwrap(char *text)
{
    static const char word[] = "sequence ";
    size_t length = strlen(text), first = strcspn(text, "\n") + 1;
    if (strncmp(text, word, sizeof word - 1) != 0)
        return true; /* nothing around it */
    bool whole = length >= 2 * first && memcmp(text, text + length - first, first) == 0 &&
                 strtoull(text + sizeof word - 1, NULL, 10) != 0;
    size_t inside = whole ? length - 2 * first : 0;
    memmove(text, text + first, inside);
    text[inside] = '\0';
    return whole;
}

bool present_read(struct present *present, char *text)
{
    bool first = true;
    while (*text) {
        char *line = text;
        text += strcspn(text, "\n");
        if (*text)
            *text++ = '\0';
        bool read = first                           ? read_first(present, line)
                    : strncmp(line, "bus ", 4) == 0 ? read_bus(present, line + 4)
                                                    : read_meter(present, line);
        if (!read)
            return false;
        first = false;
    }
    return !first;
}

/* Power that a meter delivers to the site; imports count as positive powers. */
static int64_t delivered(const struct arranged_meter *meter, int64_t power)
{
    if (power == UNKNOWN || meter->use == USE_GRID || meter->use == USE_CONSUMPTION)
        return power;
    return meter->delivers_by_export ? -power : power;
}

/* Sum over the meters of one use; UNKNOWN where one is not fresh or there is none. */
static int64_t sum_power(const struct present *present, enum use use)
{
    int64_t sum = 0;
    if (!present->arrangement.count[use])
        return UNKNOWN;
    for (int32_t i = 0; i < present->meter_count; i++) {
        if (present->arrangement.meters[i].use != use)
            continue;
        int64_t power = delivered(&present->arrangement.meters[i], present->meters[i].power);
        if (power == UNKNOWN || present->meters[i].state != STATE_FRESH)
            return UNKNOWN;
        sum += power;
    }
    return sum;
}

void present_add_up(struct present *present)
{
    const int32_t *count = present->arrangement.count;
    int64_t made = sum_power(present, USE_PRODUCTION), sold = sum_power(present, USE_GROSS);
    int64_t storage = sum_power(present, USE_STORAGE), generated = sum_power(present, USE_GENERATOR);
    int64_t metered = sum_power(present, USE_CONSUMPTION);
    int64_t grid = present->arrangement.derived ? UNKNOWN : sum_power(present, USE_GRID);
    bool made_known = made != UNKNOWN || !count[USE_PRODUCTION];
    bool sold_known = sold != UNKNOWN || !count[USE_GROSS];
    bool rest_known =
        (storage != UNKNOWN || !count[USE_STORAGE]) && (generated != UNKNOWN || !count[USE_GENERATOR]);
    int64_t behind = (made == UNKNOWN ? 0 : made) + (storage == UNKNOWN ? 0 : storage) +
                     (generated == UNKNOWN ? 0 : generated);

    present->production = made_known && sold_known ? number_sum(made, sold) : UNKNOWN;
    present->consumption = metered;
    if (count[USE_GRID] && !present->arrangement.derived) {
        bool known =
            grid != UNKNOWN && made_known && rest_known && count[USE_PRODUCTION] + count[USE_GROSS] > 0;
        present->consumption = known ? grid + behind : UNKNOWN;
    } else if (metered != UNKNOWN && made_known && rest_known &&
               count[USE_PRODUCTION] + count[USE_GROSS] > 0) {
        grid = metered - behind;
    }
    /* what is sold whole leaves through the grid, beside the house meter */
    present->grid = grid == UNKNOWN || !sold_known ? UNKNOWN : grid - (sold == UNKNOWN ? 0 : sold);
}
