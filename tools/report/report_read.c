/* What the sections of a page share: bars, hours of the day, best days. */
#include <stdlib.h>
#include <string.h>

#include "report_money.h"
#include "walk.h"

enum {
    MOST_DAYS = 62,
    MOST_MONTHS = 36,
    MONTHS = 12,
    HOUR_S = 3600,
};

static int64_t month_number(int64_t day)
{
    int32_t year, month, number;
    civil_date(day, &year, &month, &number);
    return (int64_t)year * MONTHS + month - 1;
}

static int64_t month_day(int64_t number)
{
    return civil_day_number(number / MONTHS, (int32_t)(number % MONTHS) + 1, 1);
}

/* ---- slots ---- */

static int64_t slot_number(const struct report *report, int64_t day)
{
    switch (report->step) {
    case STEP_MONTH:
        return month_number(day);
    case STEP_YEAR:
        return month_number(day) / MONTHS;
    default:
        return day;
    }
}

static int32_t slot_of(const struct report *report, int64_t at_s)
{
    if (report->step == STEP_HOUR)
        return (int32_t)((at_s - report->inquiry->from_s) / HOUR_S);
    int64_t first = slot_number(report, report->inquiry->period.from_day);
    return (int32_t)(slot_number(report, civil_day_of(report->inquiry->session.civil, at_s)) - first);
}

int64_t report_slot_start(const struct report *report, int32_t slot)
{
    if (report->step == STEP_HOUR)
        return report->inquiry->from_s + (int64_t)slot * HOUR_S;
    int64_t number = slot_number(report, report->inquiry->period.from_day) + slot;
    int64_t day = report->step == STEP_DAY     ? number
                  : report->step == STEP_MONTH ? month_day(number)
                                               : month_day(number * MONTHS);
    return civil_day_start(report->inquiry->session.civil, day);
}

int32_t report_slot_place(const struct report *report, int64_t at_s)
{
    int64_t end_s = report_slot_start(report, report->slot_count);
    at_s = at_s < report_slot_start(report, 0) ? report_slot_start(report, 0) : at_s;
    if (at_s >= end_s)
        return SHARE_ONE / 100;
    int32_t slot = slot_of(report, at_s);
    int64_t from_s = report_slot_start(report, slot), to_s = report_slot_start(report, slot + 1);
    int64_t share = (at_s - from_s) * SHARE_ONE / (to_s - from_s);
    return (int32_t)(((int64_t)slot * SHARE_ONE + share) / 100 / report->slot_count);
}

const char *report_slot_label(const struct report *report, int32_t slot, char buffer[WORDS_SIZE])
{
    const struct civil *civil = report->inquiry->session.civil;
    int64_t start_s = report_slot_start(report, slot);
    int32_t year, month, day;
    civil_date(civil_day_of(civil, start_s), &year, &month, &day);
    if (report->step == STEP_HOUR)
        snprintf(buffer, WORDS_SIZE, "%d", (int)((start_s + civil_offset(civil, start_s)) / HOUR_S % 24));
    else if (report->step == STEP_DAY)
        snprintf(buffer, WORDS_SIZE, "%d", (int)day);
    else if (report->step == STEP_MONTH)
        snprintf(buffer, WORDS_SIZE, "%.3s", words_months[month - 1]);
    else
        snprintf(buffer, WORDS_SIZE, "%04d", (int)year);
    return buffer;
}

const char *report_slot_name(const struct report *report, int32_t slot, char buffer[WORDS_SIZE])
{
    const struct civil *civil = report->inquiry->session.civil;
    const struct period *period = &report->inquiry->period;
    int64_t start_s = report_slot_start(report, slot);
    int64_t first_day = civil_day_of(civil, start_s);
    int32_t year, month, day;
    civil_date(first_day, &year, &month, &day);
    if (report->step == STEP_HOUR)
        snprintf(buffer, WORDS_SIZE, "%02d:00",
                 (int)((start_s + civil_offset(civil, start_s)) / HOUR_S % 24));
    else if (report->step == STEP_DAY)
        snprintf(buffer, WORDS_SIZE, "%d %s", (int)day, words_months[month - 1]);
    else if (report->step == STEP_MONTH &&
             month_number(period->to_day - 1) / MONTHS == month_number(period->from_day) / MONTHS)
        snprintf(buffer, WORDS_SIZE, "%s", words_months[month - 1]);
    else if (report->step == STEP_MONTH)
        snprintf(buffer, WORDS_SIZE, "%s %04d", words_months[month - 1], (int)year);
    else
        snprintf(buffer, WORDS_SIZE, "%04d", (int)year);
    return buffer;
}

/* ---- bars ---- */

