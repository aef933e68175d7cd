#include <stdio.h>

#include "command.h"
#include "span.h"

enum exit_code cmd_month(const struct options *options, const char *const *arguments)
{
    if (options->by != BY_DEFAULT) {
        fputs("meterbook: '--by' of month: its rows are days, 'totals' has others\n", stderr);
        return EXIT_USAGE;
    }
    return span_answer(options, "month", arguments[0], period_month, ROW_DAY);
}
