/* An inverter that sleeps is no gap: its rows are measured zeros, on time, so
 * that days close at midnight. What its counter shows in the morning falls
 * after them. */
#include "collect_state.h"
#include "schema.h"
#include "sun.h"

/* Asleep by dusk: the last answer came with the sun lower than this. */
#define DUSK_DEGREES 6.0

static bool may_sleep(const struct meter *meter)
{
    const struct series *series = &meter->series[SERIES_ACTIVE];
    enum meter_role role = meter->config->role;
    return (role == ROLE_PRODUCTION || role == ROLE_PART) && series->book.open && series->mask != 0 &&
           series->check.held_count == 0;
}

/* Not one that begins to answer: what it counted since the record's last row is not read yet. */
static bool fell_silent(const struct collect *collect, const struct series *series)
{
    return series->heard && outbox_now_ms(collect) - series->last_ms > series->check.gap_ms;
}

/* The sun goes down, and is low already: an inverter may be asleep by now. */
static bool dusk(const struct sun_place *place, int64_t from_ms, int64_t to_ms)
{
    double before = sun_position(place, from_ms).elevation, after = sun_position(place, to_ms).elevation;
    return before < DUSK_DEGREES && after < before;
}

/* Rows of one night, up to the last boundary that is past by more than a
 * reading may be late. A day that the meter was silent through is a gap. */
static void sleep_on(struct collect *collect, struct meter *meter, const struct sun_place *place,
                     int64_t utc_ms)
{
    struct book *book = &meter->series[SERIES_ACTIVE].book;
    int64_t late_ms = meter->series[SERIES_ACTIVE].check.gap_ms + 10000;
    while (book_due_ms(book) + late_ms <= utc_ms && collect->outbox.row_count + 2 < OUTBOX_ROWS) {
        int64_t end_ms = book_due_ms(book);
        uint16_t asleep =
            book->to_ms == book->frontier_ms ? HOW_ASLEEP : 0; /* else its beginning was measured */
        bool asleep_all = sun_asleep(place, book->to_ms, end_ms);
        if (!asleep_all && !dusk(place, book->to_ms, end_ms))
            return;
        if (!asleep_all)
            book_unobserved(book, end_ms - book->to_ms);
        posting_point(collect, meter, SERIES_ACTIVE, end_ms, book->to, false, asleep);
        if (book->frontier_ms < end_ms)
            return; /* the disk refuses */
    }
}

void sleeping_turn(struct collect *collect)
{
    struct sun_place place = { collect->config->site.latitude, collect->config->site.longitude };
    if (!collect->date.trusted)
        return;
    int64_t utc_ms = date_utc_ms(&collect->date, outbox_now_ms(collect));
    for (int32_t i = 0; i < collect->config->meter_count; i++) {
        struct meter *meter = &collect->meters[i];
        const struct series *series = &meter->series[SERIES_ACTIVE];
        if (!may_sleep(meter) || !fell_silent(collect, series) ||
            book_due_ms(&series->book) + series->check.gap_ms + 10000 > utc_ms)
            continue;
        if (sun_position(&place, utc_ms).elevation < -1)
            sleep_on(collect, meter, &place, utc_ms);
    }
}
