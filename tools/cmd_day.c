#include "command.h"
#include "span.h"

/* People read hours; programs want every interval. */
enum exit_code cmd_day(const struct options *options, const char *const *arguments)
{
    bool hours = options->by == BY_DEFAULT ? options->format == FORMAT_TABLE : options->by == BY_HOUR;
    return span_answer(options, "day", arguments[0], period_day, hours ? ROW_HOUR : ROW_INTERVAL);
}
