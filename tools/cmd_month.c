#include "command.h"
#include "span.h"

enum exit_code cmd_month(const struct options *options, const char *const *arguments)
{
    return span_answer(options, "month", arguments[0], period_month, ROW_DAY);
}
