/* The seam to the paper: each form of output is one of these. */
#ifndef METERBOOK_OUTPUT_H
#define METERBOOK_OUTPUT_H

#include <stdio.h>

#include "answer.h"
#include "options.h"
#include "present.h"
#include "sheet.h"
#include "walk.h"

struct output {
    /* Rows come from `walk`, printed as they come, or are the answer's own (NULL). */
    void (*answer)(FILE *out, const struct answer *answer, struct walk *walk, const struct options *options);
    void (*present)(FILE *out, const struct present *present, const struct options *options);
    void (*sheet)(FILE *out, const struct sheet *sheet);
};

extern const struct output output_table, output_csv, output_json;

/* The form that the options ask for. */
const struct output *output_of(const struct options *options);

#endif
