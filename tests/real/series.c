#include "series.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "civil.h"
#include "muldiv.h"

const int32_t knife_hours[KNIFE_LENGTHS] = { 1, 6, 24, 72 };

/* ---- reading ---- */

static FILE *open_data(const char *name)
{
    const char *shared = getenv("METERBOOK_SHARED");
    char path[512], command[600];
    snprintf(path, sizeof path, "%s/data/%s", shared ? shared : "../shared", name);
    if (access(path, R_OK) != 0) {
        printf("skipped: %s: no '%s' here\n", name, path);
        return NULL;
    }
    snprintf(command, sizeof command, strstr(name, ".gz") ? "zcat '%s'" : "cat '%s'", path);
    return popen(command, "r");
}

/* "2016-08-01T00:00:00", with Z or an offset left out, by the zone's clock; seconds since 1970 as they are.
 */
static int64_t stamp(const struct dataset *series, const char *text)
{
    int year, month, day, hour, minute, second, used = 0;
    if (sscanf(text, "%d-%d-%dT%d:%d:%d%n", &year, &month, &day, &hour, &minute, &second, &used) < 6)
        return strtoll(text, NULL, 10);
    int64_t local = civil_day_number(year, month, day) * 86400 + hour * 3600 + minute * 60 + second;
    if (text[used] == 'Z')
        return local;
    int64_t utc = local - civil_offset(series->civil, local);
    return local - civil_offset(series->civil, utc);
}

static int split(char *line, char *fields[SERIES_FIELDS])
{
    int count = 0;
    for (char *rest = line; count < SERIES_FIELDS && (fields[count] = strsep(&rest, ",\r\n")); count++)
        ;
    return count;
}

static void *grown(void *array, size_t size)
{
    void *larger = realloc(array, size);
    if (!larger)
        abort();
    return larger;
}

static void make_room(struct dataset *series)
{
    if (series->count & (series->count - 1))
        return;
    size_t room = series->count ? 2 * (size_t)series->count : 1;
    series->at_s = grown(series->at_s, room * sizeof *series->at_s);
    series->unknown = grown(series->unknown, room * sizeof *series->unknown);
    for (int i = 0; i < 4 && series->info.columns[i].meter > 0; i++) {
        const struct series_column *column = &series->info.columns[i];
        int64_t **value = &series->value[column->meter - 1][column->counter];
        *value = grown(*value, room * sizeof **value);
    }
}

/* The register at a new stamp, before what its row says; the same stamp again is one with it. */
static int32_t add_stamp(struct dataset *series, int64_t at_s, double work[4])
{
    int32_t at = series->count - 1;
    if (series->count == 0 || at_s > series->at_s[at]) {
        make_room(series);
        at = series->count++;
        series->at_s[at] = at_s;
    }
    series->unknown[at] = false;
    for (int i = 0; i < 4 && series->info.columns[i].meter > 0; i++) {
        const struct series_column *column = &series->info.columns[i];
        series->value[column->meter - 1][column->counter][at] = llround(work[i]);
    }
    return at;
}

static void read_line(struct dataset *series, char *line, double work[4], double held[4])
{
    char *fields[SERIES_FIELDS];
    int count = split(line, fields);
    const struct series_info *info = &series->info;
    int64_t at_s = stamp(series, fields[0]);
    double past = series->count > 0 ? (double)(at_s - series->at_s[series->count - 1]) : 0;
    for (int i = 0; i < 4 && info->kind == SERIES_HELD; i++)
        work[i] += held[i] * past / 3600;
    if (info->kind == SERIES_COUNTERS)
        for (int i = 0; i < 4 && info->columns[i].meter > 0; i++)
            work[i] = strtod(fields[info->columns[i].field], NULL) * info->columns[i].scale;
    if (info->step_s > 0 && past > 1.5 * info->step_s)
        series->unknown[series->count - 1] = true;
    int32_t at = add_stamp(series, at_s, work);
    for (int i = 0; i < 4 && info->columns[i].meter > 0 && info->kind != SERIES_COUNTERS; i++) {
        const struct series_column *column = &info->columns[i];
        bool empty = column->field >= count || fields[column->field][0] == '\0';
        double value = empty ? 0 : strtod(fields[column->field], NULL) * column->scale;
        series->unknown[at] = series->unknown[at] || empty;
        held[i] = value > 0 ? value : 0; /* an inverter that draws makes nothing */
        if (info->kind == SERIES_ROWS)
            work[i] += held[i];
    }
}

bool series_open(struct dataset *series, const struct series_info *info, int home)
{
    char line[2048];
    double work[4] = { 0 }, held[4] = { 0 };
    *series = (struct dataset){ .info = *info };
    FILE *file = open_data(info->file);
    if (!file)
        return false;
    snprintf(series->name, sizeof series->name, home ? "%s %02d" : "%s", info->title, home);
    for (int i = 0; i < 4 && home; i++)
        series->info.columns[i].field += home - 1;
    series->civil = civil_open(info->zone);
    if (!series->civil || !fgets(line, sizeof line, file))
        abort();
    while (fgets(line, sizeof line, file))
        read_line(series, line, work, held);
    pclose(file);
    if (info->kind == SERIES_ROWS)
        add_stamp(series, series->at_s[series->count - 1] + info->step_s, work);
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++)
            if (series->value[m][c])
                series->total[m][c] = series->value[m][c][series->count - 1] - series->value[m][c][0];
    return true;
}

