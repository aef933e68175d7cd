#include "command.h"
#include "span.h"

enum exit_code cmd_year(const struct options *options, const char *const *arguments)
{
    return span_answer(options, "year", arguments[0], period_year, ROW_MONTH);
}
