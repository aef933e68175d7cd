/* How well the plant did: yield per kWp, capacity factors, and what was promised. */
#include <math.h>

#include "expected.h"
#include "html.h"
#include "report.h"

/* Percent of a share that may not be known. */
static const char *percent(char buffer[NUMBER_SIZE], double share)
{
    return isnan(share) ? NULL : number_print(buffer, llround(share * SHARE_ONE), SHARE_SCALE - 2, 1, 0);
}

static const char *thousandths(char buffer[NUMBER_SIZE], double value, int32_t decimals)
{
    return isnan(value) ? NULL : number_print(buffer, llround(value * 1000), 3, decimals, ',');
}

static void say_yield(const struct report *report, const struct yield *yield)
{
    const struct yield_row *total = &yield->total;
    const struct inquiry *inquiry = report->inquiry;
    char kwh[NUMBER_SIZE], share[NUMBER_SIZE], ac[NUMBER_SIZE];
    int64_t known = number_share_down(total->known_s, inquiry->to_s - inquiry->from_s);
    bool partial = known < SHARE_ONE - SHARE_ONE / 100;
    report_sentence(report, "The plant made %s kWh per kWp (final yield)%s%s%s.",
                    thousandths(kwh, total->per_kwp, 0), partial ? ", in the " : "",
                    partial ? number_print(share, known, SHARE_SCALE - 2, 0, 0) : "",
                    partial ? " % of the span that is known" : "");
    if (!isnan(total->capacity_peak))
        report_sentence(report, "Capacity factor: %s %% of kWp%s%s%s.", percent(share, total->capacity_peak),
                        isnan(total->capacity_ac) ? "" : ", ",
                        isnan(total->capacity_ac) ? "" : percent(ac, total->capacity_ac),
                        isnan(total->capacity_ac) ? "" : " % of the inverters' AC rating");
    report_sentence(report, "This is no performance ratio: that takes irradiance, see 'meterbook yield'.");
}

static void write_expected_row(const struct report *report, const struct expected_row *row, const char *name)
{
    char number[NUMBER_SIZE];
    double made = row->made == UNKNOWN ? NAN : (double)row->made / 1e6;
    html_row_open(report->out);
    html_row_head(report->out, name);
    html_cell(report->out, thousandths(number, made, 1));
    html_cell(report->out, thousandths(number, row->expected, 0));
    html_cell(report->out, row->expected > 0 ? percent(number, made / row->expected - 1) : NULL);
    html_cell(report->out, percent(number, fmin(row->known, 1)));
    html_row_close(report->out);
}

static void write_expected(const struct report *report, const struct expected *expected)
{
    static const char *const words[] = {
        [EXPECTED_BELOW] = "below what was promised, by more than the promise's own uncertainty",
        [EXPECTED_WITHIN] = "within the promise's own uncertainty",
        [EXPECTED_ABOVE] = "above what was promised, by more than the promise's own uncertainty",
    };
    char made[NUMBER_SIZE], promised[NUMBER_SIZE], name[WORDS_SIZE];
    const struct expected_row *total = &expected->total;
    fputs("<h3>Made and promised</h3>\n", report->out);
    report_sentence(report, "Of the days that are known %s kWh were promised and %s kWh made%s%s.",
                    thousandths(promised, total->expected, 0),
                    total->made == UNKNOWN ? "-" : number_print(made, total->made, ENERGY_SCALE, 0, ','),
                    expected->verdict == EXPECTED_NO_VERDICT ? "" : ": ",
                    expected->verdict == EXPECTED_NO_VERDICT ? "" : words[expected->verdict]);
    html_table_open(report->out, "Table of what was promised");
    html_row_open(report->out);
    html_column(report->out, "month", "");
    html_column(report->out, "made", "kWh");
    html_column(report->out, "promised", "kWh");
    html_column(report->out, "difference", "%");
    html_column(report->out, "of it known", "%");
    html_row_close(report->out);
    for (int32_t i = 0; i < expected->row_count; i++) {
        int32_t year, month, day;
        civil_date(expected->rows[i].from_day, &year, &month, &day);
        snprintf(name, sizeof(name), "%s %04d", words_months[month - 1], (int)year);
        write_expected_row(report, &expected->rows[i], name);
    }
    if (expected->row_count > 1)
        write_expected_row(report, total, "total");
    html_table_close(report->out);
}

static bool write_section(struct report *report, struct yield *yield)
{
    struct expected expected = { 0 };
    const struct inquiry *inquiry = report->inquiry;
    yield->has_light = true; /* no clear days are looked for: they take a walk over the whole record */
    bool good = yield_add_up(yield, inquiry, ROW_MONTH) &&
                expected_find(&expected, yield, inquiry->session.civil, ROW_MONTH);
    if (good && isnan(yield->total.per_kwp)) {
        report_omit(report, "Yield", "the peak power of the plant is not stated in the configuration");
    } else if (good) {
        report_open(report);
        say_yield(report, yield);
        if (isnan(expected.total.expected))
            report_omit(report, "Made and promised",
                        "nothing was promised: see 'expected' in meterbook.conf(5)");
        else
            write_expected(report, &expected);
    }
    expected_free(&expected);
    return good;
}

bool section_yield(struct report *report)
{
    struct yield yield = { 0 };
    if (report->inquiry->head.total.balance.production == UNKNOWN) {
        report_omit(report, "Yield", "what was made is not known");
        return true;
    }
    bool good = yield_read(&yield, report->inquiry);
    if (good && yield.day_count == 0)
        report_omit(report, "Yield", "no day of it is known");
    else if (good)
        good = write_section(report, &yield);
    yield_free(&yield);
    return good;
}
