/* What a command is, and how it ends. */
#ifndef METERBOOK_COMMAND_H
#define METERBOOK_COMMAND_H

#include "options.h"

/* Exit codes, as documented in meterbook(1). */
enum exit_code {
    EXIT_ANSWERED = 0, /* the answer is on stdout */
    EXIT_NO_DATA = 1,  /* the record holds nothing of that span */
    EXIT_USAGE = 2,    /* the command line was not understood */
    EXIT_RECORD = 3,   /* the configuration or the record cannot be read */
    EXIT_OUTPUT = 4,   /* the answer could not be written */
    EXIT_REFUSED = 5,  /* data to be entered cannot be read or were refused */
    EXIT_FAILED = 6,   /* the answer is on stdout: a check failed */
};

/* A command prints its answer on stdout and everything else on stderr.
 * `arguments` are the words after its name, no more than it takes, then NULL. */
typedef enum exit_code command_function(const struct options *options, const char *const *arguments);

/* One a line, so that two can be added at once. */
command_function cmd_agreement;
command_function cmd_bill;
command_function cmd_cleaning;
command_function cmd_carbon;
command_function cmd_compare;
command_function cmd_completeness;
command_function cmd_day;
command_function cmd_degradation;
command_function cmd_demand;
command_function cmd_duration;
command_function cmd_enter;
command_function cmd_expected;
command_function cmd_extract;
command_function cmd_extremes;
command_function cmd_logbook;
command_function cmd_month;
command_function cmd_note;
command_function cmd_now;
command_function cmd_outages;
command_function cmd_parts;
command_function cmd_profile;
command_function cmd_returns;
command_function cmd_report;
command_function cmd_salvage;
command_function cmd_savings;
command_function cmd_spans;
command_function cmd_supply;
command_function cmd_totals;
command_function cmd_validate;
command_function cmd_what_if;
command_function cmd_worth;
command_function cmd_year;
command_function cmd_yield;

#endif
