#include <string.h>

#include "sheet.h"
#include "stamp.h"
#include "table.h"
#include "text.h"

enum { GAP = 2, CELL_SIZE = 64 };

static const char *print_value(char buffer[CELL_SIZE], const struct sheet *sheet,
                               const struct sheet_column *column, const struct sheet_cell *cell)
{
    if (column->kind == SHEET_TEXT)
        return cell->text ? cell->text : "";
    if (cell->value == UNKNOWN)
        return "-";
    if (column->kind == SHEET_NUMBER)
        return number_print(buffer, cell->value, column->scale, cell->decimals, cell->thousands ? ',' : 0);
    if (column->kind == SHEET_SHARE)
        return number_print(buffer, cell->value, SHARE_SCALE - 2, cell->decimals, 0);
    return column->kind == SHEET_DATE ? stamp_date(buffer, sheet->civil, cell->value)
                                      : stamp_minute(buffer, sheet->civil, cell->value);
}

static bool is_number(const struct sheet_column *column)
{
    return column->kind == SHEET_NUMBER || column->kind == SHEET_SHARE;
}

static void measure(const struct sheet *sheet, int32_t width[SHEET_COLUMNS])
{
    char buffer[CELL_SIZE];
    for (int32_t c = 0; c < sheet->column_count; c++) {
        const struct sheet_column *column = &sheet->columns[c];
        const char *const heads[] = { column->head[0], column->head[1], column->unit };
        width[c] = 0;
        for (int32_t i = 0; i < 3 && !column->data_only; i++)
            if (text_columns(heads[i]) > width[c])
                width[c] = text_columns(heads[i]);
        for (int32_t r = 0; r < sheet->row_count && !column->data_only; r++) {
            int32_t length = text_columns(print_value(buffer, sheet, column, &sheet->rows[r][c]));
            width[c] = length > width[c] ? length : width[c];
        }
    }
}

/* One cell; the spaces behind it are owed to the next, so that none trail. */
static void print_cell(FILE *out, const char *text, bool right, int32_t width, int32_t *owed)
{
    int32_t length = text_columns(text), before = *owed + (right ? width - length : 0);
    if (length > 0) {
        fprintf(out, "%*s", before, "");
        text_plain(out, text, 0);
        *owed = right ? 0 : width - length;
    } else {
        *owed += width;
    }
    *owed += GAP;
}

static void print_heads(FILE *out, const struct sheet *sheet, const int32_t *width)
{
    for (int32_t line = 0; line < 3; line++) {
        int32_t owed = 0;
        bool any = false;
        for (int32_t c = 0; c < sheet->column_count; c++) {
            const struct sheet_column *column = &sheet->columns[c];
            const char *text = line == 2 ? column->unit : column->head[line];
            if (!column->data_only && *text)
                any = true;
        }
        for (int32_t c = 0; c < sheet->column_count && any; c++) {
            const struct sheet_column *column = &sheet->columns[c];
            if (!column->data_only)
                print_cell(out, line == 2 ? column->unit : column->head[line], is_number(column), width[c],
                           &owed);
        }
        fputs(any ? "\n" : "", out);
    }
}

void table_sheet(FILE *out, const struct sheet *sheet)
{
    char buffer[CELL_SIZE];
    int32_t width[SHEET_COLUMNS] = { 0 };
    measure(sheet, width);
    text_plain(out, sheet->title, 0);
    fputs("\n", out);
    for (int32_t i = 0; i < sheet->mark_count; i++)
        fprintf(out, "%s%s%s", i ? ", " : "", sheet->marks[i], i + 1 < sheet->mark_count ? "" : "\n");
    table_notes(out, sheet->note_count, (const char(*)[NOTE_SIZE])sheet->notes);
    if (sheet->row_count == 0)
        return;
    fputs("\n", out);
    print_heads(out, sheet, width);
    for (int32_t r = 0; r < sheet->row_count; r++) {
        int32_t owed = 0;
        for (int32_t c = 0; c < sheet->column_count; c++) {
            const struct sheet_column *column = &sheet->columns[c];
            if (!column->data_only)
                print_cell(out, print_value(buffer, sheet, column, &sheet->rows[r][c]), is_number(column),
                           width[c], &owed);
        }
        fputs("\n", out);
    }
}
