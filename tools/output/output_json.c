#include "figure.h"
#include "output.h"
#include "row_list.h"
#include "stamp.h"
#include "text.h"

static void print_text(FILE *out, const char *key, const char *text)
{
    fprintf(out, "\"%s\": ", key);
    text_json(out, text);
}

static void print_value(FILE *out, const char *key, int64_t value, int32_t scale)
{
    char number[NUMBER_SIZE];
    fprintf(out, "\"%s\": %s", key, value == UNKNOWN ? "null" : number_print(number, value, scale, scale, 0));
}

static void print_stamp(FILE *out, const char *key, const struct civil *civil, int64_t utc_s)
{
    char stamp[STAMP_SIZE];
    fprintf(out, "\"%s\": \"%s\"", key, stamp_rfc3339(stamp, civil, utc_s));
}

static void print_row(FILE *out, const struct answer *answer, const struct answer_row *row)
{
    int32_t flag;
    const char *name, *joint = "";
    fputs("{ ", out);
    print_stamp(out, "from", answer->civil, row->from_s);
    fputs(", ", out);
    print_stamp(out, "to", answer->civil, row->to_s);
    for (int32_t i = 0; i < figure_count; i++) {
        if (!figure_present(&figures[i], answer))
            continue;
        fputs(", ", out);
        print_value(out, figures[i].key, figures[i].value(row),
                    figures[i].kind <= FIGURE_DATA ? ENERGY_SCALE : SHARE_SCALE);
    }
    fprintf(out, ", \"source\": \"%s\", \"flags\": [", source_name(row->sources));
    for (int32_t i = 0; (name = flag_name(i, &flag)) != NULL; i++) {
        if (!(row->flags & flag))
            continue;
        fprintf(out, "%s\"%s\"", joint, name);
        joint = ", ";
    }
    fputs("] }", out);
}

/* Sealed meters that have a part in the answer, and where a source gives way to the other. */
static void print_sealed(FILE *out, const struct answer *answer)
{
    static const char *const terms[TERM_COUNT] = { "production", "import", "export" };
    const char *joint = "";
    unsigned speak = answer_sealed_terms(answer);
    if (!speak)
        return;
    fputs("  \"sealed_meters\": [", out);
    for (int32_t i = 0; i < answer->sources->config->sealed_count; i++) {
        const struct config_sealed *meter = &answer->sources->config->sealed[i];
        if (!(speak & (meter->role == ROLE_PRODUCTION ? TERMS_PRODUCTION : TERMS_GRID)))
            continue;
        fprintf(out, "%s\n    { ", joint);
        print_text(out, "name", meter->name);
        fprintf(out, ", \"role\": \"%s\", \"phases\": \"%s\" }", role_name(meter->role),
                phase_method_name(meter->phase_method));
        joint = ",";
    }
    fputs("\n  ],\n  \"seams\": [", out);
    joint = "";
    for (int32_t i = 1; i < answer->piece_count; i++)
        for (int32_t t = 0; t < TERM_COUNT; t++) {
            unsigned now = answer->pieces[i].sealed & 1U << t;
            if (now == (answer->pieces[i - 1].sealed & 1U << t))
                continue;
            fprintf(out, "%s\n    { ", joint);
            print_stamp(out, "at", answer->civil, answer->pieces[i].from_s);
            fprintf(out, ", \"figure\": \"%s\", \"before\": \"%s\", \"after\": \"%s\" }", terms[t],
                    now ? "record" : "sealed", now ? "sealed" : "record");
            joint = ",";
        }
    fprintf(out, "%s],\n", *joint ? "\n  " : "");
}

/* The meters of the balance as they were at the end of the span. */
static void print_meters(FILE *out, const struct answer *answer)
{
    const struct arrangement *arrangement = &answer->history.arrangements[answer->history.count - 1];
    bool sealed_alone = answer->total.sources == SOURCE_SEALED;
    const char *joint = "";
    fputs("  \"counted_by\": [", out);
    for (int32_t i = 0; i < arrangement->meter_count && !sealed_alone; i++) {
        const struct arranged_meter *meter = &arrangement->meters[i];
        if (meter->use == USE_NONE)
            continue;
        fprintf(out, "%s\n    { \"meter\": %d, ", joint, meter->number);
        print_text(out, "name", meter->name);
        fprintf(out, ", \"role\": \"%s\", \"phases\": \"%s\", \"derived\": %s, \"gross\": %s }",
                role_name(meter->role), meter->phases_apart ? "apart" : "netted",
                meter->number == METER_DERIVED ? "true" : "false",
                meter->use == USE_GROSS ? "true" : "false");
        joint = ",";
    }
    fprintf(out, "%s],\n", *joint ? "\n  " : "");
}

static void print_notes(FILE *out, int32_t count, const char (*notes)[NOTE_SIZE])
{
    fputs("  \"notes\": [", out);
    for (int32_t i = 0; i < count; i++) {
        fputs(i ? ",\n    " : "\n    ", out);
        text_json(out, notes[i]);
    }
    fputs(count ? "\n  ],\n" : "],\n", out);
}

static void print_marks(FILE *out, int32_t count, const char (*marks)[MARK_SIZE])
{
    fputs("  \"marks\": [", out);
    for (int32_t i = 0; i < count; i++) {
        fputs(i ? ", " : "", out);
        text_json(out, marks[i]);
    }
    fputs("],\n", out);
}

