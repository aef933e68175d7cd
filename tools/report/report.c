#include "report.h"

#include "html.h"
#include "page.h"
#include "report_money.h"

/* In the order of the page. */
static const struct {
    const char *id, *head;
    report_section *write;
} sections[] = {
    { "totals", "Totals", section_totals },
    { "bars", "Production and consumption", section_bars },
    { "curve", "The course of a day", section_curve },
    { "hours", "Hours of all days", section_rasters },
    { "days", "Days of most and least", section_days },
    { "demand", "Highest demand", section_demand },
    { "duration", "Load duration", section_duration },
    { "yield", "Yield", section_yield },
    { "parts", "Comparison of parts", section_parts },
    { "voltage", "Voltage", section_voltage },
    { "agreement", "Agreement of sealed meters", section_agreement },
    { "outages", "Outages", section_outages },
    { "completeness", "Completeness of the record", section_completeness },
    { "savings", "Bills and savings", section_savings },
    { "cash", "Cost and return", section_cash },
    { "sweep", "Sizes of the plant", section_sweep },
    { "bill", "The latest bill", section_bill },
    { "omitted", "What is not in this page", section_omitted },
};

enum { SECTION_COUNT = sizeof(sections) / sizeof(sections[0]) };

bool section_omitted(struct report *report)
{
    if (report->omitted_count == 0)
        return true;
    report_open(report);
    fputs("<ul>\n", report->out);
    for (int32_t i = 0; i < report->omitted_count; i++) {
        fputs("<li>", report->out);
        html_print(report->out, "%s: %s.", report->omitted[i].head, report->omitted[i].why);
        fputs("</li>\n", report->out);
    }
    fputs("</ul>\n", report->out);
    return true;
}

static void write_foot(struct report *report)
{
    char at[WORDS_SIZE];
    const struct session *session = &report->inquiry->session;
    fputs("<footer>\n", report->out);
    report_sentence(report,
                    "Made on %s by meterbook " METERBOOK_VERSION ", from the record; energies in kWh, "
                    "days and hours of the site's clock.",
                    words_minute(at, session->civil, session->now_ms / 1000));
    report_sentence(report, "Consumption by the hour tells when somebody is at home: whoever may read this "
                            "page knows it too.");
    fputs("</footer>\n", report->out);
}

bool report_write(struct report *report, FILE *out)
{
    char title[CONFIG_NAME_SIZE + WORDS_SIZE + 4];
    bool good = true;
    report->out = out;
    snprintf(title, sizeof(title), "%s, %s", report->inquiry->head.site.name, report->span);
    page_open(out, title);
    report_head(report);
    fputs("<main>\n", out);
    for (int32_t i = 0; good && i < SECTION_COUNT; i++) {
        report->id = sections[i].id;
        report->title = sections[i].head;
        report->opened = false;
        good = sections[i].write(report);
        if (report->opened)
            fputs("</section>\n", out);
    }
    fputs("</main>\n", out);
    write_foot(report);
    page_close(out);
    return good;
}
