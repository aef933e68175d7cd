/* Extracts of a span of the record: what each form needs, and the forms. */
#ifndef METERBOOK_EXTRACT_H
#define METERBOOK_EXTRACT_H

#include <stdbool.h>
#include <stdio.h>

#include "civil.h"
#include "period.h"
#include "progress.h"
#include "query_extract.h"

struct extract {
    struct query *query;
    const struct civil *civil;
    struct period period;
    int64_t from_s, to_s; /* of the period, UTC */
    int32_t meter;        /* its number; 0: all */
    const char *site, *zone;
    int64_t now_s; /* goes into the extract as the time at which it was made */
    struct progress progress;
    int64_t rows;                          /* intervals written */
    int64_t estimated, entered, corrected; /* of them, so marked */
};

/* Counts an interval that was written. */
void extract_count(struct extract *extract, const struct wide_row *row);

/* Each writes to `out` until the end of the span or the first error there. False where the record could not
 * be read: the query says why, or memory was out. */
bool extract_csv(struct extract *extract, FILE *out);
bool extract_espi(struct extract *extract, FILE *out);

/* A folder of tables with a descriptor (Data Package, Frictionless open standard), which is made; it
 * must not be there yet. False after `why` was filled in. */
enum { EXTRACT_WHY_SIZE = 400 };
bool extract_package(struct extract *extract, const char *folder, char why[EXTRACT_WHY_SIZE]);

#endif
