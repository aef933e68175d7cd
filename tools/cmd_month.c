#include "command.h"
#include "span.h"

enum exit_code cmd_month(const struct options *options, const char *argument)
{
    return span_answer(options, "month", argument, period_month, ROW_DAY);
}
