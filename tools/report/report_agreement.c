/* Do the sealed meters agree: a row a register. */
#include "agreement.h"
#include "html.h"
#include "report.h"

static void write_row(const struct report *report, const struct agreement *agreement,
                      const struct agreement_register *of)
{
    const struct agreement_row *whole = &of->whole;
    char number[NUMBER_SIZE], text[AGREEMENT_TEXT_SIZE];
    bool compared = whole->verdict != VERDICT_NONE;
    bool open = whole->allowance.open_theirs + whole->allowance.open_ours > 0;
    html_row_open(report->out);
    snprintf(text, sizeof(text), "%.100s, %s", agreement->config->sealed[whole->sealed].name,
             sealed_register_words[whole->reg]);
    html_row_head(report->out, text);
    html_cell(report->out, number_print(number, of->count - of->verdicts[VERDICT_NONE], 0, 0, 0));
    html_cell(report->out,
              whole->theirs == UNKNOWN ? NULL : number_print(number, whole->theirs, ENERGY_SCALE, 0, ','));
    html_cell(report->out,
              whole->ours == UNKNOWN ? NULL : number_print(number, whole->ours, ENERGY_SCALE, 0, ','));
    html_cell(report->out,
              !compared ? NULL
                        : number_print(number, number_share(whole->ours - whole->theirs, whole->theirs),
                                       SHARE_SCALE - 2, 2, 0));
    html_cell(report->out, !compared || open ? NULL
                                             : number_print(number, number_share(whole->worst, whole->theirs),
                                                            SHARE_SCALE - 2, 2, 0));
    html_words(report->out, agreement_verdict_words[whole->verdict]);
    html_row_close(report->out);
}

static void write_notes(const struct report *report, const struct agreement *agreement)
{
    char text[AGREEMENT_TEXT_SIZE];
    bool differs = false;
    for (int32_t i = 0; i < agreement->register_count; i++) {
        const struct agreement_register *of = &agreement->registers[i];
        const char *name = agreement->config->sealed[of->whole.sealed].name;
        const char *reg = sealed_register_words[of->whole.reg];
        report_sentence(report, "%s, %s: %s.", name, reg, agreement_whole_text(text, of));
        if (of->unlike > 0)
            report_sentence(report, "%s, %s: unlike the others: %d of %d periods.", name, reg,
                            (int)of->unlike, (int)(of->count - of->verdicts[VERDICT_NONE]));
        if (of->verdicts[VERDICT_NONE] < of->count)
            report_sentence(report, "%s, %s, drift: %s.", name, reg,
                            agreement_drift_text(text, report->inquiry->session.civil, &of->drift));
        differs = differs || of->verdicts[VERDICT_DIFFERS] > 0;
    }
    if (differs)
        report_sentence(report,
                        "A difference accuses nobody: reading time, multiplying factor, phase method and "
                        "loads ahead of our transformers come first; 'meterbook agreement' names what fits.");
}

static void write_section(struct report *report, const struct agreement *agreement)
{
    static const char *const heads[][2] = { { "register", "" }, { "periods", "" },     { "theirs", "kWh" },
                                            { "ours", "kWh" },  { "difference", "%" }, { "allowed", "%" },
                                            { "verdict", NULL } };
    report_open(report);
    fputs("<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"Agreement of sealed "
          "meters\"><table>\n",
          report->out);
    html_row_open(report->out);
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++)
        html_column(report->out, heads[i][0], heads[i][1]);
    html_row_close(report->out);
    for (int32_t i = 0; i < agreement->register_count; i++)
        write_row(report, agreement, &agreement->registers[i]);
    fputs("</table></div>\n", report->out);
    write_notes(report, agreement);
}

bool section_agreement(struct report *report)
{
    struct agreement agreement = { 0 };
    const struct inquiry *inquiry = report->inquiry;
    struct session *session = &report->inquiry->session;
    if (!session->config || session->config->sealed_count == 0 || !session->logbook) {
        report_omit(report, "Agreement of sealed meters", "%s",
                    session->config ? "the configuration names none with readings in a logbook"
                                    : "it needs the configuration that names them");
        return true;
    }
    bool good = agreement_read(&agreement, session, -1, inquiry->from_s, inquiry->to_s) == 0;
    if (!good)
        session_failed(session);
    else if (agreement.count == 0)
        report_omit(report, "Agreement of sealed meters",
                    "no two readings of one lie in the part of this span that the record has");
    else
        write_section(report, &agreement);
    agreement_free(&agreement);
    return good;
}
