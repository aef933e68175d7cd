/* Aligned text for people: notes first, units in the head, totals at the end. */
#include <stdlib.h>
#include <string.h>

#include "bar.h"
#include "figure.h"
#include "output.h"
#include "stamp.h"
#include "table.h"
#include "terminal.h"
#include "text.h"

enum { GAP = 2, MOST_DECIMALS = 3, LEAST_BAR = 12, MOST_BAR = 60, FREE_BAR = 30, MAX_FIGURES = 24 };

struct layout {
    const struct answer *answer;
    struct terminal terminal;
    int32_t label;              /* columns of the first column */
    int32_t width[MAX_FIGURES]; /* 0: left out */
    int32_t source;             /* columns of who spoke for a row, 0 without */
    int32_t bar;                /* columns of the bar, 0 without */
    int clock;                  /* enum stamp_part of the first column */
};

static const char *print_cell(char buffer[NUMBER_SIZE], const struct answer *answer, int32_t figure,
                              const struct answer_row *row)
{
    int64_t value = figures[figure].value(row);
    if (value == UNKNOWN)
        return "-";
    if (figures[figure].kind == FIGURE_CUT_SHARE)
        value -= value % (SHARE_ONE / 1000);
    if (figures[figure].kind != FIGURE_ENERGY)
        return number_print(buffer, value, SHARE_SCALE - 2, 1, 0);
    return number_print(buffer, value, ENERGY_SCALE, figure_decimals(&figures[figure], answer, MOST_DECIMALS),
                        ',');
}

static const char *print_label(char buffer[STAMP_SIZE], const struct layout *layout, int64_t from_s)
{
    const struct civil *civil = layout->answer->civil;
    switch (layout->answer->unit) {
    case ROW_MONTH:
        return stamp_month(buffer, civil, from_s);
    case ROW_DAY:
        return stamp_date(buffer, civil, from_s);
    default:
        return stamp_clock(buffer, civil, from_s, layout->clock);
    }
}

static const char *label_head(enum row_unit unit)
{
    static const char *const heads[] = {
        [ROW_INTERVAL] = "from",
        [ROW_HOUR] = "hour",
        [ROW_DAY] = "day",
        [ROW_MONTH] = "month",
    };
    return heads[unit];
}

static void widen(int32_t *width, const char *text)
{
    int32_t length = (int32_t)strlen(text);
    *width = length > *width ? length : *width;
}

/* "sealed, prorated" */
static const char *print_source(char buffer[NUMBER_SIZE], const struct answer_row *row)
{
    snprintf(buffer, NUMBER_SIZE, "%s%s", source_name(row->sources),
             row->flags & ROW_PRORATED ? ", prorated" : "");
    return buffer;
}

static int32_t table_columns(const struct layout *layout)
{
    int32_t columns = layout->label + (layout->source ? layout->source + GAP : 0);
    for (int32_t i = 0; i < figure_count; i++)
        columns += layout->width[i] ? layout->width[i] + GAP : 0;
    return columns;
}

/* Leaves out columns, those of the highest rank first, until the table fits its line. */
static void narrow(struct layout *layout, int32_t columns)
{
    for (int32_t rank = FIGURE_LAST_RANK; rank > 0 && table_columns(layout) > columns; rank--)
        for (int32_t i = 0; i < figure_count; i++)
            if (figures[i].rank == rank)
                layout->width[i] = 0;
}

static void measure(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    char buffer[NUMBER_SIZE], label[STAMP_SIZE];
    layout->label = (int32_t)strlen("total");
    for (int32_t r = 0; r < answer->row_count; r++)
        widen(&layout->label, print_label(label, layout, answer->rows[r].from_s));
    for (int32_t i = 0; i < figure_count; i++) {
        if (figures[i].kind == FIGURE_DATA || !figure_present(&figures[i], answer))
            continue;
        widen(&layout->width[i], figures[i].head[0]);
        widen(&layout->width[i], figures[i].head[1]);
        for (int32_t r = 0; r < answer->row_count; r++)
            widen(&layout->width[i], print_cell(buffer, answer, i, &answer->rows[r]));
        widen(&layout->width[i], print_cell(buffer, answer, i, &answer->total));
    }
    if (answer->total.sources & SOURCE_SEALED) {
        widen(&layout->source, "source");
        for (int32_t r = 0; r < answer->row_count; r++)
            widen(&layout->source, print_source(buffer, &answer->rows[r]));
        widen(&layout->source, print_source(buffer, &answer->total));
    }
    int32_t columns = layout->terminal.columns;
    bool bars = layout->terminal.bars && bar_length(&answer->total.balance) > 0;
    if (columns > 0)
        narrow(layout, bars ? columns - LEAST_BAR - GAP : columns);
    if (bars) {
        int32_t left = columns > 0 ? columns - table_columns(layout) - GAP : FREE_BAR;
        layout->bar = left < LEAST_BAR ? 0 : left > MOST_BAR ? MOST_BAR : left;
    }
}

