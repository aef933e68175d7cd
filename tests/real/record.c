#include "record.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SAMPLE_HOMES = 3 };

static const char *const counter_names[2] = { "import", "export" };

int64_t environment(const char *name, int64_t otherwise)
{
    const char *text = getenv(name);
    return text ? strtoll(text, NULL, 10) : otherwise;
}

static sqlite3_stmt *prepare(struct record *record, const char *sql)
{
    sqlite3_stmt *s;
    if (sqlite3_prepare_v2(record->db, sql, -1, &s, NULL) == SQLITE_OK)
        return s;
    printf("%s: %s\n", sql, sqlite3_errmsg(record->db));
    abort();
}

void record_open(struct record *record, const char *path)
{
    if (sqlite3_open_v2(path, &record->db, SQLITE_OPEN_READWRITE, NULL) != SQLITE_OK)
        abort();
    record->row = prepare(record, "SELECT import, export FROM interval WHERE id = ?1 * 1024 + ?2");
}

void record_close(struct record *record)
{
    sqlite3_finalize(record->row);
    sqlite3_close(record->db);
}

int64_t record_ask(struct record *record, const char *sql, int meter, int counter)
{
    sqlite3_stmt *s = prepare(record, sql);
    if (sqlite3_bind_parameter_count(s) > 0)
        sqlite3_bind_int(s, 1, meter + 1);
    if (sqlite3_bind_parameter_count(s) > 1)
        sqlite3_bind_int(s, 2, counter);
    if (sqlite3_step(s) != SQLITE_ROW)
        abort();
    int64_t value = sqlite3_column_int64(s, 0);
    sqlite3_finalize(s);
    return value;
}

bool record_check(const struct dataset *series, int meter, int counter, const struct record_total *total,
                  bool print)
{
    int64_t unit = series->info.unit_mwh, first = series->value[meter][counter][0] / unit,
            last = series->value[meter][counter][series->count - 1] / unit;
    bool good = total->runs == 1 && total->first / unit == first && total->last / unit == last;
    if (print || !good)
        printf("%-22s %s.%s: data %lld to %lld (%g Wh), record %lld to %lld%s\n", series->name,
               series->info.meters[meter].name, counter_names[counter], (long long)first, (long long)last,
               (double)unit / 1000, (long long)(total->first / unit), (long long)(total->last / unit),
               good ? "" : ": OFF");
    return good;
}

static int64_t stored_row(void *self, int meter, int counter, int64_t start_s)
{
    struct record *record = self;
    sqlite3_reset(record->row);
    sqlite3_bind_int64(record->row, 1, start_s);
    sqlite3_bind_int(record->row, 2, meter + 1);
    if (sqlite3_step(record->row) == SQLITE_ROW)
        return sqlite3_column_int64(record->row, counter);
    printf("meter %d has no row at %lld\n", meter + 1, (long long)start_s);
    abort();
}

void record_score(struct record *record, const struct dataset *series, const struct cut cuts[], int count,
                  struct scores *scores)
{
    for (int i = 0; i < count; i++)
        for (int m = 0; m < SERIES_METERS; m++)
            for (int c = 0; c < 2; c++)
                if (series->value[m][c])
                    score_cut(&scores->of[m][c][cuts[i].length], series, m, c, &cuts[i], stored_row, record);
}

void scores_add(struct scores *sum, const struct scores *scores)
{
    for (int i = 0; i < SERIES_METERS * 2 * KNIFE_LENGTHS; i++) {
        struct score *to = &sum->of[0][0][0] + i;
        const struct score *from = &scores->of[0][0][0] + i;
        to->cuts += from->cuts;
        to->energy += from->energy;
        to->ours += from->ours;
        to->plain += from->plain;
    }
}

static bool print_scores(const struct dataset *series, const char *name, const struct scores *scores,
                         int32_t judged_h)
{
    char counter[64];
    bool good = true;
    for (int m = 0; m < SERIES_METERS; m++)
        for (int c = 0; c < 2; c++) {
            if (!series->value[m][c])
                continue;
            snprintf(counter, sizeof counter, "%s.%s", series->info.meters[m].name, counter_names[c]);
            good = score_print(name, counter, scores->of[m][c], judged_h) && good;
        }
    return good;
}

bool scores_print(const struct dataset *series, const struct scores *scores)
{
    return print_scores(series, series->name, scores, series_judged_h(series));
}

/* One dataset, or one home of it; adds to the homes' scores. */
static bool run_one(const struct series_info *info, int home, bool last,
                    bool (*run)(const struct dataset *series, struct scores *scores), struct scores *homes,
                    int *found)
{
    struct dataset series;
    struct scores scores = { 0 };
    if (!series_open(&series, info, home))
        return true;
    bool good = run(&series, &scores);
    good = scores_print(&series, &scores) && good;
    if (home)
        scores_add(homes, &scores);
    if (home && last)
        good = print_scores(&series, "homes together", homes, 6) && good;
    if (last)
        printf("  %s: %s; intervals of %d s\n", info->file, info->from, (int)info->interval_s);
    series_close(&series);
    ++*found;
    return good;
}

bool series_each(bool (*run)(const struct dataset *series, struct scores *scores), int *found)
{
    const char *only = getenv("METERBOOK_REAL_SERIES");
    struct scores homes = { 0 };
    bool good = true;
    *found = 0;
    printf("seed %lld; mean absolute error of an interval's energy in %% of the mean, ours / plain (cuts)\n",
           (long long)environment("METERBOOK_REAL_SEED", 1));
    for (const struct series_info *info = series_list; info->title; info++) {
        bool many = strcmp(info->title, "home") == 0;
        int count = !many ? 1 : getenv("METERBOOK_REAL_RUNS") ? SERIES_HOMES : SAMPLE_HOMES;
        if (only && !strstr(only, info->title))
            continue;
        for (int i = 1; i <= count; i++)
            good = run_one(info, many ? i : 0, i == count, run, &homes, found) && good;
    }
    for (int i = 0; series_left_out[i]; i++)
        printf("left out: %s\n", series_left_out[i]);
    return good;
}
