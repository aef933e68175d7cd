/* What each bill was with the plant and would have been without it: the saving lies between. */
#include "html.h"
#include "picture.h"
#include "report_money.h"
#include "stamp.h"

enum { HEIGHT = 240, MOST_STEPS = 5, GAP = 16, HATCH_LEAST = 40, PERCENT = 100 };

struct reach {
    int64_t low, high; /* millionths */
    bool sealed, estimated, paid, more;
};

/* Where an instant stands across the bills of the picture. */
static int32_t place(const struct report *report, int64_t at_s)
{
    const struct saving *total = &report->money->savings.total;
    int64_t from_s = civil_day_start(report->inquiry->session.civil, total->from_day);
    int64_t to_s = civil_day_start(report->inquiry->session.civil, total->to_day);
    at_s = at_s < from_s ? from_s : at_s > to_s ? to_s : at_s;
    return (int32_t)((at_s - from_s) * SVG_WHOLE / (to_s - from_s));
}

/* Of what the bill counts, in millionths. */
static int64_t estimated_share(const struct saving *row)
{
    int64_t share = row->estimated > 0 ? number_share(row->estimated, row->import + row->export) : 0;
    share = row->doubtful && share < 1 ? 1 : share;
    return share == UNKNOWN ? 0 : share > SHARE_ONE ? SHARE_ONE : share;
}

static int64_t above(int64_t amount)
{
    return amount > 0 ? amount : 0;
}

/* What the customer got: a bill below nothing, and what settlement paid. */
static int64_t got(const struct saving *row)
{
    return above(-row->with) + above(row->settled);
}

static struct reach reach_of(const struct savings *savings)
{
    struct reach reach = { 0 };
    for (int32_t i = 0; i < savings->count; i++) {
        const struct saving *row = &savings->rows[i];
        if (!row->asked)
            continue;
        int64_t high = row->with > row->without ? row->with : row->without;
        reach.high = high > reach.high ? high : reach.high;
        reach.low = -got(row) < reach.low ? -got(row) : reach.low;
        reach.sealed |= row->sealed;
        reach.estimated |= estimated_share(row) > 0;
        reach.paid |= got(row) > 0;
        reach.more |= row->with > row->without;
    }
    return reach;
}

static void draw_part(struct svg *svg, const struct report_money_axis *axis, const struct saving *row,
                      int32_t x, int32_t width, const char *class, int64_t from, int64_t to)
{
    char classes[32];
    int32_t foot = svg_y(svg, &axis->scale, from / axis->divisor),
            top = svg_y(svg, &axis->scale, to / axis->divisor);
    snprintf(classes, sizeof(classes), "%s%s", class, row->sealed ? " sealed" : "");
    if (foot > top)
        svg_rect(svg, classes, x, width, top, foot);
}

static void draw_bill(struct svg *svg, const struct report_money_axis *axis, const struct saving *row,
                      int32_t x, int32_t width)
{
    int64_t with = above(row->with), without = above(row->without);
    int64_t least = with < without ? with : without, most = with < without ? without : with;
    draw_part(svg, axis, row, x, width, "import", 0, least);
    draw_part(svg, axis, row, x, width, with > without ? "warn" : "self", least, most);
    draw_part(svg, axis, row, x, width, "export", -got(row), 0);
    int32_t foot = svg_y(svg, &axis->scale, 0), top = svg_y(svg, &axis->scale, most / axis->divisor);
    int64_t share = estimated_share(row);
    if (share > 0 && foot > top) {
        int32_t height = (int32_t)((foot - top) * share / SHARE_ONE);
        height = height < HATCH_LEAST ? HATCH_LEAST : height;
        svg_rect(svg, "hatch", x, width, foot - height > top ? foot - height : top, foot);
    }
    putc('\n', svg->out);
}

/* Where bills begin and end: there are few in a span that is shown by days. */
static void name_bills(struct svg *svg, const struct report *report)
{
    const struct savings *savings = &report->money->savings;
    const struct civil *civil = report->inquiry->session.civil;
    char label[WORDS_SIZE];
    for (int32_t i = 0; i <= savings->count; i++) {
        bool end = i == savings->count;
        int32_t year, month, day;
        if (!end && !savings->rows[i].asked)
            continue;
        int64_t at_day = end ? savings->total.to_day : savings->rows[i].from_day;
        civil_date(at_day, &year, &month, &day);
        snprintf(label, sizeof(label), "%d %.3s", (int)day, words_months[month - 1]);
        svg_label(svg, place(report, civil_day_start(civil, at_day)), label, false);
    }
}

