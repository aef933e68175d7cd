/* What a page begins with: the site, the span, what must be known of every figure below; and the totals. */
#include <string.h>

#include "figure.h"
#include "html.h"
#include "report.h"
#include "stamp.h"

enum { MONTH_S = 30 * 86400 };

static void write_marks(struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    if (head->mark_count == 0)
        return;
    fputs("<ul class=\"marks\" aria-label=\"What holds for every figure of this page\">\n", report->out);
    for (int32_t i = 0; i < head->mark_count; i++) {
        fputs("<li>", report->out);
        html_text(report->out, head->marks[i]);
        fputs("</li>\n", report->out);
    }
    fputs("</ul>\n", report->out);
}

static void write_notes(struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    if (head->note_count == 0)
        return;
    fputs("<ul class=\"notes\">\n", report->out);
    for (int32_t i = 0; i < head->note_count; i++) {
        fputs("<li>", report->out);
        html_text(report->out, head->notes[i]);
        fputs("</li>\n", report->out);
    }
    fputs("</ul>\n", report->out);
}

void report_head(struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    char first[STAMP_SIZE], last[STAMP_SIZE];
    stamp_offset(first, head->civil, head->from_s);
    /* summer time lies within a year */
    int64_t other_s = head->from_s;
    for (; other_s < head->to_s - MONTH_S; other_s += MONTH_S)
        if (civil_offset(head->civil, other_s) != civil_offset(head->civil, head->from_s))
            break;
    stamp_offset(last, head->civil, other_s < head->to_s - MONTH_S ? other_s : head->to_s - 1);
    bool changes = strcmp(first, last) != 0;
    fputs("<header>\n<h1>", report->out);
    html_text(report->out, head->site.name);
    fprintf(report->out, " <span>%s</span></h1>\n", report->span);
    report_sentence(report, "Time zone %s (UTC%s%s%s).", head->site.zone, first, changes ? " and " : "",
                    changes ? last : "");
    write_marks(report);
    write_notes(report);
    fputs("</header>\n", report->out);
}

/* What was made, and where it went. */
static void write_made(struct report *report)
{
    const struct balance *total = &report->inquiry->head.total.balance;
    char made[WORDS_SIZE], kept[WORDS_SIZE], share[WORDS_SIZE], sold[WORDS_SIZE];
    int32_t most = report_decimals(report);
    if (total->production == UNKNOWN) {
        report_sentence(report, "What was made is not known.");
        return;
    }
    words_energy(made, total->production, most);
    if (total->self_consumption == UNKNOWN)
        report_sentence(report, "The plant made %s.", made);
    else if (total->self_consumption < 0) /* what that is about stands in the notes */
        report_sentence(report, "The plant made %s and %s was exported.", made,
                        words_energy(sold, total->export, most));
    else
        report_sentence(report, "The plant made %s: %s of it (%s) was consumed on site and %s exported.",
                        made, words_energy(kept, total->self_consumption, most),
                        words_share(share, balance_self_consumption_share(total)),
                        words_energy(sold, total->export, most));
}

static void write_used(struct report *report)
{
    const struct balance *total = &report->inquiry->head.total.balance;
    char used[WORDS_SIZE], bought[WORDS_SIZE], sold[WORDS_SIZE], share[WORDS_SIZE];
    int32_t most = report_decimals(report);
    words_energy(bought, total->import, most);
    if (balance_self_sufficiency_share(total) != UNKNOWN && total->import != UNKNOWN)
        report_sentence(report,
                        "The site consumed %s and imported %s; %s of its consumption was not imported.",
                        words_energy(used, total->consumption, most), bought,
                        words_share(share, balance_self_sufficiency_share(total)));
    else if (total->import == UNKNOWN && total->export == UNKNOWN && total->consumption == UNKNOWN)
        report_sentence(report, "Consumption, import and export are not known.");
    else if (total->consumption == UNKNOWN || total->import != UNKNOWN)
        report_sentence(report, "Import was %s, export %s.", bought, words_energy(sold, total->export, most));
    else
        report_sentence(report, "The site consumed %s.", words_energy(used, total->consumption, most));
}

bool section_totals(struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    char number[NUMBER_SIZE];
    report_open(report);
    write_made(report);
    write_used(report);
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Totals\"><table>\n",
          report->out);
    for (int32_t i = 0; i < figure_count; i++) {
        const struct figure *figure = &figures[i];
        int64_t value = figure->value(&head->total);
        if (figure->kind == FIGURE_DATA || !figure_present(figure, head) || value == UNKNOWN ||
            (value == 0 && figure->rank == FIGURE_LAST_RANK))
            continue;
        html_row_open(report->out);
        fputs("<th scope=\"row\">", report->out);
        html_print(report->out, "%s%s", figure->head[0], figure->head[1]);
        fputs("</th>", report->out);
        bool energy = figure->kind == FIGURE_ENERGY;
        if (figure->kind == FIGURE_CUT_SHARE)
            value -= value % (SHARE_ONE / 1000);
        number_print(number, value, energy ? ENERGY_SCALE : SHARE_SCALE - 2,
                     energy ? figure_decimals(figure, head, 3) : 1, energy ? ',' : 0);
        fputs("<td>", report->out);
        html_print(report->out, "%s %s", number, energy ? "kWh" : "%");
        fputs("</td>", report->out);
        html_row_close(report->out);
    }
    fputs("</table></div>\n", report->out);
    return true;
}
