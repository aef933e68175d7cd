/* Shares, gaps and residuals: what is read of the meters' intervals. */
#include "completeness_views.h"

#include <stdio.h>
#include <stdlib.h>

#include "stamp.h"
#include "walk.h"

#define COUNT(columns) ((int32_t)(sizeof(columns) / sizeof((columns)[0])))
enum { HOURS_SCALE = 2, TABLE_DECIMALS = 1 };

static const struct sheet_column share_columns[] = {
    { "month", { "", "" }, "", SHEET_TEXT, 0, false },
    { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
    { "expected_s", { "", "" }, "s", SHEET_NUMBER, 0, true },
    { "observed_share", { "time:", "observed" }, "%", SHEET_SHARE, 0, false },
    { "entered_time_share", { "of it", "entered" }, "%", SHEET_SHARE, 0, false },
    { "interpolated_time_share", { "inter-", "polated" }, "%", SHEET_SHARE, 0, false },
    { "estimated_time_share", { "", "estimated" }, "%", SHEET_SHARE, 0, false },
    { "unanswered_share", { "not", "answered" }, "%", SHEET_SHARE, 0, false },
    { "missing_share", { "", "missing" }, "%", SHEET_SHARE, 0, false },
    { "missing_s", { "", "" }, "s", SHEET_NUMBER, 0, true },
    { "unobserved_s", { "", "" }, "s", SHEET_NUMBER, 0, true },
    { "energy_kwh", { "", "energy" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "interpolated_kwh", { "", "" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, true },
    { "interpolated_share", { "inter-", "polated" }, "%", SHEET_SHARE, 0, false },
    { "estimated_kwh", { "", "" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, true },
    { "estimated_share", { "", "estimated" }, "%", SHEET_SHARE, 0, false },
    { "entered_kwh", { "", "" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, true },
    { "entered_share", { "", "entered" }, "%", SHEET_SHARE, 0, false },
    { "corrected_kwh", { "", "" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, true },
    { "corrected_share", { "", "corrected" }, "%", SHEET_SHARE, 0, false },
};
static const struct sheet_column gap_columns[] = {
    { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
    { "from", { "", "from" }, "", SHEET_INSTANT, 0, false },
    { "to", { "", "to" }, "", SHEET_INSTANT, 0, false },
    { "unobserved_s", { "", "" }, "s", SHEET_NUMBER, 0, true },
    { "hours", { "not", "observed" }, "h", SHEET_NUMBER, HOURS_SCALE, false },
    { "placed_kwh", { "", "placed" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "how", { "", "how" }, "", SHEET_TEXT, 0, false },
    { "cause", { "", "cause" }, "", SHEET_TEXT, 0, false },
    { "known", { "", "how known" }, "", SHEET_TEXT, 0, false },
};
static const struct sheet_column residual_columns[] = {
    { "month", { "", "month" }, "", SHEET_TEXT, 0, false },
    { "parts_kwh", { "sum of", "parts" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "production_kwh", { "production", "meter" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "parts_residual_share", { "parts", "beside it" }, "%", SHEET_SHARE, 0, false },
    { "consumption_meter_kwh", { "consumption", "meter" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "consumption_balance_kwh", { "balance of", "the same" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    { "consumption_residual_share", { "meter", "beside it" }, "%", SHEET_SHARE, 0, false },
};

static struct sheet_cell number(int64_t value, int32_t decimals)
{
    return (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static struct sheet_cell share(int64_t part, int64_t whole)
{
    return (struct sheet_cell){ .value = number_share(part, whole), .decimals = 2 };
}

static void set_columns(struct completeness_work *work, const struct sheet_column *columns, int32_t count)
{
    work->sheet.columns = columns;
    work->sheet.column_count = count;
}

static bool make_texts(struct completeness_work *work, int32_t count)
{
    work->texts = calloc((size_t)count + 1, sizeof(*work->texts));
    return work->texts != NULL;
}

/* ---- shares ---- */

static void add_share(struct completeness_work *work, const char *month, int32_t meter,
                      const struct completeness_shares *shares)
{
    int64_t expected_s = shares->expected_s;
    struct sheet_cell *cells = shares->rows > 0 || expected_s > 0 ? sheet_row(&work->sheet) : NULL;
    if (!cells)
        return;
    cells[0].text = month;
    cells[1].text = work->completeness.meters[meter].name;
    cells[2] = number(expected_s, 0);
    cells[3] = (struct sheet_cell){ .value = completeness_observed(shares), .decimals = 2 };
    cells[4] = share(shares->entered_s, expected_s);
    cells[5] = share(shares->interpolated_s, expected_s);
    cells[6] = share(shares->estimated_s, expected_s);
    cells[7] = share(shares->unanswered_s, expected_s);
    cells[8] = share(shares->missing_s, expected_s);
    cells[9] = number(shares->missing_s, 0);
    cells[10] = number(shares->interpolated_s + shares->estimated_s + shares->unanswered_s, 0);
    cells[11] = number(shares->energy, TABLE_DECIMALS);
    cells[12] = number(shares->interpolated, TABLE_DECIMALS);
    cells[13] = share(shares->interpolated, shares->energy);
    cells[14] = number(shares->estimated, TABLE_DECIMALS);
    cells[15] = share(shares->estimated, shares->energy);
    cells[16] = number(shares->entered, TABLE_DECIMALS);
    cells[17] = share(shares->entered, shares->energy);
    cells[18] = number(shares->corrected, TABLE_DECIMALS);
    cells[19] = share(shares->corrected, shares->energy);
}

static void add_months(struct completeness_work *work)
{
    const struct completeness *completeness = &work->completeness;
    char stamp[STAMP_SIZE];
    for (int32_t i = 0; i < completeness->month_count; i++) {
        snprintf(work->texts[i], sizeof(work->texts[i]), "%s",
                 stamp_month(stamp, work->inquiry.session.civil, completeness->months[i].from_s));
        for (int32_t m = 0; m < completeness->meter_count; m++)
            add_share(work, work->texts[i], m, completeness_cell(completeness, i, m));
    }
}

static void note_gaps(struct completeness_work *work)
{
    const struct completeness *completeness = &work->completeness;
    char hours[NUMBER_SIZE];
    int64_t longest_s = 0;
    for (int32_t i = 0; i < completeness->gap_count; i++)
        if (completeness->gaps[i].unobserved_s > longest_s)
            longest_s = completeness->gaps[i].unobserved_s;
    if (completeness->gap_count > 0)
        sheet_note(&work->sheet, "gaps of an interval or more: %d, the longest %s h: '--view gaps' has them",
                   (int)completeness->gap_count, number_print(hours, longest_s * 10 / 3600, 1, 1, ','));
    else
        sheet_note(&work->sheet, "gaps of an interval or more: none");
    if (completeness->short_gaps > 0)
        sheet_note(&work->sheet, "shorter ones: %lld, %lld s in all", (long long)completeness->short_gaps,
                   (long long)completeness->short_s);
}

bool completeness_add_shares(struct completeness_work *work)
{
    const struct completeness *completeness = &work->completeness;
    set_columns(work, share_columns, COUNT(share_columns));
    if (!make_texts(work, completeness->month_count))
        return false;
    sheet_note(&work->sheet,
               "time: of what the settings have the meter for, as far as the record reaches; a sleeping "
               "inverter is observed");
    sheet_note(&work->sheet,
               "not answered: its registers speak for the interval at both ends, nothing was filled");
    note_gaps(work);
    if (work->options->by == BY_MONTH) {
        add_months(work);
        return true;
    }
    for (int32_t m = 0; m < completeness->meter_count; m++) {
        struct completeness_shares shares = completeness_of_meter(completeness, m);
        add_share(work, "", m, &shares);
    }
    return true;
}

/* ---- gaps ---- */

static void write_how(int32_t how, char out[COMPLETENESS_TEXT_SIZE])
{
    static const struct {
        int32_t how;
        const char *words;
    } table[] = {
        { GAP_COUNTED, "counted at both ends" },
        { GAP_INTERPOLATED, "point to point" },
        { GAP_EVENLY, "estimated, evenly" },
        { GAP_SHAPED, "estimated along a shape" },
        { GAP_ENTERED, "entered" },
        { GAP_MISSING, "missing" },
    };
    size_t at = 0;
    out[0] = '\0';
    for (size_t i = 0; i < sizeof(table) / sizeof(table[0]); i++)
        if (how & table[i].how && at < COMPLETENESS_TEXT_SIZE)
            at += (size_t)snprintf(out + at, COMPLETENESS_TEXT_SIZE - at, "%s%s", at ? ", " : "",
                                   table[i].words);
}

static const char *name_of(const struct completeness *completeness, int32_t number)
{
    for (int32_t m = 0; m < completeness->meter_count; m++)
        if (completeness->meters[m].number == number)
            return completeness->meters[m].name;
    return "";
}

static const char *words_of(const struct gap_cause *cause)
{
    static const char *const words[OUTAGE_KINDS][3] = {
        [OUTAGE_GRID] = { "grid", "grid", "grid, in part" },
        [OUTAGE_COMPUTER] = { "computer", "computer, the grid was out too", "computer, in part" },
        [OUTAGE_BUS] = { "bus", "bus, the grid was out too", "bus, in part" },
        [OUTAGE_METER] = { "meter", "meter, the grid was out too", "meter, in part" },
    };
    if (!cause->known)
        return "not known";
    return words[cause->kind][cause->in_part ? 2 : cause->grid_out];
}

static void add_gap(struct completeness_work *work, int32_t index)
{
    const struct completeness *completeness = &work->completeness;
    const struct completeness_gap *gap = &completeness->gaps[index];
    const struct gap_cause *cause = &completeness->causes[index];
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    write_how(gap->how, work->texts[index]);
    cells[0].text = name_of(completeness, gap->meter);
    cells[1].value = gap->from_s;
    cells[2].value = gap->open ? UNKNOWN : gap->to_s;
    cells[3] = number(gap->unobserved_s, 0);
    cells[4] = number((gap->unobserved_s + 18) / 36, 2);
    cells[5] = number(gap->placed, TABLE_DECIMALS);
    cells[6].text = work->texts[index];
    cells[7].text = words_of(cause);
    cells[8].text = cause->text;
}

bool completeness_add_gaps(struct completeness_work *work)
{
    set_columns(work, gap_columns, COUNT(gap_columns));
    if (!make_texts(work, work->completeness.gap_count))
        return false;
    note_gaps(work);
    if (work->completeness.gap_count > 0)
        sheet_note(&work->sheet,
                   "placed: energy that filling put into the gap; what is known of a gap is its sum, "
                   "and only its shape is an estimate");
    for (int32_t i = 0; i < work->completeness.gap_count; i++)
        add_gap(work, i);
    return true;
}

/* ---- residuals ---- */

static void set_parts(struct completeness_work *work, struct sheet_cell *cells, int64_t from_s)
{
    for (int32_t i = 0; i < work->completeness.month_count; i++) {
        if (work->completeness.months[i].from_s != from_s)
            continue;
        struct completeness_residual residual = completeness_parts(&work->completeness, i);
        cells[1] = number(residual.parts, TABLE_DECIMALS);
        cells[2] = number(residual.production, TABLE_DECIMALS);
        if (residual.parts != UNKNOWN)
            cells[3] = share(residual.parts - residual.production, residual.production);
    }
}

bool completeness_add_residuals(struct completeness_work *work)
{
    char stamp[STAMP_SIZE];
    struct walk walk;
    int32_t count = 0;
    set_columns(work, residual_columns, COUNT(residual_columns));
    if (!make_texts(work, work->completeness.month_count))
        return false;
    sheet_note(&work->sheet, "parts and production meter: months in which none of them lacks an interval");
    sheet_note(&work->sheet, "sealed meters against our own account: 'meterbook agreement'");
    walk_begin(&walk, &work->inquiry, ROW_MONTH);
    for (const struct answer_row *row; (row = walk_next(&walk)) != NULL;) {
        struct sheet_cell *cells = count < work->completeness.month_count ? sheet_row(&work->sheet) : NULL;
        if (!cells)
            continue;
        snprintf(work->texts[count], sizeof(work->texts[count]), "%s",
                 stamp_month(stamp, work->inquiry.session.civil, row->from_s));
        cells[0].text = work->texts[count++];
        set_parts(work, cells, row->from_s);
        cells[4] = number(row->balance.metered_compared, TABLE_DECIMALS);
        cells[5] =
            number(row->balance.metered_compared == UNKNOWN ? UNKNOWN : row->balance.consumption_compared,
                   TABLE_DECIMALS);
        cells[6] = (struct sheet_cell){ .value = balance_residual_share(&row->balance), .decimals = 2 };
    }
    return walk_end(&walk);
}