static void draw_key(const struct report *report, const struct reach *reach,
                     const struct report_money_axis *axis)
{
    char unit[WORDS_SIZE];
    const struct picture_key keys[] = {
        { true, "self", "saved: on the bill" },
        { reach->paid, "export", "below the line: paid out to the customer" },
        { true, "import", "bill with the plant" },
        { reach->more, "warn", "more than without the plant" },
        { reach->sealed, "plain sealed", "pale with an outline: from readings of sealed meters" },
        { reach->estimated, "hatch", "hatched: share of what was counted that is estimated" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    report_sentence(report,
                    "A bar is a bill, as wide as its days: up to its top is the bill without the plant, of "
                    "which the lower part is still to be paid.%s",
                    report_money_unit(report, axis, unit));
}

static void draw(const struct report *report, const char *sentence)
{
    const struct savings *savings = &report->money->savings;
    const struct civil *civil = report->inquiry->session.civil;
    struct reach reach = reach_of(savings);
    struct report_money_axis axis = report_money_axis(report, reach.low, reach.high, MOST_STEPS);
    struct svg svg;
    char title[REPORT_SENTENCE];
    snprintf(title, sizeof(title), "Bills with and without the plant, %s", report->span);
    picture_open(report);
    svg_open(&svg, report->out, "picture-savings", HEIGHT, title, sentence);
    svg_axis(&svg, &axis.scale, axis.unit);
    for (int32_t i = 0; i < savings->count; i++) {
        const struct saving *row = &savings->rows[i];
        int32_t from = place(report, civil_day_start(civil, row->from_day));
        int32_t width = place(report, civil_day_start(civil, row->to_day)) - from;
        if (row->asked)
            draw_bill(&svg, &axis, row, from + width * GAP / 2 / PERCENT, width * (PERCENT - GAP) / PERCENT);
    }
    if (report->step == STEP_DAY)
        name_bills(&svg, report);
    else
        picture_slots(&svg, report, place);
    picture_seam(&svg, report, place(report, report->seam_s));
    svg_close(&svg);
    draw_key(report, &reach, &axis);
    picture_close(report, sentence);
}

static void write_row(const struct report *report, const struct saving *row, bool total)
{
    const struct civil *civil = report->inquiry->session.civil;
    const int64_t energies[] = { row->consumption, row->import, row->export };
    const int64_t amounts[] = { row->without, row->with, row->settled, row->saved, row->saved_so_far };
    char from[STAMP_SIZE], to[STAMP_SIZE], name[2 * STAMP_SIZE + 4], number[NUMBER_SIZE];
    snprintf(name, sizeof(name), "%s to %s", stamp_date(from, civil, civil_day_start(civil, row->from_day)),
             stamp_date(to, civil, civil_day_start(civil, row->to_day)));
    html_row_open(report->out);
    html_row_head(report->out, name);
    for (size_t i = 0; i < sizeof(energies) / sizeof(energies[0]); i++)
        html_cell(report->out, number_print(number, energies[i], ENERGY_SCALE, 0, ','));
    for (size_t i = 0; i < sizeof(amounts) / sizeof(amounts[0]); i++)
        html_cell(report->out, report_amount_cell(report, number, amounts[i]));
    html_words(report->out, total ? "" : row->sealed ? "sealed" : "record");
    html_row_close(report->out);
}

static void write_table(const struct report *report)
{
    const struct savings *savings = &report->money->savings;
    const char *currency = report->money->bills.tariff->currency;
    static const char *const amounts[] = { "bill without the plant", "bill with it", "paid at settlement",
                                           "saved", "saved so far" };
    html_table_open(report->out, "Table by the bill");
    html_row_open(report->out);
    html_column(report->out, "bill", "");
    html_column(report->out, "consumption", "kWh");
    html_column(report->out, "import", "kWh");
    html_column(report->out, "export", "kWh");
    for (size_t i = 0; i < sizeof(amounts) / sizeof(amounts[0]); i++)
        html_column(report->out, amounts[i], currency);
    html_column(report->out, "begins with", NULL);
    html_row_close(report->out);
    for (int32_t i = 0; i < savings->count; i++)
        if (savings->rows[i].asked)
            write_row(report, &savings->rows[i], false);
    if (savings->asked_count > 1)
        write_row(report, &savings->total, true);
    html_table_close(report->out);
}

static void say(const struct report *report, char sentence[REPORT_SENTENCE])
{
    const struct saving *total = &report->money->savings.total;
    char from[WORDS_SIZE], to[WORDS_SIZE], saved[WORDS_SIZE], without[WORDS_SIZE], with[WORDS_SIZE],
        settled[WORDS_SIZE];
    int32_t count = report->money->savings.asked_count;
    int32_t at = snprintf(
        sentence, REPORT_SENTENCE,
        "From %s to %s the plant saved %s: without it %s would have been to pay in %d bill%s, with it %s",
        words_day(from, total->from_day), words_day(to, total->to_day),
        report_amount(report, saved, total->saved), report_amount(report, without, total->without),
        (int)count, count == 1 ? "" : "s", report_amount(report, with, total->with));
    snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at),
             total->settled ? ", and %s paid out at settlement." : ".",
             report_amount(report, settled, total->settled));
}

static void write_notes(const struct report *report)
{
    const struct report_money *money = report->money;
    report_sentence(report, "This is %s.", bills_estimate);
    report_sentence(
        report, "Saved is the bill without the plant less that with it, and what settlement paid; charges "
                "due either way cancel, and credit carried out is not counted before it is used.");
    if (money->savings.asked_left_out > 0)
        report_sentence(report, "%d of the bills cannot be made both ways and %s left out.",
                        (int)money->savings.asked_left_out,
                        money->savings.asked_left_out == 1 ? "is" : "are");
    if (money->notes.note_count == 0)
        return;
    fputs("<ul class=\"notes\">\n", report->out);
    for (int32_t i = 0; i < money->notes.note_count; i++) {
        fputs("<li>", report->out);
        html_text(report->out, money->notes.notes[i]);
        fputs("</li>\n", report->out);
    }
    fputs("</ul>\n", report->out);
}

bool section_savings(struct report *report)
{
    char sentence[REPORT_SENTENCE];
    if (!report->money)
        return true;
    if (report->money->savings.asked_count == 0) {
        report_omit(report, "Savings", "no bill of this span can be made both ways%s%s",
                    report->money->notes.note_count > 0 ? ": " : "",
                    report->money->notes.note_count > 0 ? report->money->notes.notes[0] : "");
        return true;
    }
    report_open(report);
    say(report, sentence);
    draw(report, sentence);
    write_notes(report);
    write_table(report);
    return true;
}
