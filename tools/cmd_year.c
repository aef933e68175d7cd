#include <stdio.h>

#include "command.h"
#include "span.h"

enum exit_code cmd_year(const struct options *options, const char *const *arguments)
{
    if (options->by != BY_DEFAULT) {
        fputs("meterbook: '--by' of year: its rows are months, 'totals' has others\n", stderr);
        return EXIT_USAGE;
    }
    return span_answer(options, "year", arguments[0], period_year, ROW_MONTH);
}