static void choose_step(struct report *report)
{
    const struct inquiry *inquiry = report->inquiry;
    int64_t days = inquiry->period.to_day - inquiry->period.from_day;
    int64_t months = month_number(inquiry->period.to_day - 1) - month_number(inquiry->period.from_day) + 1;
    report->step = days <= 1               ? STEP_HOUR
                   : days <= MOST_DAYS     ? STEP_DAY
                   : months <= MOST_MONTHS ? STEP_MONTH
                                           : STEP_YEAR;
    report->slot_count = slot_of(report, inquiry->to_s - 1) + 1;
}

static void bar_join(struct report_bar *bar, const struct answer_row *row)
{
    bar->row.to_s = row->to_s;
    bar->row.span_s += row->span_s;
    bar->row.lost_s += row->lost_s;
    bar->row.flags |= row->flags;
    bar->row.sources |= row->sources;
    bar->row.prorated = number_sum(bar->row.prorated, row->prorated);
    balance_add(&bar->row.balance, &row->balance);
}

static bool bars_add(struct report *report, const struct answer_row *row)
{
    int32_t slot = slot_of(report, row->from_s);
    struct report_bar *last = report->bar_count ? &report->bars[report->bar_count - 1] : NULL;
    if (last && last->slot == slot) {
        bar_join(last, row);
        return true;
    }
    if (!report->bars || report->bar_count == report->bar_room) {
        int32_t room = report->bar_room ? 2 * report->bar_room : 64;
        struct report_bar *bars = realloc(report->bars, (size_t)room * sizeof(*bars));
        if (!bars)
            return false;
        report->bars = bars;
        report->bar_room = room;
    }
    report->bars[report->bar_count++] = (struct report_bar){ slot, *row };
    return true;
}

static bool read_bars(struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    if (report->step != STEP_HOUR) {
        for (int32_t i = 0; i < head->row_count; i++)
            if (!bars_add(report, &head->rows[i]))
                return report_out_of_memory();
        return true;
    }
    struct walk walk;
    bool room = true;
    walk_begin(&walk, report->inquiry, ROW_HOUR);
    for (const struct answer_row *row; room && (row = walk_next(&walk));)
        room = bars_add(report, row);
    return walk_end(&walk) && (room || report_out_of_memory());
}

/* ---- best days ---- */

/* Keeps the day among the `most` or, with sign -1, the least. */
static void rank_day(struct report_day *list, int32_t *count, const struct report_day *day, int32_t sign)
{
    int32_t at = *count;
    while (at > 0 && (day->energy - list[at - 1].energy) * sign > 0)
        at--;
    if (at == REPORT_BEST)
        return;
    *count += *count < REPORT_BEST;
    for (int32_t i = *count - 1; i > at; i--)
        list[i] = list[i - 1];
    list[at] = *day;
}

static void days_add(struct report_days *days, const struct report_day *day)
{
    if (day->energy == UNKNOWN)
        return;
    days->count++;
    rank_day(days->most, &days->most_count, day, 1);
    rank_day(days->least, &days->least_count, day, -1);
}

/* A day that the record saw, but for a twentieth at most. */
static bool is_whole(const struct answer_row *row)
{
    return row->sources == SOURCE_RECORD && row->span_s == row->to_s - row->from_s &&
           row->lost_s <= row->span_s / 20;
}

static bool read_days(struct report *report)
{
    struct walk walk;
    walk_begin(&walk, report->inquiry, ROW_DAY);
    for (const struct answer_row *row; (row = walk_next(&walk));) {
        const struct balance *balance = &row->balance;
        struct report_day day = { .day = civil_day_of(report->inquiry->session.civil, row->from_s) };
        if (!is_whole(row))
            continue;
        day.estimated = balance->estimated != UNKNOWN && balance->estimated != 0;
        day.energy = balance->production;
        days_add(&report->production, &day);
        day.energy = balance->consumption;
        days_add(&report->consumption, &day);
    }
    return walk_end(&walk);
}

static void find_seam(struct report *report)
{
    const struct inquiry *inquiry = report->inquiry;
    for (int64_t at = inquiry->from_s; at < inquiry->to_s && inquiry->sources;) {
        int64_t next = sources_next(inquiry->sources, at);
        if (next < inquiry->to_s && sources_sealed(inquiry->sources, at) &&
            !sources_sealed(inquiry->sources, next)) {
            report->has_seam = true;
            report->seam_s = next;
        }
        at = next;
    }
}

bool report_read(struct report *report, struct inquiry *inquiry, const struct options *options)
{
    report->options = options;
    report->inquiry = inquiry;
    /* where sealed meters may speak, it was read already */
    if (!inquiry->session.logbook && !session_logbook(&inquiry->session))
        return false;
    words_period(report->span, &inquiry->period);
    choose_step(report);
    find_seam(report);
    if (!read_bars(report))
        return false;
    return report_read_flows(report) && (report_is_day(report) || read_days(report)) &&
           report_read_money(report);
}

void report_free(struct report *report)
{
    free(report->bars);
    hours_free(&report->hours);
    report_free_money(report);
}

bool report_is_day(const struct report *report)
{
    return report->step == STEP_HOUR;
}
