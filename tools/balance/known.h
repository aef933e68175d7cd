/* For how much of a span a figure is known: what makes spans of unlike completeness comparable. */
#ifndef METERBOOK_KNOWN_H
#define METERBOOK_KNOWN_H

#include "answer.h"

/* Seconds of the answer's span for which all of these terms (one bit each) are known: from the record, all
 * meters of the term have intervals, estimated ones too; from sealed meters, readings cover it. `others`:
 * storage, generators and consumption meters too. Where meters of one use follow each other, each counts only
 * while it was set. */
int64_t known_s(const struct answer *answer, unsigned terms, bool others);

#endif
