/* What the plant cost and what came back, added up over the years: realised, then projected. */
#include "html.h"
#include "picture.h"
#include "report_money.h"
#include "returns_views.h"
#include "stamp.h"

#include <stdlib.h>

enum { HEIGHT = 240, MOST_STEPS = 6, UNITS = 2000, MOST_LABELS = 12, MOST_NARROW = 6, TEXT_BELOW = 160 };

struct cash {
    const struct report *report;
    const struct returns *returns;
    int64_t from_day, to_day; /* across */
};

static int64_t net_of(const struct returns_flow *flow)
{
    return flow->cost + flow->saving + flow->operating;
}

static int32_t place(const struct cash *cash, int64_t day, int32_t whole)
{
    day = day < cash->from_day ? cash->from_day : day > cash->to_day ? cash->to_day : day;
    return (int32_t)((day - cash->from_day) * whole / (cash->to_day - cash->from_day));
}

static struct report_money_axis axis_of(const struct report *report, const struct returns *returns)
{
    int64_t sum = 0, low = 0, high = 0;
    for (int32_t i = 0; i < returns->flow_count; i++) {
        sum += net_of(&returns->flows[i]);
        low = sum < low ? sum : low;
        high = sum > high ? sum : high;
    }
    return report_money_axis(report, low, high, MOST_STEPS);
}

/* Steps over the flows that are realised or, from where those end, lines over those that are projected: a
 * year's saving comes evenly. */
static void draw_steps(struct svg *svg, const struct report_money_axis *axis, const struct cash *cash,
                       const char *class, bool projected, bool area)
{
    const struct returns *returns = cash->returns;
    int64_t sum = 0;
    int32_t i = 0;
    for (; projected && i < returns->flow_count && !returns->flows[i].projected; i++)
        sum += net_of(&returns->flows[i]);
    svg_path_open(svg, class);
    svg_path_move(svg, place(cash, projected ? returns->last_day : cash->from_day, UNITS),
                  svg_y(svg, &axis->scale, sum / axis->divisor));
    for (; i < returns->flow_count && returns->flows[i].projected == projected; i++) {
        const struct returns_flow *flow = &returns->flows[i];
        int32_t x = place(cash, flow->day, UNITS);
        sum += net_of(flow);
        if (flow->from_day == flow->day)
            svg_path_x(svg, x);
        svg_path_line(svg, x, svg_y(svg, &axis->scale, sum / axis->divisor));
    }
    svg_path_x(svg, place(cash, projected ? cash->to_day : returns->last_day, UNITS));
    if (area) {
        svg_path_y(svg, svg_y(svg, &axis->scale, 0));
        svg_path_shut(svg);
    }
    svg_path_close(svg);
}

static void draw_years(struct svg *svg, const struct cash *cash)
{
    char label[WORDS_SIZE];
    int32_t first, last, month, day;
    civil_date(cash->from_day, &first, &month, &day);
    civil_date(cash->to_day, &last, &month, &day);
    int32_t every = (last - first) / MOST_LABELS + 1, count = 0;
    for (int32_t year = first + 1; year <= last; year += every, count++) {
        snprintf(label, sizeof(label), "%04d", (int)year);
        svg_label(svg, place(cash, civil_day_number(year, 1, 1), SVG_WHOLE), label,
                  (last - first) / every > MOST_NARROW && count % 2 == 1);
    }
}

/* Where the sum reaches nothing: beside it, where the line is not. */
static void draw_payback(struct svg *svg, const struct report_money_axis *axis, const struct cash *cash)
{
    char text[2 * WORDS_SIZE], day[WORDS_SIZE];
    int32_t x = place(cash, cash->returns->payback_day, SVG_WHOLE), y = svg_y(svg, &axis->scale, 0);
    bool left = x > SVG_WHOLE / 2;
    if (cash->returns->payback_day == UNKNOWN)
        return;
    snprintf(text, sizeof(text), "paid back: %s", words_day(day, cash->returns->payback_day));
    svg_dot(svg, "dot", x, y);
    svg_text(svg, left ? "ml" : "mr", left ? x - 100 : x + 100, left ? y - TEXT_BELOW / 2 : y + TEXT_BELOW,
             text);
}

