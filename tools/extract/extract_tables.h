/* The tables of an extract, in the order in which a package lists them. */
#ifndef METERBOOK_EXTRACT_TABLES_H
#define METERBOOK_EXTRACT_TABLES_H

#include "extract.h"
#include "field.h"

struct extract_table {
    const char *name, *title, *description;
    const struct field *fields;
    const int32_t *field_count;
    const char *primary_key[3]; /* names of fields; ends with NULL */
    /* Writes its lines below the head; false where reading failed. */
    bool (*write)(struct extract *extract, FILE *out);
};

extern const struct extract_table extract_tables[];
extern const int32_t extract_table_count;

/* extract_intervals.c */
extern const struct field interval_fields[];
extern const int32_t interval_field_count;
bool extract_intervals(struct extract *extract, FILE *out);

#endif