static void json_answer(FILE *out, const struct answer *answer, struct walk *walk,
                        const struct options *options)
{
    struct row_list list;
    const struct answer_row *row;
    const char *joint = "\n    ";
    (void)options;
    fprintf(out, "{\n  \"answer\": \"%s\",\n  ", answer->name);
    print_text(out, "site", answer->site.name);
    fputs(",\n  ", out);
    print_text(out, "zone", answer->site.zone);
    fputs(",\n  ", out);
    print_stamp(out, "from", answer->civil, answer->from_s);
    fputs(",\n  ", out);
    print_stamp(out, "to", answer->civil, answer->to_s);
    fputs(",\n  ", out);
    print_stamp(out, "known_until", answer->civil, answer->reach_s);
    fputs(",\n  ", out);
    print_value(out, "resolution_kwh", answer->coarsest_step, ENERGY_SCALE);
    fputs(",\n", out);
    print_meters(out, answer);
    print_sealed(out, answer);
    print_marks(out, answer->mark_count, answer->marks);
    print_notes(out, answer->note_count, answer->notes);
    fputs("  \"rows\": [", out);
    row_list_begin(&list, answer, walk);
    while ((row = row_list_next(&list)) != NULL) {
        fputs(joint, out);
        print_row(out, answer, row);
        joint = ",\n    ";
    }
    fputs("\n  ],\n  \"totals\": ", out);
    print_row(out, answer, &list.total);
    fputs("\n}\n", out);
}

static void print_present_meter(FILE *out, const struct present *present, const struct present_meter *meter)
{
    fprintf(out, "    { \"meter\": %d, ", meter->number);
    print_text(out, "name", meter->name);
    fprintf(out, ", \"role\": \"%s\", \"state\": \"%s\", ", meter->role, present_state_name(meter->state));
    if (meter->at_ms == UNKNOWN)
        fputs("\"at\": null", out);
    else
        print_stamp(out, "at", present->civil, meter->at_ms / 1000);
    fputs(", ", out);
    print_value(out, "power_w", meter->power, 3);
    fputs(", ", out);
    print_value(out, "voltage_v", meter->voltage, 3);
    fputs(", ", out);
    print_value(out, "import_today_kwh", meter->today_import, ENERGY_SCALE);
    fputs(", ", out);
    print_value(out, "export_today_kwh", meter->today_export, ENERGY_SCALE);
    fputs(" }", out);
}

static void json_present(FILE *out, const struct present *present, const struct options *options)
{
    (void)options;
    fputs("{\n  \"answer\": \"now\",\n  ", out);
    print_text(out, "site", present->site.name);
    fputs(",\n  ", out);
    print_text(out, "zone", present->site.zone);
    fputs(",\n  ", out);
    print_stamp(out, "at", present->civil, present->at_ms / 1000);
    fprintf(out, ",\n  \"running\": %s,\n  ", present->running ? "true" : "false");
    print_value(out, "production_w", present->production, 3);
    fputs(",\n  ", out);
    print_value(out, "grid_w", present->grid, 3);
    fputs(",\n  ", out);
    print_value(out, "consumption_w", present->consumption, 3);
    fputs(",\n", out);
    print_notes(out, present->note_count, present->notes);
    fputs("  \"meters\": [", out);
    for (int32_t i = 0; i < present->meter_count; i++) {
        fputs(i ? ",\n" : "\n", out);
        print_present_meter(out, present, &present->meters[i]);
    }
    fputs("\n  ],\n  \"buses\": [", out);
    for (int32_t i = 0; i < present->bus_count; i++) {
        fputs(i ? ",\n    { " : "\n    { ", out);
        print_text(out, "name", present->buses[i].name);
        fprintf(out, ", \"state\": \"%s\" }", present->buses[i].state);
    }
    fputs(present->bus_count ? "\n  ]\n}\n" : "]\n}\n", out);
}

static void print_sheet_cell(FILE *out, const struct sheet *sheet, const struct sheet_column *column,
                             const struct sheet_cell *cell)
{
    bool known = column->kind == SHEET_TEXT ? cell->text != NULL : cell->value != UNKNOWN;
    if (!known)
        fprintf(out, "\"%s\": null", column->key);
    else if (column->kind == SHEET_TEXT)
        print_text(out, column->key, cell->text);
    else if (column->kind == SHEET_NUMBER || column->kind == SHEET_SHARE)
        print_value(out, column->key, cell->value, column->kind == SHEET_SHARE ? SHARE_SCALE : column->scale);
    else
        print_stamp(out, column->key, sheet->civil, cell->value);
}

static void json_sheet(FILE *out, const struct sheet *sheet)
{
    fprintf(out, "{\n  \"answer\": \"%s\",\n", sheet->name);
    print_marks(out, sheet->mark_count, sheet->marks);
    print_notes(out, sheet->note_count, (const char(*)[NOTE_SIZE])sheet->notes);
    fputs("  \"rows\": [", out);
    for (int32_t r = 0; r < sheet->row_count; r++) {
        fputs(r ? ",\n    { " : "\n    { ", out);
        for (int32_t c = 0; c < sheet->column_count; c++) {
            fputs(c ? ", " : "", out);
            print_sheet_cell(out, sheet, &sheet->columns[c], &sheet->rows[r][c]);
        }
        fputs(" }", out);
    }
    fputs(sheet->row_count ? "\n  ]\n}\n" : "]\n}\n", out);
}

const struct output output_json = { json_answer, json_present, json_sheet };
