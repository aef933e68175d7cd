/* What every section writes itself with. */
#include <stdarg.h>

#include "html.h"
#include "report.h"

const char *const report_step_words[] = {
    [STEP_HOUR] = "hour",
    [STEP_DAY] = "day",
    [STEP_MONTH] = "month",
    [STEP_YEAR] = "year",
};

bool report_out_of_memory(void)
{
    fputs("meterbook: out of memory\n", stderr);
    return false;
}

void report_sentence(const struct report *report, const char *format, ...)
{
    char text[REPORT_SENTENCE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    fputs("<p>", report->out);
    html_text(report->out, text);
    fputs("</p>\n", report->out);
}

void report_omit(struct report *report, const char *head, const char *why, ...)
{
    if (report->omitted_count == REPORT_OMITTED)
        return;
    va_list arguments;
    va_start(arguments, why);
    vsnprintf(report->omitted[report->omitted_count].why, NOTE_SIZE, why, arguments);
    va_end(arguments);
    report->omitted[report->omitted_count++].head = head;
}

int32_t report_decimals(const struct report *report)
{
    return number_decimals_of_step(report->inquiry->head.coarsest_step, 3);
}

void report_open(struct report *report)
{
    if (report->opened)
        return;
    fprintf(report->out, "<section id=\"%s\">\n<h2>%s</h2>\n", report->id, report->title);
    report->opened = true;
}