static void print_head(FILE *out, const struct layout *layout)
{
    for (int32_t line = 0; line < 3; line++) {
        int32_t pending = fprintf(out, "%s", line == 1 ? label_head(layout->answer->unit) : "");
        pending = layout->label - pending; /* spaces owed before the next word: none trail */
        for (int32_t i = 0; i < figure_count; i++) {
            const char *unit = figures[i].kind == FIGURE_ENERGY ? "kWh" : "%";
            const char *head = line < 2 ? figures[i].head[line] : unit;
            if (!layout->width[i])
                continue;
            pending += layout->width[i] + GAP;
            if (*head) {
                fprintf(out, "%*s", pending, head);
                pending = 0;
            }
        }
        if (line == 1 && layout->source)
            fprintf(out, "%*s%s", GAP, "", "source");
        fputs("\n", out);
    }
}

static void print_row(FILE *out, const struct layout *layout, const char *label, const struct answer_row *row)
{
    char buffer[NUMBER_SIZE];
    fprintf(out, "%-*s", layout->label, label);
    for (int32_t i = 0; i < figure_count; i++)
        if (layout->width[i])
            fprintf(out, "%*s", layout->width[i] + GAP, print_cell(buffer, layout->answer, i, row));
    if (layout->source && *print_source(buffer, row))
        fprintf(out, "%*s%s", GAP, "", buffer);
}

static int64_t longest_bar(const struct answer *answer)
{
    int64_t longest = 0;
    for (int32_t r = 0; r < answer->row_count; r++) {
        int64_t length = bar_length(&answer->rows[r].balance);
        longest = length > longest ? length : longest;
    }
    return longest;
}

static void print_title(FILE *out, const struct answer *answer)
{
    char span[STAMP_SIZE], first[STAMP_SIZE], last[STAMP_SIZE];
    stamp_date(span, answer->civil, answer->from_s);
    if (strcmp(answer->name, "month") == 0)
        span[strlen("YYYY-MM")] = '\0';
    else if (strcmp(answer->name, "year") == 0)
        span[strlen("YYYY")] = '\0';
    stamp_offset(first, answer->civil, answer->from_s);
    stamp_offset(last, answer->civil, answer->to_s - 1);
    bool changes = strcmp(first, last) != 0;
    text_plain(out, answer->site.name, 0);
    fprintf(out, ", %s %s, %s (UTC%s%s%s)\n", answer->name, span, answer->site.zone, first,
            changes ? " and " : "", changes ? last : "");
    for (int32_t i = 0; i < answer->mark_count; i++)
        fprintf(out, "%s%s%s", i ? ", " : "", answer->marks[i], i + 1 < answer->mark_count ? "" : "\n");
}

void table_notes(FILE *out, int32_t count, const char (*notes)[NOTE_SIZE])
{
    for (int32_t i = 0; i < count; i++) {
        text_plain(out, notes[i], 0);
        fputs("\n", out);
    }
}

static void print_shares(FILE *out, const struct answer *answer)
{
    char number[NUMBER_SIZE];
    int64_t consumed = balance_self_consumption_share(&answer->total.balance);
    int64_t sufficient = balance_self_sufficiency_share(&answer->total.balance);
    if (consumed != UNKNOWN)
        fprintf(out, "self-consumption is %s %% of the production\n",
                number_print(number, consumed, SHARE_SCALE - 2, 1, 0));
    if (sufficient != UNKNOWN)
        fprintf(out, "self-sufficiency is %s %% of the consumption\n",
                number_print(number, sufficient, SHARE_SCALE - 2, 1, 0));
}

static void table_answer(FILE *out, const struct answer *answer, const struct options *options)
{
    char label[STAMP_SIZE], source[NUMBER_SIZE];
    struct layout layout = { .answer = answer, .terminal = terminal_of(options) };
    if (civil_offset(answer->civil, answer->from_s) != civil_offset(answer->civil, answer->to_s - 1))
        layout.clock |= STAMP_OFFSET;
    for (int32_t r = 0; answer->unit == ROW_INTERVAL && r < answer->row_count; r++)
        if (answer->rows[r].from_s % 60 != 0)
            layout.clock |= STAMP_SECONDS;
    measure(&layout);
    print_title(out, answer);
    table_notes(out, answer->note_count, answer->notes);
    fputs("\n", out);
    print_head(out, &layout);
    int64_t longest = layout.bar ? longest_bar(answer) : 0;
    for (int32_t r = 0; r < answer->row_count; r++) {
        print_row(out, &layout, print_label(label, &layout, answer->rows[r].from_s), &answer->rows[r]);
        if (bar_length(&answer->rows[r].balance) > 0 && layout.bar) {
            int32_t owed =
                layout.source ? layout.source - (int32_t)strlen(print_source(source, &answer->rows[r])) : 0;
            fprintf(out, "%*s", owed + GAP, "");
            bar_print(out, &answer->rows[r].balance, longest, layout.bar, &layout.terminal);
        }
        fputs("\n", out);
    }
    print_row(out, &layout, "total", &answer->total);
    fputs("\n\n", out);
    print_shares(out, answer);
    if (layout.bar)
        bar_legend(out, &layout.terminal);
}

const struct output output_table = { table_answer, table_present, table_sheet };
