/* How complete the record is: a band a meter, a cell a month, darker the less of it was observed. */
#include "completeness_read.h"
#include "html.h"
#include "picture.h"

enum { ROW = 340, NAME_BELOW = 110, BAND = 160, BAND_END = 310, LEVELS = 4 };

static const struct {
    int64_t least; /* millionths observed */
    const char *class, *words;
} levels[LEVELS] = {
    { 999000, "f-nothing", "99.9 % or more" },
    { 990000, "f-i2", "99 to 99.9 %" },
    { 900000, "f-i4", "90 to 99 %" },
    { 0, "f-i6", "less than 90 %" },
};

/* NULL where the meter was not to be read. */
static const char *class_of(int64_t observed)
{
    for (int32_t i = 0; i < LEVELS; i++)
        if (observed != UNKNOWN && observed >= levels[i].least)
            return levels[i].class;
    return NULL;
}

static void draw_meter(struct svg *svg, const struct report *report, const struct completeness *completeness,
                       int32_t m)
{
    int32_t top = m * ROW;
    svg_text(svg, "n", 0, top + NAME_BELOW, completeness->meters[m].name);
    for (int32_t i = 0; i < completeness->month_count;) {
        int32_t first = i;
        const char *class = class_of(completeness_observed(completeness_cell(completeness, i, m)));
        while (i < completeness->month_count &&
               class == class_of(completeness_observed(completeness_cell(completeness, i, m))))
            i++;
        int32_t from = picture_span_place(report, completeness->months[first].from_s);
        int32_t to = picture_span_place(report, completeness->months[i - 1].to_s);
        if (class)
            svg_rect(svg, class, from, to - from, top + BAND, top + BAND_END);
    }
    putc('\n', report->out);
}

static void draw(const struct report *report, const struct completeness *completeness, const char *sentence)
{
    char title[REPORT_SENTENCE];
    struct svg svg;
    struct picture_key keys[LEVELS];
    snprintf(title, sizeof(title), "Share of the time in which each meter was observed, by month, %s",
             report->span);
    picture_open(report);
    svg_open(&svg, report->out, "picture-completeness", completeness->meter_count * ROW / 10, title,
             sentence);
    for (int32_t m = 0; m < completeness->meter_count; m++)
        draw_meter(&svg, report, completeness, m);
    picture_slots(&svg, report, picture_span_place);
    if (report->has_seam)
        picture_seam(&svg, report, picture_span_place(report, report->seam_s));
    svg_close(&svg);
    for (int32_t i = 0; i < LEVELS; i++)
        keys[i] = (struct picture_key){ true, levels[i].class, levels[i].words };
    picture_keys(report->out, keys, LEVELS);
    picture_close(report, sentence);
}

/* The cell of which the least was observed. */
static void say(const struct report *report, const struct completeness *completeness,
                char sentence[REPORT_SENTENCE])
{
    int64_t least = UNKNOWN;
    int32_t meter = 0, month = 0, year, number, day;
    char share[NUMBER_SIZE];
    for (int32_t i = 0; i < completeness->month_count; i++)
        for (int32_t m = 0; m < completeness->meter_count; m++) {
            int64_t observed = completeness_observed(completeness_cell(completeness, i, m));
            if (observed == UNKNOWN || (least != UNKNOWN && observed >= least))
                continue;
            least = observed;
            meter = m;
            month = i;
        }
    if (least == UNKNOWN || least == SHARE_ONE) {
        snprintf(sentence, REPORT_SENTENCE, "Every meter was observed all the time.");
        return;
    }
    civil_date(civil_day_of(report->inquiry->session.civil, completeness->months[month].from_s), &year,
               &number, &day);
    snprintf(sentence, REPORT_SENTENCE, "Least was observed in %s %04d, of '%s': %s %% of the time.",
             words_months[number - 1], (int)year, completeness->meters[meter].name,
             number_print(share, least / 1000, 1, 1, 0));
}

static const char *share_of(char buffer[NUMBER_SIZE], int64_t part, int64_t whole)
{
    int64_t share = number_share(part, whole);
    return share == UNKNOWN ? NULL : number_print(buffer, share, SHARE_SCALE - 2, 2, 0);
}

static void write_sums(const struct report *report, const struct completeness *completeness)
{
    static const char *const heads[] = { "observed",  "entered",      "interpolated",
                                         "estimated", "not answered", "missing" };
    char number[NUMBER_SIZE];
    html_table_open(report->out, "Table of completeness by meter");
    html_row_open(report->out);
    html_column(report->out, "meter", NULL);
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++)
        html_column(report->out, heads[i], "%");
    html_row_close(report->out);
    for (int32_t m = 0; m < completeness->meter_count; m++) {
        const struct completeness_shares sum = completeness_of_meter(completeness, m);
        const int64_t parts[] = { sum.observed_s,  sum.entered_s,    sum.interpolated_s,
                                  sum.estimated_s, sum.unanswered_s, sum.missing_s };
        html_row_open(report->out);
        html_row_head(report->out, completeness->meters[m].name);
        for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++)
            html_cell(report->out, share_of(number, parts[i], sum.expected_s));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

static void write_months(const struct report *report, const struct completeness *completeness)
{
    char text[WORDS_SIZE];
    html_table_open(report->out, "Table of what was observed by month, %");
    html_row_open(report->out);
    html_column(report->out, "month", NULL);
    for (int32_t m = 0; m < completeness->meter_count; m++)
        html_column(report->out, completeness->meters[m].name, "");
    html_row_close(report->out);
    for (int32_t i = 0; i < completeness->month_count; i++) {
        int32_t year, month, day;
        civil_date(civil_day_of(report->inquiry->session.civil, completeness->months[i].from_s), &year,
                   &month, &day);
        snprintf(text, sizeof(text), "%s %04d", words_months[month - 1], (int)year);
        html_row_open(report->out);
        html_row_head(report->out, text);
        for (int32_t m = 0; m < completeness->meter_count; m++) {
            int64_t observed = completeness_observed(completeness_cell(completeness, i, m));
            html_cell(report->out, observed == UNKNOWN ? NULL : number_print(text, observed / 1000, 1, 1, 0));
        }
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

bool section_completeness(struct report *report)
{
    struct completeness completeness = { 0 };
    char sentence[REPORT_SENTENCE];
    bool good = completeness_read(&completeness, report->inquiry, false);
    if (!good) {
        session_failed(&report->inquiry->session);
    } else if (completeness.month_count == 0 || completeness.meter_count == 0) {
        report_omit(report, "Completeness", "the record does not reach into this span");
    } else {
        report_open(report);
        say(report, &completeness, sentence);
        draw(report, &completeness, sentence);
        write_sums(report, &completeness);
        if (completeness.month_count > 1)
            write_months(report, &completeness);
    }
    completeness_free(&completeness);
    return good;
}
