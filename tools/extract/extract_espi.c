/* Interval data as NAESB REQ.21 has them: for each meter and direction a block a day. */
#include <stdlib.h>

#include "espi.h"
#include "extract.h"
#include "extract_rows.h"
#include "schema.h"

enum { MOST_SERIES = 512 };

struct work {
    struct extract *extract;
    struct extract_rows rows;
    struct espi_feed feed;
    FILE *out;
    int32_t series_count;
    struct espi_series series[MOST_SERIES]; /* that were announced */
};

static const struct espi_series *find(const struct work *work, int32_t meter, enum espi_flow flow,
                                      int32_t interval_s)
{
    for (int32_t i = 0; i < work->series_count; i++) {
        const struct espi_series *series = &work->series[i];
        if (series->meter == meter && (!flow || series->flow == flow) &&
            (!interval_s || series->interval_s == interval_s))
            return series;
    }
    return NULL;
}

/* Announces a series, and its meter before the first of them. NULL where there are too many. */
static const struct espi_series *announce(struct work *work, const struct extract_row *row,
                                          enum espi_flow flow)
{
    int32_t meter = row->wide.meter;
    const struct espi_series *known = find(work, meter, flow, row->interval_s);
    if (known || work->series_count == MOST_SERIES)
        return known;
    const struct arranged_meter *arranged = extract_rows_meter(&work->rows, meter, row->wide.start_s);
    const char *name = arranged ? arranged->name : "meter",
               *role = arranged ? role_name(arranged->role) : "unknown";
    bool first = !find(work, meter, (enum espi_flow)0, 0);
    struct espi_series *series = &work->series[work->series_count++];
    *series = (struct espi_series){ meter, flow, name, role, row->interval_s };
    if (first)
        espi_usage_point(work->out, &work->feed, meter, name, role);
    espi_series(work->out, &work->feed, series);
    return series;
}

static void add_quality(struct espi_reading *reading, enum espi_quality quality)
{
    if (reading->quality_count < ESPI_MOST_QUALITIES)
        reading->quality[reading->quality_count++] = quality;
}

/* How the value was found; nothing is said of what was measured. */
static void judge(struct espi_reading *reading, const struct wide_row *row)
{
    int32_t method = row->how & HOW_METHOD_MASK;
    int64_t whole = 0;
    for (int32_t c = 0; c < 2; c++)
        if (row->values[c] != UNKNOWN)
            whole += row->values[c] < 0 ? -row->values[c] : row->values[c];
    if (row->estimated > 0 && row->estimated < whole)
        add_quality(reading, ESPI_MIXED);
    else if (row->estimated > 0)
        add_quality(reading, method == HOW_INTERPOLATED ? ESPI_INTERPOLATED : ESPI_BY_REFERENCE);
    if (method == HOW_ENTERED || method == HOW_ENTERED_ENERGY)
        add_quality(reading, ESPI_OTHER);
    if (row->how & HOW_CORRECTED)
        add_quality(reading, ESPI_EDITED);
    if (row->how & (HOW_CLOCK | HOW_RUN_CHANGE))
        add_quality(reading, ESPI_QUESTIONABLE);
    if (row->meter == METER_DERIVED)
        add_quality(reading, ESPI_DERIVED);
}

/* Index of the next row from `at` on that the counter of a meter has; the count without. */
static int32_t next_of(const struct extract_rows *rows, int32_t at, int32_t meter, int32_t counter)
{
    while (at < rows->count &&
           (rows->rows[at].wide.meter != meter || rows->rows[at].wide.values[counter] == UNKNOWN))
        at++;
    return at;
}

/* One block from a row on, as long as the intervals have the same length. Returns where it ends. */
static int32_t write_block(struct work *work, int32_t first, int32_t counter)
{
    const struct extract_rows *rows = &work->rows;
    const struct extract_row *row = &rows->rows[first];
    const struct espi_series *series = announce(work, row, counter == 0 ? ESPI_FORWARD : ESPI_REVERSE);
    int32_t meter = row->wide.meter, at = first;
    int64_t start_s = row->wide.start_s, end_s = row->end_s;
    while (at < rows->count && rows->rows[at].interval_s == row->interval_s) {
        end_s = rows->rows[at].end_s;
        at = next_of(rows, at + 1, meter, counter);
    }
    int32_t end = at;
    if (!series)
        return end;
    espi_block_begin(work->out, &work->feed, series, start_s, end_s);
    for (at = first; at < end; at = next_of(rows, at + 1, meter, counter)) {
        const struct wide_row *wide = &rows->rows[at].wide;
        struct espi_reading reading = { .start_s = wide->start_s,
                                        .duration_s = rows->rows[at].end_s - wide->start_s,
                                        .value = wide->values[counter] };
        judge(&reading, wide);
        espi_reading(work->out, &reading);
        extract_count(work->extract, wide);
    }
    espi_block_end(work->out);
    return end;
}

static void write_day(struct work *work)
{
    bool done[METER_DERIVED + 1] = { false };
    const struct extract_rows *rows = &work->rows;
    for (int32_t i = 0; i < rows->count; i++) {
        int32_t meter = rows->rows[i].wide.meter;
        if (done[meter])
            continue;
        done[meter] = true;
        for (int32_t counter = 0; counter < 2; counter++)
            for (int32_t at = next_of(rows, i, meter, counter); at < rows->count;)
                at = next_of(rows, write_block(work, at, counter), meter, counter);
    }
}

bool extract_espi(struct extract *extract, FILE *out)
{
    struct work *work = calloc(1, sizeof(*work));
    if (!work)
        return false;
    *work = (struct work){ .extract = extract, .out = out };
    work->feed = (struct espi_feed){ "interval data", extract->site, extract->now_s };
    work->rows = (struct extract_rows){
        .query = extract->query, .civil = extract->civil, .period = extract->period, .meter = extract->meter
    };
    bool good = extract_rows_begin(&work->rows);
    if (good) {
        struct espi_time time = espi_time_of(extract->civil, extract->to_s - 1);
        espi_begin(out, &work->feed);
        espi_local_time(out, &work->feed, &time);
    }
    while (good && !ferror(out) && extract_rows_day(&work->rows)) {
        write_day(work);
        progress_show(&extract->progress, "extract", work->rows.day - extract->period.from_day,
                      extract->period.to_day - extract->period.from_day);
    }
    good = good && !work->rows.failed;
    if (good)
        espi_end(out);
    extract_rows_free(&work->rows);
    free(work);
    return good;
}
