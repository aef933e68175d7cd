/* RFC 4180: one head line, CRLF ends, empty where nothing is known. */
#include "figure.h"
#include "output.h"
#include "row_list.h"
#include "stamp.h"
#include "text.h"

#define LINE_END "\r\n"

static void print_value(FILE *out, int64_t value, int32_t scale)
{
    char number[NUMBER_SIZE];
    if (value != UNKNOWN)
        fputs(number_print(number, value, scale, scale, 0), out);
}

static void print_flags(FILE *out, int32_t flags)
{
    int32_t flag;
    const char *name, *joint = "";
    for (int32_t i = 0; (name = flag_name(i, &flag)) != NULL; i++) {
        if (!(flags & flag))
            continue;
        fprintf(out, "%s%s", joint, name);
        joint = " ";
    }
}

static void csv_answer(FILE *out, const struct answer *answer, struct walk *walk,
                       const struct options *options)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    struct row_list list;
    const struct answer_row *row;
    (void)options;
    row_list_begin(&list, answer, walk);
    fputs("from,to", out);
    for (int32_t i = 0; i < figure_count; i++)
        if (figure_present(&figures[i], answer))
            fprintf(out, ",%s", figures[i].key);
    fputs(",source,flags" LINE_END, out);
    while ((row = row_list_next(&list)) != NULL) {
        fprintf(out, "%s,%s", stamp_rfc3339(from, answer->civil, row->from_s),
                stamp_rfc3339(to, answer->civil, row->to_s));
        for (int32_t i = 0; i < figure_count; i++) {
            if (!figure_present(&figures[i], answer))
                continue;
            putc(',', out);
            print_value(out, figures[i].value(row),
                        figures[i].kind <= FIGURE_DATA ? ENERGY_SCALE : SHARE_SCALE);
        }
        fprintf(out, ",%s,", source_name(row->sources));
        print_flags(out, row->flags);
        fputs(LINE_END, out);
    }
}

static void csv_present(FILE *out, const struct present *present, const struct options *options)
{
    char stamp[STAMP_SIZE];
    (void)options;
    fputs("meter,name,role,state,at,power_w,voltage_v,import_today_kwh,export_today_kwh" LINE_END, out);
    for (int32_t i = 0; i < present->meter_count; i++) {
        const struct present_meter *meter = &present->meters[i];
        fprintf(out, "%d,", meter->number);
        text_csv(out, meter->name);
        fprintf(out, ",%s,%s,", meter->role, present_state_name(meter->state));
        if (meter->at_ms != UNKNOWN)
            fputs(stamp_rfc3339(stamp, present->civil, meter->at_ms / 1000), out);
        putc(',', out);
        print_value(out, meter->power, 3);
        putc(',', out);
        print_value(out, meter->voltage, 3);
        putc(',', out);
        print_value(out, meter->today_import, ENERGY_SCALE);
        putc(',', out);
        print_value(out, meter->today_export, ENERGY_SCALE);
        fputs(LINE_END, out);
    }
}

static void print_sheet_cell(FILE *out, const struct sheet *sheet, const struct sheet_column *column,
                             const struct sheet_cell *cell)
{
    char stamp[STAMP_SIZE];
    if (column->kind == SHEET_TEXT)
        text_csv(out, cell->text ? cell->text : "");
    else if (column->kind == SHEET_NUMBER || column->kind == SHEET_SHARE)
        print_value(out, cell->value, column->kind == SHEET_SHARE ? SHARE_SCALE : column->scale);
    else if (cell->value != UNKNOWN)
        fputs(stamp_rfc3339(stamp, sheet->civil, cell->value), out);
}

static void csv_sheet(FILE *out, const struct sheet *sheet)
{
    for (int32_t c = 0; c < sheet->column_count; c++)
        fprintf(out, "%s%s", c ? "," : "", sheet->columns[c].key);
    fputs(LINE_END, out);
    for (int32_t r = 0; r < sheet->row_count; r++) {
        for (int32_t c = 0; c < sheet->column_count; c++) {
            fputs(c ? "," : "", out);
            print_sheet_cell(out, sheet, &sheet->columns[c], &sheet->rows[r][c]);
        }
        fputs(LINE_END, out);
    }
}

const struct output output_csv = { csv_answer, csv_present, csv_sheet };
