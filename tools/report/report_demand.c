/* Highest demand: the import of windows of 15 and 30 minutes. */
#include "html.h"
#include "report.h"

static void write_peak(const struct report *report, const struct demand_peak *peak, int64_t length_s)
{
    char power[WORDS_SIZE], at[WORDS_SIZE], text[2 * WORDS_SIZE];
    if (peak->energy == UNKNOWN) {
        html_cell(report->out, NULL);
        html_words(report->out, NULL);
        return;
    }
    snprintf(text, sizeof(text), "%s%s", demand_at_least(peak) ? "at least " : "",
             words_power(power, demand_power(peak, length_s)));
    html_cell(report->out, text);
    html_words(report->out, words_minute(at, report->inquiry->session.civil, peak->start_s));
}

bool section_demand(struct report *report)
{
    const struct demand_peak *first = &report->demand.span.peaks[0][DEMAND_ALIGNED];
    char power[WORDS_SIZE], at[WORDS_SIZE];
    if (first->energy == UNKNOWN) {
        report_omit(report, "Highest demand",
                    "the record watched import in no window of 15 minutes from begin to end");
        return true;
    }
    report_open(report);
    report_sentence(report, "The highest demand of 15 minutes on the site's clock was %s%s, from %s.",
                    demand_at_least(first) ? "at least " : "",
                    words_power(power, demand_power(first, report_windows_s[0])),
                    words_minute(at, report->inquiry->session.civil, first->start_s));
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Highest demand\"><table>\n",
          report->out);
    html_row_open(report->out);
    html_column(report->out, "window", "");
    html_column(report->out, "on the clock", "");
    html_column(report->out, "from", NULL);
    html_column(report->out, "at any offset", "");
    html_column(report->out, "from", NULL);
    html_row_close(report->out);
    for (int32_t i = 0; i < REPORT_WINDOWS; i++) {
        html_row_open(report->out);
        snprintf(power, sizeof(power), "%d min", (int)(report_windows_s[i] / 60));
        html_row_head(report->out, power);
        for (int32_t o = 0; o < DEMAND_OFFSETS; o++)
            write_peak(report, &report->demand.span.peaks[i][o], report_windows_s[i]);
        html_row_close(report->out);
    }
    fputs("</table></div>\n", report->out);
    return true;
}
