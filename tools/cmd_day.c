#include <stdio.h>

#include "command.h"
#include "span.h"

/* People read hours; programs want every interval. */
enum exit_code cmd_day(const struct options *options, const char *const *arguments)
{
    if (options->by > BY_INTERVAL) {
        fputs("meterbook: '--by' of day: allowed are default, hour, interval\n", stderr);
        return EXIT_USAGE;
    }
    bool hours = options->by == BY_DEFAULT ? options->format == FORMAT_TABLE : options->by == BY_HOUR;
    return span_answer(options, "day", arguments[0], period_day, hours ? ROW_HOUR : ROW_INTERVAL);
}
