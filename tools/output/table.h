/* The parts of the table form that output_table.c puts together. */
#ifndef METERBOOK_TABLE_H
#define METERBOOK_TABLE_H

#include <stdio.h>

#include "options.h"
#include "present.h"
#include "sheet.h"

/* A note a line. */
void table_notes(FILE *out, int32_t count, const char (*notes)[NOTE_SIZE]);

/* A plain list. */
void table_sheet(FILE *out, const struct sheet *sheet);

/* What `now` shows. */
void table_present(FILE *out, const struct present *present, const struct options *options);

#endif
