/* Aligned text for people: notes first, units in the head, totals at the end. */
#include <stdlib.h>
#include <string.h>

#include "bar.h"
#include "figure.h"
#include "output.h"
#include "row_list.h"
#include "stamp.h"
#include "table.h"
#include "terminal.h"
#include "text.h"

enum { GAP = 2, MOST_DECIMALS = 3, LEAST_BAR = 12, MOST_BAR = 60, FREE_BAR = 30, MAX_FIGURES = 24 };

struct layout {
    const struct answer *answer;
    enum row_unit unit;
    bool streamed; /* rows are not there yet */
    struct terminal terminal;
    int32_t label;              /* columns of the first column */
    int32_t width[MAX_FIGURES]; /* 0: left out */
    int32_t source;             /* columns of who spoke for a row, 0 without */
    int32_t bar;                /* columns of the bar, 0 without */
    int clock;                  /* enum stamp_part of the first column */
    bool dated;                 /* the first column needs the date too */
    int64_t sum[MAX_FIGURES];   /* of the rows as printed, in last digits */
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
    char date[STAMP_SIZE], clock[STAMP_SIZE];
    switch (layout->unit) {
    case ROW_YEAR:
        return stamp_year(buffer, civil, from_s);
    case ROW_MONTH:
        return stamp_month(buffer, civil, from_s);
    case ROW_WEEK:
        return stamp_week(buffer, civil, from_s);
    case ROW_DAY:
        return stamp_date(buffer, civil, from_s);
    default:
        snprintf(buffer, STAMP_SIZE, "%.16s%s%.16s", layout->dated ? stamp_date(date, civil, from_s) : "",
                 layout->dated ? " " : "", stamp_clock(clock, civil, from_s, layout->clock));
        return buffer;
    }
}

