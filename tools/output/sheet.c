#include "sheet.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "output.h"

void sheet_init(struct sheet *sheet, const char *name, const struct civil *civil,
                const struct sheet_column *columns, int32_t column_count)
{
    *sheet = (struct sheet){
        .name = name, .title = "", .civil = civil, .columns = columns, .column_count = column_count
    };
}

void sheet_free(struct sheet *sheet)
{
    free(sheet->rows);
    free(sheet->notes);
    sheet->rows = NULL;
    sheet->notes = NULL;
}

/* Room for one more; false without memory. */
static bool grow(struct sheet *sheet, void **items, int32_t count, int32_t *room, size_t size)
{
    if (count < *room)
        return true;
    int32_t more = *room ? 2 * *room : 64;
    void *grown = realloc(*items, (size_t)more * size);
    if (!grown) {
        sheet->failed = true;
        return false;
    }
    *items = grown;
    *room = more;
    return true;
}

struct sheet_cell *sheet_row(struct sheet *sheet)
{
    void *rows = sheet->rows;
    if (!grow(sheet, &rows, sheet->row_count, &sheet->row_room, sizeof(sheet->rows[0])))
        return NULL;
    sheet->rows = rows;
    struct sheet_cell *row = sheet->rows[sheet->row_count++];
    for (int32_t i = 0; i < SHEET_COLUMNS; i++)
        row[i] = (struct sheet_cell){ .value = UNKNOWN };
    return row;
}

void sheet_note(struct sheet *sheet, const char *format, ...)
{
    va_list arguments;
    void *notes = sheet->notes;
    if (!grow(sheet, &notes, sheet->note_count, &sheet->note_room, sizeof(sheet->notes[0])))
        return;
    sheet->notes = notes;
    va_start(arguments, format);
    vsnprintf(sheet->notes[sheet->note_count++], NOTE_SIZE, format, arguments);
    va_end(arguments);
}

void sheet_mark(struct sheet *sheet, const char *format, ...)
{
    va_list arguments;
    if (sheet->mark_count == ANSWER_MAX_MARKS)
        return;
    va_start(arguments, format);
    vsnprintf(sheet->marks[sheet->mark_count++], MARK_SIZE, format, arguments);
    va_end(arguments);
}

bool sheet_print(const struct sheet *sheet, const struct options *options)
{
    if (sheet->failed) {
        fputs("meterbook: out of memory\n", stderr);
        return false;
    }
    output_of(options)->sheet(stdout, sheet);
    for (int32_t i = 0; options->format == FORMAT_CSV && i < sheet->mark_count; i++)
        fprintf(stderr, "%s%s%s", i ? ", " : "meterbook: ", sheet->marks[i],
                i + 1 < sheet->mark_count ? "" : "\n");
    for (int32_t i = 0; options->format == FORMAT_CSV && i < sheet->note_count; i++)
        fprintf(stderr, "meterbook: %s\n", sheet->notes[i]);
    return true;
}
