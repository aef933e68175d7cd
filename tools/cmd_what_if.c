/* Another consumption, plant, battery or tariff, computed over the recorded intervals; and a sweep over
 * sizes. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "reckoning.h"
#include "stamp.h"
#include "what_if_read.h"

static const struct sheet_column case_columns[] = {
    { "case", { "", "case" }, "", SHEET_TEXT, 0, false },
    { "production_kwh", { "", "production" }, "kWh", SHEET_NUMBER, 6, false },
    { "consumption_kwh", { "", "consumption" }, "kWh", SHEET_NUMBER, 6, false },
    { "self_consumption_kwh", { "self-", "consumption" }, "kWh", SHEET_NUMBER, 6, false },
    { "import_kwh", { "", "import" }, "kWh", SHEET_NUMBER, 6, false },
    { "export_kwh", { "", "export" }, "kWh", SHEET_NUMBER, 6, false },
    { "not_made_kwh", { "clipped or", "limited" }, "kWh", SHEET_NUMBER, 6, false },
    { "battery_kwh", { "from the", "battery" }, "kWh", SHEET_NUMBER, 6, false },
    { "without_plant", { "bills without", "the plant" }, "", SHEET_NUMBER, 6, false },
    { "with_plant", { "bills with", "the plant" }, "", SHEET_NUMBER, 6, false },
    { "saving", { "", "saving" }, "", SHEET_NUMBER, 6, false },
    { "more_than_recorded", { "more than", "as recorded" }, "", SHEET_NUMBER, 6, false },
    { "credit_left_kwh", { "credit left", "at the end" }, "kWh", SHEET_NUMBER, 6, false },
    { "credit_left_worth", { "worth at", "settlement" }, "", SHEET_NUMBER, 6, false },
    { "by_monthly_sums", { "saving by", "monthly sums" }, "", SHEET_NUMBER, 6, false },
    { "cost", { "", "cost" }, "", SHEET_NUMBER, 6, false },
    { "net_present_value", { "net present", "value" }, "", SHEET_NUMBER, 6, false },
};
static const struct sheet_column sweep_columns[] = {
    { "consumption_kwh_per_month", { "", "consumption" }, "kWh/month", SHEET_NUMBER, 6, false },
    { "plant_kwp", { "", "plant" }, "kWp", SHEET_NUMBER, 6, false },
    { "cost", { "", "cost" }, "", SHEET_NUMBER, 6, false },
    { "saving_per_year", { "saving", "a year" }, "", SHEET_NUMBER, 6, false },
    { "self_consumption_kwh", { "self-", "consumption" }, "kWh/year", SHEET_NUMBER, 6, false },
    { "export_kwh", { "", "export" }, "kWh/year", SHEET_NUMBER, 6, false },
    { "net_present_value", { "net present", "value" }, "", SHEET_NUMBER, 6, false },
    { "best", { "", "" }, "", SHEET_TEXT, 0, false },
};
enum {
    CASE_COLUMNS = sizeof(case_columns) / sizeof(case_columns[0]),
    SWEEP_COLUMNS = sizeof(sweep_columns) / sizeof(sweep_columns[0]),
    MILLION = 1000000,
};

struct work {
    struct reckoning money;
    struct sheet_column columns[SHEET_COLUMNS];
    struct what_if_base base;
    int64_t recorded_saving;
    bool said_apparent;
    bool carries; /* credit, from bill to bill */
    char title[CONFIG_NAME_SIZE + 60];
};

static struct sheet_cell energy(int64_t value)
{
    return (struct sheet_cell){ .value = value, .decimals = 0, .thousands = true };
}

static int64_t less(int64_t a, int64_t b)
{
    return a == UNKNOWN || b == UNKNOWN ? UNKNOWN : a - b;
}

/* ---- cases ---- */

static int64_t millionths(double value)
{
    return isfinite(value) ? llround(value * MILLION) : UNKNOWN;
}

/* What a case costs, and what that is worth if it saves so much more than what was recorded. */
static void put_cost(struct work *work, struct sheet_cell *row, int64_t cost, int64_t more)
{
    const struct contract_file *contract = work->money.bills.contract;
    row[15] = bills_money(&work->money.bills, cost);
    if (contract->has_projection && more != UNKNOWN)
        row[16] = bills_money(&work->money.bills,
                              millionths(value_of_change(contract, &work->base.trace, cost, more)));
}

