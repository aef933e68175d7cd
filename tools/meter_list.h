/* What each meter counted by itself over a span: a row per meter. */
#ifndef METERBOOK_METER_LIST_H
#define METERBOOK_METER_LIST_H

#include "command.h"

/* `totals --meter all`. */
enum exit_code meter_list(const struct options *options, const char *span);

#endif
