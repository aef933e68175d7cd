#include "command.h"
#include "span.h"

enum exit_code cmd_year(const struct options *options, const char *argument)
{
    return span_answer(options, "year", argument, period_year, ROW_MONTH);
}