static const char *label_head(enum row_unit unit)
{
    static const char *const heads[] = {
        [ROW_INTERVAL] = "from", [ROW_HOUR] = "hour",   [ROW_DAY] = "day",
        [ROW_WEEK] = "week",     [ROW_MONTH] = "month", [ROW_YEAR] = "year",
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

/* Of rows that are not there yet: no energy is longer than that of all of them, but for the sign. */
static void measure_streamed(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    char label[STAMP_SIZE];
    widen(&layout->label, print_label(label, layout, answer->from_s));
    for (int32_t i = 0; i < figure_count; i++)
        if (layout->width[i])
            widen(&layout->width[i], "-0.000");
    if (layout->source)
        widen(&layout->source, "sealed, prorated");
}

static void measure_rows(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    char buffer[NUMBER_SIZE], label[STAMP_SIZE];
    for (int32_t r = 0; r < answer->row_count; r++) {
        const struct answer_row *row = &answer->rows[r];
        widen(&layout->label, print_label(label, layout, row->from_s));
        for (int32_t i = 0; i < figure_count; i++)
            if (layout->width[i])
                widen(&layout->width[i], print_cell(buffer, answer, i, row));
        if (layout->source)
            widen(&layout->source, print_source(buffer, row));
    }
}

static void measure(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    char buffer[NUMBER_SIZE];
    layout->label = (int32_t)strlen("total");
    for (int32_t i = 0; i < figure_count; i++) {
        if (figures[i].kind == FIGURE_DATA || !figure_present(&figures[i], answer))
            continue;
        widen(&layout->width[i], figures[i].head[0]);
        widen(&layout->width[i], figures[i].head[1]);
        widen(&layout->width[i], print_cell(buffer, answer, i, &answer->total));
    }
    if (answer->total.sources & SOURCE_SEALED && layout->unit >= ROW_DAY) {
        widen(&layout->source, "source");
        widen(&layout->source, print_source(buffer, &answer->total));
    }
    if (layout->streamed)
        measure_streamed(layout);
    else
        measure_rows(layout);
}

/* What the terminal has room for. */
static void fit(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    int32_t columns = layout->terminal.columns;
    bool bars = layout->terminal.bars && !layout->streamed && bar_length(&answer->total.balance) > 0;
    if (columns > 0)
        narrow(layout, bars ? columns - LEAST_BAR - GAP : columns);
    if (bars) {
        int32_t left = columns > 0 ? columns - table_columns(layout) - GAP : FREE_BAR;
        layout->bar = left < LEAST_BAR ? 0 : left > MOST_BAR ? MOST_BAR : left;
    }
}

/* One line of the head: words over the figures' columns. */
static void print_head_line(FILE *out, const struct layout *layout, int32_t line)
{
    int32_t pending = fprintf(out, "%s", line == 1 ? label_head(layout->unit) : "");
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

static void print_head(FILE *out, const struct layout *layout)
{
    bool two = false;
    for (int32_t i = 0; i < figure_count; i++)
        two = two || (layout->width[i] && *figures[i].head[0]);
    for (int32_t line = two ? 0 : 1; line < 3; line++)
        print_head_line(out, layout, line);
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

static int64_t last_digits(const struct answer *answer, int32_t figure, int64_t value)
{
    return value == UNKNOWN
               ? 0
               : number_round(value, ENERGY_SCALE, figure_decimals(&figures[figure], answer, MOST_DECIMALS));
}

static void add_digits(struct layout *layout, const struct answer_row *row)
{
    for (int32_t i = 0; i < figure_count; i++)
        if (layout->width[i] && figures[i].kind == FIGURE_ENERGY)
            layout->sum[i] += last_digits(layout->answer, i, figures[i].value(row));
}

/* Whoever adds the rows up must know why the total is another. */
static bool adds_up(const struct layout *layout, const struct answer_row *total)
{
    for (int32_t i = 0; i < figure_count; i++)
        if (layout->width[i] && figures[i].kind == FIGURE_ENERGY &&
            layout->sum[i] != last_digits(layout->answer, i, figures[i].value(total)))
            return false;
    return true;
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
    char span[2 * STAMP_SIZE + 4], first[STAMP_SIZE], last[STAMP_SIZE];
    stamp_date(first, answer->civil, answer->from_s);
    stamp_date(last, answer->civil, answer->to_s - 1);
    bool days = strcmp(answer->name, "totals") == 0 && strcmp(first, last) != 0;
    snprintf(span, sizeof(span), "%s%s%s", first, days ? " to " : "", days ? last : "");
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

static void print_shares(FILE *out, const struct balance *total)
{
    char number[NUMBER_SIZE];
    int64_t consumed = balance_self_consumption_share(total);
    int64_t sufficient = balance_self_sufficiency_share(total);
    if (consumed != UNKNOWN)
        fprintf(out, "self-consumption is %s %% of the production\n",
                number_print(number, consumed, SHARE_SCALE - 2, 1, 0));
    if (sufficient != UNKNOWN)
        fprintf(out, "self-sufficiency is %s %% of the consumption\n",
                number_print(number, sufficient, SHARE_SCALE - 2, 1, 0));
}

/* What the first column must tell apart. */
static void choose_clock(struct layout *layout)
{
    const struct answer *answer = layout->answer;
    if (civil_offset(answer->civil, answer->from_s) != civil_offset(answer->civil, answer->to_s - 1))
        layout->clock |= STAMP_OFFSET;
    for (int32_t i = 0; layout->unit == ROW_INTERVAL && i < answer->history.count; i++)
        if (answer->history.arrangements[i].interval_s % 60 != 0)
            layout->clock |= STAMP_SECONDS;
    layout->dated =
        civil_day_of(answer->civil, answer->from_s) != civil_day_of(answer->civil, answer->to_s - 1);
}

static void print_bar(FILE *out, const struct layout *layout, const struct answer_row *row, int64_t longest)
{
    char source[NUMBER_SIZE];
    if (!layout->bar || bar_length(&row->balance) == 0)
        return;
    int32_t owed = layout->source ? layout->source - (int32_t)strlen(print_source(source, row)) : 0;
    fprintf(out, "%*s", owed + GAP, "");
    bar_print(out, &row->balance, longest, layout->bar, &layout->terminal);
}

static void table_answer(FILE *out, const struct answer *answer, struct walk *walk,
                         const struct options *options)
{
    char label[STAMP_SIZE];
    struct row_list list;
    const struct answer_row *row;
    row_list_begin(&list, answer, walk);
    struct layout layout = { .answer = answer,
                             .unit = row_list_unit(&list),
                             .streamed = walk != NULL,
                             .terminal = terminal_of(options) };
    choose_clock(&layout);
    measure(&layout);
    fit(&layout);
    print_title(out, answer);
    table_notes(out, answer->note_count, answer->notes);
    fputs("\n", out);
    print_head(out, &layout);
    int64_t longest = layout.bar ? longest_bar(answer) : 0;
    while ((row = row_list_next(&list)) != NULL) {
        print_row(out, &layout, print_label(label, &layout, row->from_s), row);
        print_bar(out, &layout, row, longest);
        add_digits(&layout, row);
        fputs("\n", out);
    }
    print_row(out, &layout, "total", &list.total);
    fputs("\n\n", out);
    print_shares(out, &list.total.balance);
    if (!adds_up(&layout, &list.total))
        fputs("rounded one by one: rows may add up to another last digit than the total, csv and json have "
              "all digits\n",
              out);
    if (layout.bar)
        bar_legend(out, &layout.terminal);
}

const struct output output_table = { table_answer, table_present, table_sheet };
