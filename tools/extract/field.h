/* Tables of an extract: their columns with what they mean, and the one way in which cells are written. */
#ifndef METERBOOK_FIELD_H
#define METERBOOK_FIELD_H

#include <stdint.h>
#include <stdio.h>

#include "civil.h"
#include "quantity.h"

/* Types of the open standard Table Schema. */
enum field_type { FIELD_DATETIME, FIELD_DATE, FIELD_INTEGER, FIELD_NUMBER, FIELD_TEXT };

struct field {
    const char *name;
    enum field_type type;
    const char *unit;       /* "" none */
    enum quantity quantity; /* that it is of, which has an OBIS code; QUANTITY_COUNT: of none */
    const char *description;
};

/* A line of a table as it is being written. */
struct line {
    FILE *out;
    int32_t cells;
};

/* The names, as the table's first line. */
void field_heads(FILE *out, const struct field *fields, int32_t count);

/* The next cell; UNKNOWN and NULL are empty ones. A number is value / 10^scale. */
void line_number(struct line *line, int64_t value, int32_t scale);
void line_text(struct line *line, const char *text);
void line_stamp(struct line *line, const struct civil *civil, int64_t utc_s);
/* Ends the line; the next cell begins another. */
void line_end(struct line *line);

#endif