void series_close(struct dataset *series)
{
    free(series->at_s);
    free(series->unknown);
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++)
            free(series->value[m][c]);
    civil_close(series->civil);
    *series = (struct dataset){ 0 };
}

/* The last stamp that is not later. */
static int32_t find(const struct dataset *series, int64_t at_s)
{
    int32_t low = 0, high = series->count;
    while (low + 1 < high) {
        int32_t middle = low + (high - low) / 2;
        if (series->at_s[middle] <= at_s)
            low = middle;
        else
            high = middle;
    }
    return low;
}

int64_t series_value(const struct dataset *series, int meter, int counter, int64_t at_s)
{
    return series->value[meter][counter][find(series, at_s)];
}

bool series_knows(const struct dataset *series, int64_t from_s, int64_t to_s)
{
    for (int32_t i = find(series, from_s); i < series->count && series->at_s[i] <= to_s; i++)
        if (series->unknown[i] && series->at_s[i] != to_s)
            return false;
    return true;
}

/* ---- the knife ---- */

static int64_t below(uint64_t *state, int64_t bound)
{
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (int64_t)((*state >> 33) % (uint64_t)bound);
}

int knife_cut(const struct dataset *series, uint64_t seed, int64_t grid_s, struct cut cuts[KNIFE_MOST])
{
    uint64_t state = seed * 2654435761U + 12345;
    int64_t at_s = series->at_s[0] + series->info.history_d * INT64_C(86400);
    int64_t end_s = series->at_s[series->count - 1] - 7200;
    int count = 0, length = (int)below(&state, KNIFE_LENGTHS);
    while (count < KNIFE_MOST) {
        do
            length = (length + 1) % KNIFE_LENGTHS;
        while (knife_hours[length] > series->info.longest_h);
        int64_t from_s = at_s + below(&state, 86400), to_s;
        from_s -= from_s % grid_s;
        to_s = from_s + knife_hours[length] * INT64_C(3600);
        if (to_s > end_s)
            break;
        cuts[count++] = (struct cut){ from_s, to_s, length };
        at_s = to_s + (series->info.history_d > 7 ? 3 : 0) * INT64_C(86400) + below(&state, 86400);
    }
    return count;
}

static int64_t plain_at(const struct dataset *series, int meter, int counter, const struct cut *cut,
                        int64_t at_s)
{
    if (at_s <= cut->from_s || at_s >= cut->to_s)
        return series_value(series, meter, counter, at_s);
    int64_t from = series_value(series, meter, counter, cut->from_s);
    int64_t to = series_value(series, meter, counter, cut->to_s);
    return from + mul_div(to - from, at_s - cut->from_s, cut->to_s - cut->from_s);
}

void score_cut(struct score *score, const struct dataset *series, int meter, int counter,
               const struct cut *cut, int64_t (*row)(void *self, int meter, int counter, int64_t start_s),
               void *self)
{
    int64_t length_s = series->info.interval_s, first_s = cut->from_s - cut->from_s % length_s;
    if (first_s < series->at_s[0] || cut->to_s + length_s > series->at_s[series->count - 1] ||
        !series_knows(series, first_s, cut->to_s + length_s))
        return;
    score->cuts++;
    for (int64_t at_s = first_s; at_s < cut->to_s; at_s += length_s) {
        int64_t truth = series_value(series, meter, counter, at_s + length_s) -
                        series_value(series, meter, counter, at_s);
        int64_t plain = plain_at(series, meter, counter, cut, at_s + length_s) -
                        plain_at(series, meter, counter, cut, at_s);
        score->energy += (double)truth;
        score->plain += (double)llabs(plain - truth);
        score->ours += (double)llabs(row(self, meter, counter, at_s) - truth);
    }
}

bool score_print(const char *name, const char *counter, const struct score scores[KNIFE_LENGTHS],
                 int32_t judged_h)
{
    bool good = true;
    printf("%-22s %-16s", name, counter);
    for (int i = 0; i < KNIFE_LENGTHS; i++) {
        const struct score *score = &scores[i];
        /* from ten cuts on: one is chance */
        bool worse = score->cuts >= 10 && judged_h > 0 && knife_hours[i] >= judged_h && score->energy > 0 &&
                     score->ours >= score->plain;
        if (score->energy > 0)
            printf("  %5.1f /%6.1f (%2d)%s", 100 * score->ours / score->energy,
                   100 * score->plain / score->energy, (int)score->cuts, worse ? "!" : " ");
        else
            printf("  %18s ", "-");
        good = good && !worse;
    }
    puts(judged_h ? "" : "  not judged");
    return good;
}

int32_t series_judged_h(const struct dataset *series)
{
    return !series->info.judged ? 0 : series->info.interval_s == 3600 ? 24 : 6;
}
