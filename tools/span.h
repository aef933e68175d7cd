/* The common part of `day`, `month`, `year` and `totals`. */
#ifndef METERBOOK_SPAN_H
#define METERBOOK_SPAN_H

#include "answer.h"
#include "command.h"
#include "period.h"
#include "walk.h"

/* period_day() and its kin. */
typedef const char *period_function(struct period *period, const char *word, int64_t today);

/* Answers for the span that `argument` names: prints the balance in rows of `unit`. */
enum exit_code span_answer(const struct options *options, const char *name, const char *argument,
                           period_function *read_period, enum row_unit unit);

/* Prints an answer, in rows of the walk where there is one; marks and notes of a CSV go to stderr. */
void span_print(const struct answer *answer, struct walk *walk, const struct options *options);

#endif
