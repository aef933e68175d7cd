/* What pictures have in common: the key, the seam between sealed readings and measurement, cells of tables.
 */
#ifndef METERBOOK_PICTURE_H
#define METERBOOK_PICTURE_H

#include "figure.h"
#include "report.h"
#include "svg.h"

struct picture_key {
    bool shown;
    const char *class; /* of the square that stands for it */
    const char *words;
};

void picture_keys(FILE *out, const struct picture_key *keys, size_t count);

/* Names the slots under a picture, and the years under their months. `place_of` says where an instant stands
 * across it. */
void picture_slots(struct svg *svg, const struct report *report,
                   int32_t (*place_of)(const struct report *report, int64_t at_s));

/* Where an instant stands in a picture whose width is the span in even time. */
int32_t picture_span_place(const struct report *report, int64_t at_s);

/* Marks the seam, if the span has one, in a picture across which it stands at x. */
void picture_seam(struct svg *svg, const struct report *report, int32_t x);

/* Says in a picture of what is measured alone that it is of the days from the seam on. */
void picture_measured(struct svg *svg, const struct report *report);

/* A figure of a row, as in a table; NULL where it is not known. */
const char *picture_figure(char buffer[NUMBER_SIZE], const struct figure *figure, const struct answer *answer,
                           const struct answer_row *row);

/* Power in mW as kW, with `decimals`; NULL where it is UNKNOWN. */
const char *picture_power(char buffer[NUMBER_SIZE], int64_t mw, int32_t decimals);

/* A figure's frame: the picture lies between the two; the caption is the sentence. */
void picture_open(const struct report *report);
void picture_close(const struct report *report, const char *sentence);

#endif