static void put_case(struct work *work, const char *name, const struct what_if_result *result,
                     const struct what_if_result *monthly, const struct contract_case *entry)
{
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    int64_t saving = less(result->without, result->with);
    if (!row)
        return;
    if (!entry)
        work->recorded_saving = saving;
    const int64_t energies[] = { result->production,       result->consumption,
                                 result->self_consumption, result->import,
                                 result->export,           result->clipped + result->limited,
                                 result->through_battery };
    row[0].text = name;
    for (int32_t i = 0; i < 7; i++)
        row[1 + i] = energy(energies[i]);
    row[8] = bills_money(&work->money.bills, result->without);
    row[9] = bills_money(&work->money.bills, result->with);
    row[10] = bills_money(&work->money.bills, saving);
    row[11] = bills_money(&work->money.bills, less(saving, work->recorded_saving));
    row[12] = energy(result->credit_left);
    row[13] = bills_money(&work->money.bills, result->credit_worth);
    if (monthly)
        row[14] = bills_money(&work->money.bills, less(result->without, monthly->with));
    if (entry && entry->cost != 0)
        put_cost(work, row, entry->cost, less(saving, work->recorded_saving));
}

/* Where monthly sums are no approximation: nothing that they could stand for. */
static bool has_monthly(const struct what_if *what_if)
{
    return what_if->battery.capacity == 0 && what_if->netting_s == 0;
}

static bool run_with(struct work *work, const char *name, const struct what_if *what_if,
                     const struct trace_bins *bins, const struct contract_case *entry)
{
    struct what_if_result result, monthly;
    bool wants_monthly = has_monthly(what_if) && !bins->wants_apparent;
    if (!what_if_run(what_if, &work->base.trace, bins, &work->base.without, &work->base.terms, &result) ||
        (wants_monthly && !what_if_monthly(what_if, &work->base.trace, bins, &work->base.terms, &monthly)))
        return false;
    if (result.unknown > 0)
        sheet_note(
            &work->money.sheet,
            "%s: no bill: its tariff asks for kVAh, kVA or kvarh, and in %d of %d intervals the grid meter's "
            "record does not tell them",
            name, (int)result.unknown, (int)work->base.trace.count);
    else if (result.without == UNKNOWN)
        sheet_note(
            &work->money.sheet,
            "%s: no bill without the plant: that asks for kVAh, kVA or kvarh, which nothing tells then",
            name);
    put_case(work, name, &result, wants_monthly ? &monthly : NULL, entry);
    return true;
}

static void say_problem(void *self, bool error, const char *line)
{
    (void)self, (void)error;
    fprintf(stderr, "meterbook: %s\n", line);
}

static bool case_fits(const struct work *work, const struct contract_case *entry, const struct tariff *tariff)
{
    if (strcmp(tariff->currency, work->money.bills.tariff->currency) != 0)
        fprintf(stderr, "meterbook: the case '%s' has a tariff in %s, allowed: in %s\n", entry->name,
                tariff->currency, work->money.bills.tariff->currency);
    else if (entry->dispatch_block[0] && !tariff_has_block(tariff, entry->dispatch_block))
        fprintf(
            stderr,
            "meterbook: 'dispatch_block' of the case '%s' is \"%s\", allowed: a block of the tariff '%s'\n",
            entry->name, entry->dispatch_block, tariff->name);
    else if (entry->plant_kwp > 0 && work->base.recorded_kwp == 0)
        fprintf(
            stderr,
            "meterbook: the case '%s' has another plant, allowed: where the contract's list 'plant' says how "
            "large the recorded one is\n",
            entry->name);
    else
        return true;
    return false;
}

/* Said once: how these are found. */
static void note_apparent(struct work *work, const struct tariff *tariff)
{
    if (work->said_apparent || !tariff_asks_apparent(tariff))
        return;
    work->said_apparent = true;
    sheet_note(&work->money.sheet,
               "kVAh and kVA of a case: what the grid meter recorded beside kWh stays as it "
               "was in each interval, the "
               "kWh are the case's; kvarh stay");
}

