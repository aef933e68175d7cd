/* The balance of any span in rows of any length, or what meters of it counted by themselves. */
#include <stdio.h>
#include <string.h>

#include "inquiry.h"
#include "meter_list.h"
#include "span.h"

enum { MOST_HOURS_DAYS = 2, MOST_DAYS = 62, MOST_MONTHS_DAYS = 5 * 366 };

/* Rows that a person can read: hours of two days, days of two months, months of five years. */
static enum row_unit unit_of(const struct options *options, const struct period *period)
{
    static const enum row_unit units[] = {
        [BY_INTERVAL] = ROW_INTERVAL, [BY_HOUR] = ROW_HOUR,   [BY_DAY] = ROW_DAY,
        [BY_WEEK] = ROW_WEEK,         [BY_MONTH] = ROW_MONTH, [BY_YEAR] = ROW_YEAR,
    };
    int64_t days = period->to_day - period->from_day;
    if (options->by != BY_DEFAULT)
        return units[options->by];
    return days <= MOST_HOURS_DAYS    ? ROW_HOUR
           : days <= MOST_DAYS        ? ROW_DAY
           : days <= MOST_MONTHS_DAYS ? ROW_MONTH
                                      : ROW_YEAR;
}

static enum exit_code print(struct inquiry *inquiry, const struct options *options, enum row_unit unit)
{
    struct walk walk;
    inquiry->head.name = "totals";
    if (unit == inquiry->head.unit) {
        span_print(&inquiry->head, NULL, options);
        return EXIT_ANSWERED;
    }
    walk_begin(&walk, inquiry, unit);
    span_print(&inquiry->head, &walk, options);
    return walk_end(&walk) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_totals(const struct options *options, const char *const *arguments)
{
    struct inquiry inquiry;
    if (!arguments[0]) {
        fputs("meterbook: 'totals' needs a span, see 'meterbook totals --help'\n", stderr);
        return EXIT_USAGE;
    }
    if (options->meter && strcmp(options->meter, "all") == 0)
        return meter_list(options, arguments[0]);
    enum exit_code code = inquiry_open_span(&inquiry, options, arguments[0]);
    if (code == EXIT_ANSWERED) {
        enum row_unit unit = unit_of(options, &inquiry.period);
        code = inquiry_read_head(
            &inquiry, options->meter,
            (struct answer_what){ .measured_only = options->measured_only, .fine = unit < ROW_DAY });
        if (code == EXIT_ANSWERED)
            code = print(&inquiry, options, unit);
    }
    inquiry_close(&inquiry);
    return code;
}
