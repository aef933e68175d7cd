/* What `meterbookd -n` prints of a good configuration: the answers that it
 * makes impossible, and what will be read, bus by bus. */
#ifndef METERBOOK_PLAN_REPORT_H
#define METERBOOK_PLAN_REPORT_H

#include <stdio.h>

#include "config.h"

void plan_report(const struct config *config, FILE *out);

#endif
