/* Outages of grid, phases, computer, buses and meters: what was noted when it happened. Parts that stood
 * still are in the comparison of parts. */
#include "html.h"
#include "outages.h"
#include "report.h"

enum { AROUND_MS = 14 * 86400 * 1000, MOST = 40, HOUR_MS = 3600000 };

static const char *name_of(const struct answer *head, int32_t number)
{
    for (int32_t i = head->history.count - 1; i >= 0; i--)
        for (int32_t j = 0; j < head->history.arrangements[i].meter_count; j++)
            if (head->history.arrangements[i].meters[j].number == number)
                return head->history.arrangements[i].meters[j].name;
    return "";
}

static const char *print_hours(char number[NUMBER_SIZE], int64_t ms)
{
    return number_print(number, (ms + HOUR_MS / 20) / (HOUR_MS / 10), 1, 1, ',');
}

static void write_row(const struct report *report, const struct outages *outages, const struct outage *outage)
{
    const struct civil *civil = report->inquiry->session.civil;
    char at[WORDS_SIZE], number[NUMBER_SIZE], text[2 * CONFIG_NAME_SIZE + 40];
    const char *what = outage->kind == OUTAGE_BUS ? outage->bus
                       : outage->meter > 0        ? name_of(&report->inquiry->head, outage->meter)
                                                  : "";
    html_row_open(report->out);
    snprintf(text, sizeof(text), "%s%s%s%s%s", outage_kind_words[outage->kind], *what ? " " : "", what,
             outage->phase[0] ? " " : "", outage->phase);
    html_row_head(report->out, text);
    html_words(report->out, words_minute(at, civil, outage->from_ms / 1000));
    html_words(report->out,
               outage->to_ms == UNKNOWN ? "it lasts" : words_minute(at, civil, outage->to_ms / 1000));
    html_cell(report->out, print_hours(number, outage_end_ms(outages, outage) - outage->from_ms));
    html_row_close(report->out);
}

static void write_sums(const struct report *report, const struct outages *outages)
{
    char hours[NUMBER_SIZE];
    for (int32_t kind = 0; kind < OUTAGE_KINDS; kind++) {
        struct outage_sum sum = outages_sum(outages, (enum outage_kind)kind, report->inquiry->from_s * 1000,
                                            report->inquiry->to_s * 1000);
        if (sum.ms > 0 || sum.count > 0)
            report_sentence(report, "Of the %s: %d began in this span, together %s h of it.",
                            outage_kind_words[kind], (int)sum.count, print_hours(hours, sum.ms));
    }
}

static void write_section(struct report *report, const struct outages *outages)
{
    report_open(report);
    if (outages->count == 0) {
        report_sentence(report, "The record knows of none.");
        return;
    }
    write_sums(report, outages);
    if (outages->count > MOST)
        report_sentence(report, "The last %d:", MOST);
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Outages\"><table>\n",
          report->out);
    html_row_open(report->out);
    html_column(report->out, "outage of", NULL);
    html_column(report->out, "from", NULL);
    html_column(report->out, "to", NULL);
    html_column(report->out, "", "h");
    html_row_close(report->out);
    for (int32_t i = outages->count > MOST ? outages->count - MOST : 0; i < outages->count; i++)
        write_row(report, outages, &outages->list[i]);
    fputs("</table></div>\n", report->out);
}

bool section_outages(struct report *report)
{
    struct outages outages = { 0 };
    const struct inquiry *inquiry = report->inquiry;
    struct query *query = inquiry->session.query;
    const struct history *history = &inquiry->head.history;
    int64_t from_ms = inquiry->from_s * 1000, to_ms = inquiry->to_s * 1000;
    query_begin(query);
    outages_read(&outages, query, inquiry->session.now_ms);
    outages_keep(&outages, from_ms - AROUND_MS, to_ms + AROUND_MS);
    outages_infer(&outages, query, &history->arrangements[history->count - 1]);
    outages_cut(&outages, query);
    outages_keep(&outages, from_ms, to_ms);
    query_end(query);
    bool good = !query_error(query) && !outages.memory_out;
    if (good)
        write_section(report, &outages);
    else
        session_failed(&inquiry->session);
    outages_free(&outages);
    return good;
}