/* The tariff has that block, but not in each of its schedules. */
static void note_dispatch(struct work *work, const struct contract_case *entry, const struct trace_bins *bins)
{
    char from[STAMP_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    const struct schedule *said = NULL;
    for (int32_t u = 0; entry->by_time_of_use && u < bins->usage_count; u++) {
        const struct schedule *schedule = bins->usages[u].schedule;
        if (schedule == said || schedule_find_block(schedule, entry->dispatch_block) >= 0)
            continue;
        said = schedule;
        stamp_date(from, civil, civil_day_start(civil, schedule->from_day));
        sheet_note(&work->money.sheet,
                   "%s: the schedule from %s has no block '%s': there the battery gives at any hour",
                   entry->name, from, entry->dispatch_block);
    }
}

static bool run_case(struct work *work, const struct contract_case *entry)
{
    struct problems problems = { .say = say_problem };
    struct tariff *own = entry->tariff[0] ? tariff_load(entry->tariff, &problems) : NULL;
    struct trace_bins own_bins = { 0 };
    const struct tariff *tariff = own ? own : work->money.bills.tariff;
    bool good = (own || !entry->tariff[0]) && case_fits(work, entry, tariff);
    if (good && own) {
        note_apparent(work, own);
        trace_bins_make(&own_bins, &work->base.trace, own);
        good = !own_bins.memory_out;
    }
    if (good) {
        const struct trace_bins *bins = own ? &own_bins : &work->base.bins;
        struct what_if what_if = what_if_of(&work->base, entry);
        note_dispatch(work, entry, bins);
        good = run_with(work, entry->name, &what_if, bins, entry);
    }
    trace_bins_free(&own_bins);
    tariff_free(own);
    return good;
}

static bool carries_credit(const struct tariff *tariff)
{
    bool carries = false;
    for (int32_t s = 0; s < tariff->schedule_count; s++)
        carries |= tariff->schedules[s].netting.carry != CARRY_NOTHING;
    return carries;
}

static void note_value(struct work *work)
{
    const struct contract_file *contract = work->money.bills.contract;
    char years[NUMBER_SIZE];
    sheet_note(&work->money.sheet,
               "net present value: of what a case saves more, %d days taken as of a year, over %s years: %s; "
               "less its cost",
               (int)(work->base.trace.to_day - work->base.trace.from_day),
               number_print(years, llround(10 * years_of_change(contract, &work->base.trace)), 1, 1, 0),
               contract->part_count > 0 ? "what remains of the plant's life at the span's end"
                                        : "a whole life, as the contract names no plant");
}

static bool run_cases(struct work *work)
{
    const struct contract_file *contract = work->money.bills.contract;
    work->carries = carries_credit(work->money.bills.tariff);
    for (int32_t i = 0; i < contract->case_count; i++)
        work->carries |= contract->cases[i].tariff[0] != '\0'; /* it may */
    bool costs = false;
    for (int32_t i = 0; i < contract->case_count; i++)
        costs |= contract->cases[i].cost != 0;
    work->columns[15].data_only = !costs;
    work->columns[16].data_only = !costs || !contract->has_projection;
    if (costs && contract->has_projection)
        note_value(work);
    work->columns[12].data_only = work->columns[13].data_only = !work->carries;
    note_apparent(work, work->money.bills.tariff);
    bool good = run_with(work, what_if_recorded.name, &what_if_recorded, &work->base.bins, NULL);
    for (int32_t i = 0; good && i < contract->case_count; i++)
        good = run_case(work, &contract->cases[i]);
    if (work->carries)
        sheet_note(&work->money.sheet,
                   "credit that is left at the span's end is not in the saving: beside it "
                   "stands what the rule of the "
                   "settlement would pay for it, - where the tariff sets no price");
    if (contract->case_count == 0)
        sheet_note(&work->money.sheet,
                   "the contract has no group 'cases': see meterbook-tariff(5) for what can be tried");
    sheet_note(
        &work->money.sheet,
        "computed interval by interval, bills by calendar month without opening credit; monthly sums net "
        "production and consumption of a month, which no meter does");
    return good;
}

/* ---- the sweep ---- */

static void put_cell(struct work *work, const struct sweep_cell *cell)
{
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return;
    row[0] = energy(cell->consumption);
    row[1] = (struct sheet_cell){ .value = cell->plant, .decimals = 2, .thousands = true };
    row[2] = bills_money(&work->money.bills, cell->cost);
    row[3] = bills_money(&work->money.bills, cell->saving);
    row[4] = energy(cell->self_consumption);
    row[5] = energy(cell->export);
    row[6] = bills_money(&work->money.bills, millionths(cell->present_value));
    row[7].text = !cell->best ? "" : cell->at_end ? "best, at the range's end" : "best";
}

static enum exit_code run_sweep(struct work *work)
{
    const struct contract_file *contract = work->money.bills.contract;
    struct sweep sweep = { 0 };
    const char *missing = sweep_lacks(&work->base, contract);
    if (missing) {
        fprintf(stderr, "meterbook: a sweep needs the group %s in the contract, see meterbook-tariff(5)\n",
                missing);
        return EXIT_USAGE;
    }
    bool good = sweep_run(&sweep, contract, &work->base.trace, &work->base.bins, &work->base.without,
                          work->base.recorded_kwp);
    if (good && sweep.plant_count * sweep.consumption_count == 0) {
        fprintf(stderr, "meterbook: the sweep has too many steps, allowed: %d sizes by %d consumptions\n",
                (int)SWEEP_PLANTS, (int)SWEEP_CONSUMPTIONS);
        good = false;
    }
    if (good && sweep.unknown) {
        fputs("meterbook: a sweep of that span cannot be made: its tariff asks for kVAh, kVA or kvarh, and "
              "the grid "
              "meter's record does not tell them in all intervals\n",
              stderr);
        sweep_free(&sweep);
        return EXIT_NO_DATA;
    }
    for (int32_t i = 0; good && i < sweep.plant_count * sweep.consumption_count; i++)
        put_cell(work, &sweep.cells[i]);
    sweep_free(&sweep);
    sheet_note(
        &work->money.sheet,
        "a projection: what was recorded, scaled evenly, over the plant's life; best is the highest net "
        "present value of its consumption");
    if (carries_credit(work->money.bills.tariff))
        sheet_note(&work->money.sheet,
                   "credit that is left at the span's end is in no saving: let the span end with the "
                   "settlement year");
    return good ? EXIT_ANSWERED : EXIT_RECORD;
}

/* ---- the answer ---- */

static void note_trace(struct work *work)
{
    char from[STAMP_SIZE], to[STAMP_SIZE], kwh[NUMBER_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    stamp_date(from, civil, civil_day_start(civil, work->base.trace.from_day));
    stamp_date(to, civil, civil_day_start(civil, work->base.trace.to_day) - 1);
    sheet_note(&work->money.sheet, "%s; of %d recorded intervals from %s to %s", bills_estimate,
               (int)work->base.trace.count, from, to);
    if (work->base.trace.left_out > 0)
        sheet_note(&work->money.sheet, "%d intervals are left out: production or the grid is not known",
                   (int)work->base.trace.left_out);
    if (work->base.trace.estimated > 0)
        sheet_note(&work->money.sheet, "%s kWh of them were estimated",
                   number_print(kwh, work->base.trace.estimated, ENERGY_SCALE, 0, ','));
}

static void begin_sheet(struct work *work, bool is_sweep)
{
    const struct sheet_column *columns = is_sweep ? sweep_columns : case_columns;
    int32_t count = is_sweep ? SWEEP_COLUMNS : CASE_COLUMNS;
    memcpy(work->columns, columns, (size_t)count * sizeof(*columns));
    for (int32_t c = 0; c < count; c++)
        if (columns[c].kind == SHEET_NUMBER && !*columns[c].unit)
            work->columns[c].unit = work->money.bills.tariff->currency;
    sheet_init(&work->money.sheet, "what-if", work->money.inquiry.session.civil, work->columns, count);
    snprintf(work->title, sizeof(work->title), "%s, %s", work->money.inquiry.head.site.name,
             is_sweep ? "plant sizes and consumptions" : "other cases over the recorded intervals");
    work->money.sheet.title = work->title;
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    if (!what_if_base_read(&work->base, &work->money.inquiry, &work->money.bills))
        return EXIT_RECORD;
    if (work->base.trace.count == 0) {
        fputs("meterbook: there is no interval in that span of which production and consumption are known\n",
              stderr);
        return EXIT_NO_DATA;
    }
    begin_sheet(work, work->money.view == 1);
    note_trace(work);
    inquiry_head(&work->money.inquiry, &work->money.sheet);
    enum exit_code code = work->money.view == 1 ? run_sweep(work)
                          : run_cases(work)     ? EXIT_ANSWERED
                                                : EXIT_RECORD;
    if (code != EXIT_ANSWERED)
        return code;
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    what_if_base_free(&work->base);
}

enum exit_code cmd_what_if(const struct options *options, const char *const *arguments)
{
    static const char *const views[] = { "cases", "sweep", NULL };
    static const struct reckoning_command command = {
        .size = sizeof(struct work), .views = views, .needs_bills = true, .answer = answer, .release = release
    };
    return reckoning_run(&command, options, arguments);
}
