/* The days on which most and least was made and consumed. */
#include "html.h"
#include "report.h"

struct list {
    const char *head;
    const struct report_day *days;
    int32_t count;
};

static void write_list(const struct report *report, const struct list *list)
{
    char day[WORDS_SIZE], energy[WORDS_SIZE], text[2 * WORDS_SIZE];
    for (int32_t i = 0; i < list->count; i++) {
        html_row_open(report->out);
        html_row_head(report->out, i ? "" : list->head);
        html_words(report->out, words_day(day, list->days[i].day));
        snprintf(text, sizeof(text), "%s%s",
                 words_energy(energy, list->days[i].energy, report_decimals(report)),
                 list->days[i].estimated ? ", estimated in part" : "");
        html_cell(report->out, text);
        html_row_close(report->out);
    }
}

bool section_days(struct report *report)
{
    const struct list lists[] = {
        { "most production", report->production.most, report->production.most_count },
        { "least production", report->production.least, report->production.least_count },
        { "most consumption", report->consumption.most, report->consumption.most_count },
        { "least consumption", report->consumption.least, report->consumption.least_count },
    };
    int32_t days = report->production.count > report->consumption.count ? report->production.count
                                                                        : report->consumption.count;
    if (report_is_day(report))
        return true;
    if (days <= REPORT_BEST) {
        report_omit(report, "Days of most and least", "the record has no more than %d whole days of the span",
                    REPORT_BEST);
        return true;
    }
    report_open(report);
    report_sentence(report, "Of the %d days of this span that the record saw for 95 %% or more:", (int)days);
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Days of most and "
          "least\"><table>\n",
          report->out);
    for (size_t i = 0; i < sizeof(lists) / sizeof(lists[0]); i++)
        write_list(report, &lists[i]);
    fputs("</table></div>\n", report->out);
    return true;
}