static void draw(const struct cash *cash, const char *sentence)
{
    const struct report *report = cash->report;
    const struct returns *returns = cash->returns;
    const struct report_money_axis axis = axis_of(report, returns);
    char title[REPORT_SENTENCE], unit[WORDS_SIZE];
    struct svg svg;
    snprintf(title, sizeof(title), "Cost and savings added up, %s", report->span);
    picture_open(report);
    svg_open(&svg, report->out, "picture-cash", HEIGHT, title, sentence);
    svg_plot_open(&svg, "f", UNITS, svg.height);
    draw_steps(&svg, &axis, cash, "cash", false, true);
    svg_plot_close(&svg);
    svg_axis(&svg, &axis.scale, axis.unit);
    svg_plot_open(&svg, "l", UNITS, svg.height);
    draw_steps(&svg, &axis, cash, "line", false, false);
    if (returns->has_projection)
        draw_steps(&svg, &axis, cash, "ahead", true, false);
    svg_plot_close(&svg);
    draw_years(&svg, cash);
    if (returns->has_projection) {
        int32_t x = place(cash, returns->last_day, SVG_WHOLE);
        svg_mark(&svg, x, x > SVG_WHOLE / 2 ? "realised until here" : "projected from here",
                 x > SVG_WHOLE / 2);
    }
    draw_payback(&svg, &axis, cash);
    svg_close(&svg);
    const struct picture_key keys[] = {
        { true, "cash", "solid, shaded: realised, from bills" },
        { returns->has_projection, "key-line key-ahead", "dashed: projected, not yet earned" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    report_sentence(report,
                    "The line is all that was saved less all that was paid for the plant: below nothing "
                    "until it is paid back, above it what it has earned since.%s",
                    report_money_unit(report, &axis, unit));
    picture_close(report, sentence);
}

/* ---- words and tables ---- */

static void say(const struct cash *cash, char sentence[REPORT_SENTENCE])
{
    const struct returns *returns = cash->returns;
    const struct report *report = cash->report;
    char day[WORDS_SIZE], back[WORDS_SIZE], saved[WORDS_SIZE], paid[WORDS_SIZE], share[WORDS_SIZE],
        end[WORDS_SIZE];
    int32_t at =
        snprintf(sentence, REPORT_SENTENCE, "Realised up to %s: %s saved of %s paid for the plant (%s). ",
                 words_day(day, returns->last_day), report_amount(report, saved, returns->saved),
                 report_amount(report, paid, returns->paid),
                 words_share(share, number_share(returns->saved, returns->paid)));
    size_t room = (size_t)(REPORT_SENTENCE - at);
    if (returns->payback_day != UNKNOWN && !returns->payback_projected)
        snprintf(sentence + at, room, "It was paid back on %s.", words_day(back, returns->payback_day));
    else if (returns->payback_day != UNKNOWN)
        snprintf(sentence + at, room,
                 "Projected, not yet earned: the plant is paid back by %s, and its life ends on %s.",
                 words_day(back, returns->payback_day), words_day(end, returns->end_day));
    else if (returns->has_projection)
        snprintf(sentence + at, room, "Projected: it is never paid back within its life, which ends on %s.",
                 words_day(end, returns->end_day));
    else
        snprintf(sentence + at, room, "It is not paid back yet; nothing is projected.");
}

static void write_figure(const struct report *report, const struct returns_figure *figure)
{
    char number[NUMBER_SIZE], text[WORDS_SIZE] = "-";
    if (figure->amount != UNKNOWN)
        snprintf(text, sizeof(text), "%s %s", report_amount_cell(report, number, figure->amount),
                 report->money->bills.tariff->currency);
    else if (figure->share != UNKNOWN)
        snprintf(text, sizeof(text), "%s %%", number_print(number, figure->share, SHARE_SCALE - 2, 2, 0));
    else if (figure->day != UNKNOWN)
        words_day(text, figure->day);
    html_row_open(report->out);
    html_row_head(report->out, figure->name);
    html_words(report->out, figure->projected ? "projected" : "realised");
    html_cell(report->out, text);
    html_row_close(report->out);
}

static void write_figures(const struct cash *cash)
{
    const struct report *report = cash->report;
    const struct contract_projection *projection = &report->money->bills.contract->projection;
    struct returns_figure list[RETURNS_FIGURES];
    const char *words = returns_rate_words(cash->returns);
    int32_t count = returns_figures(cash->returns, projection, list);
    fputs(
        "<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Figures of the return\"><table>\n",
        report->out);
    html_row_open(report->out);
    html_column(report->out, "figure", "");
    html_column(report->out, "known", NULL);
    html_column(report->out, "value", "");
    html_row_close(report->out);
    for (int32_t i = 0; i < count; i++)
        write_figure(report, &list[i]);
    fputs("</table></div>\n", report->out);
    if (words)
        report_sentence(report, "Note: %s.", words);
}

static void write_years(const struct cash *cash)
{
    const struct report *report = cash->report;
    static const char *const heads[] = { "cost", "saving", "operating", "sum so far" };
    struct returns_year year;
    char number[NUMBER_SIZE];
    html_table_open(report->out, "Table by the year");
    html_row_open(report->out);
    html_column(report->out, "year", "");
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++)
        html_column(report->out, heads[i], report->money->bills.tariff->currency);
    html_column(report->out, "known", NULL);
    html_row_close(report->out);
    for (int32_t at = 0; returns_next_year(cash->returns, &at, &year);) {
        const int64_t amounts[] = { year.cost, year.saving, year.operating, year.sum };
        html_row_open(report->out);
        html_row_head(report->out, number_print(number, year.year, 0, 0, 0));
        for (size_t i = 0; i < sizeof(amounts) / sizeof(amounts[0]); i++)
            html_cell(report->out, report_amount_cell(report, number, amounts[i]));
        html_words(report->out, !year.projected ? "realised" : !year.realised ? "projected" : "both");
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

static void write_notes(const struct cash *cash)
{
    const struct report *report = cash->report;
    const struct returns *returns = cash->returns;
    const struct contract_projection *projection = &report->money->bills.contract->projection;
    char a[NUMBER_SIZE], b[NUMBER_SIZE], c[NUMBER_SIZE], day[WORDS_SIZE];
    report_sentence(report, "This is %s; it is no tax advice and no offer.", bills_estimate);
    if (returns->year_days < REPORT_YEAR_DAYS - REPORT_MONTH_DAYS)
        report_sentence(report,
                        "Less than a year of bills is known: a year made of %d days leaves seasons out.",
                        (int)returns->year_days);
    if (returns->has_projection)
        report_sentence(
            report,
            "Projected is the last year of bills, changed by %s %% a year for ageing and by %s %% for the "
            "tariff, discounted at %s %%; each year counts at its end.",
            number_print(a, -projection->degradation, 4, 2, 0),
            number_print(b, projection->escalation, 4, 2, 0), number_print(c, projection->discount, 4, 2, 0));
    if (report->has_seam)
        report_sentence(report, "Savings up to %s are from readings of sealed meters.",
                        words_day(day, civil_day_of(report->inquiry->session.civil, report->seam_s)));
    if (report->money->savings.left_out > 0)
        report_sentence(report, "%d bills cannot be made both ways and count nothing.",
                        (int)report->money->savings.left_out);
}

static bool write_section(struct report *report, struct returns *returns)
{
    char sentence[REPORT_SENTENCE];
    if (!savings_returns(&report->money->savings, report->money->bills.contract, returns))
        return false;
    if (returns->paid <= 0) {
        report_omit(report, "Cost and return", "the contract names no cost of the plant");
        return true;
    }
    const struct cash cash = { .report = report,
                               .returns = returns,
                               .from_day = returns->first_day,
                               .to_day = returns->has_projection && returns->end_day > returns->last_day
                                             ? returns->end_day
                                             : returns->last_day };
    report_open(report);
    say(&cash, sentence);
    draw(&cash, sentence);
    write_figures(&cash);
    write_notes(&cash);
    write_years(&cash);
    return true;
}

bool section_cash(struct report *report)
{
    const struct period *period = &report->inquiry->period;
    if (!report->money || report->money->savings.count == 0 ||
        period->to_day - period->from_day < REPORT_YEAR_DAYS)
        return true;
    struct returns *returns = calloc(1, sizeof(*returns));
    bool good = returns ? write_section(report, returns) : report_out_of_memory();
    free(returns);
    return good;
}
