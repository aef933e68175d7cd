#include "bills.h"

#include <stdio.h>
#include <string.h>

#include "calendar.h"
#include "opening.h"
#include "stamp.h"

const char bills_estimate[] =
    "an estimate: what the utility bills is what counts, and the tariff's file is its author's";

static void say(void *self, bool error, const char *line)
{
    (void)self;
    fprintf(stderr, "meterbook: %s%s\n", error ? "" : "better: ", line);
}

/* Are the readings on paper of blocks that there are? */
static bool has_blocks_of_paper(const struct bills *bills, const char *path)
{
    bool good = true;
    for (int32_t p = 0; p < bills->contract->paper_count; p++)
        for (int32_t i = 0; i < bills->contract->papers[p].reading_count; i++) {
            const struct paper_reading *reading = &bills->contract->papers[p].readings[i];
            if (!reading->block[0] || tariff_has_block(bills->tariff, reading->block))
                continue;
            fprintf(stderr,
                    "meterbook: %s:%d: 'block' is \"%s\", allowed: a block of the tariff '%s', or other\n",
                    path, (int)reading->line, reading->block, bills->tariff->name);
            good = false;
        }
    return good;
}

/* Do the sealed meter's tariff registers count blocks that there are? */
static bool has_registers(const struct bills *bills)
{
    bool good = true;
    for (int32_t t = 0; t < CONTRACT_REGISTERS; t++) {
        const char *name = bills->contract->registers[t];
        if (!name[0] || tariff_has_block(bills->tariff, name))
            continue;
        fprintf(stderr,
                "meterbook: 't%d' of the contract is \"%s\", allowed: a block of the tariff '%s', or other\n",
                (int)t + 1, name, bills->tariff->name);
        good = false;
    }
    return good;
}

static enum exit_code read_files(struct bills *bills, const struct options *options)
{
    const struct config *config = bills->asked->session.config;
    const char *path = options->contract ? options->contract : config ? config->contract : "";
    struct problems problems = { .say = say };
    if (!path[0]) {
        fputs("meterbook: no contract: name its file with --contract or with 'contract' in the "
              "configuration's group "
              "'record', see meterbook-tariff(5)\n",
              stderr);
        return EXIT_USAGE;
    }
    bills->contract = contract_load(path, &problems);
    bills->tariff = bills->contract ? tariff_load(bills->contract->tariff, &problems) : NULL;
    bills->without = bills->tariff ? tariff_load(bills->contract->without, &problems) : NULL;
    if (!bills->without) {
        fprintf(stderr, "meterbook: cannot use the contract '%s'\n", path);
        return EXIT_RECORD;
    }
    if (!has_registers(bills) || !has_blocks_of_paper(bills, path) || !opening_check(bills, path))
        return EXIT_RECORD;
    if (strcmp(bills->tariff->currency, bills->without->currency) == 0)
        return EXIT_ANSWERED;
    fprintf(stderr,
            "meterbook: the tariff '%s' is in %s, that without the plant in %s, allowed: one currency\n",
            bills->tariff->name, bills->tariff->currency, bills->without->currency);
    return EXIT_RECORD;
}

/* An interval counts whole where it begins: blocks that cut it, and a demand that is shorter, are not what
 * the utility counts. */
static void mind_intervals(const struct bills *bills)
{
    const struct history *history = &bills->inquiry.head.history;
    const struct tariff *tariff = bills->tariff;
    bool cut = false, demand = false;
    int32_t interval_s = history->count > 0 ? history->arrangements[history->count - 1].interval_s : 0;
    for (int32_t s = 0; s < tariff->schedule_count && interval_s > 0; s++) {
        const struct schedule *schedule = &tariff->schedules[s];
        demand |= (schedule_measures(schedule) &
                   (UINT32_C(1) << MEASURE_DEMAND | UINT32_C(1) << MEASURE_DEMAND_APPARENT)) != 0;
        for (int32_t b = 0; b < schedule->block_count; b++)
            cut |= schedule->blocks[b].from_s % interval_s != 0 || schedule->blocks[b].to_s % interval_s != 0;
    }
    if (cut)
        fprintf(
            stderr,
            "meterbook: better: times of the tariff '%s' cut the record's intervals of %d s, each of which "
            "counts whole where it begins: an interval that divides them\n",
            tariff->name, (int)interval_s);
    if (demand && tariff->demand_s % interval_s != 0)
        fprintf(
            stderr,
            "meterbook: better: the record's intervals of %d s do not make up the demand interval of %d s: "
            "an interval that divides it\n",
            (int)interval_s, (int)tariff->demand_s);
}

enum exit_code bills_open(struct bills *bills, struct inquiry *inquiry, const struct options *options)
{
    *bills = (struct bills){
        .asked = inquiry,
    };
    enum exit_code code = read_files(bills, options);
    if (code != EXIT_ANSWERED)
        return code;
    struct period reach = inquiry_reach(&inquiry->session);
    bills->inquiry = *inquiry;
    bills->inquiry.period = reach;
    if (!inquiry_read_sources(&inquiry->session, &bills->inquiry.period, &bills->sources,
                              &bills->inquiry.sources))
        return EXIT_RECORD;
    bills->billing = (struct billing){ .inquiry = &bills->inquiry,
                                       .contract = bills->contract,
                                       .tariff = bills->tariff,
                                       .without = bills->without };
    if (!billing_open(&bills->billing))
        return EXIT_RECORD;
    mind_intervals(bills);
    if (bills->billing.count > 0)
        return EXIT_ANSWERED;
    fputs("meterbook: there is no billing period in that span: bills by readings need two readings of the "
          "sealed meter\n",
          stderr);
    return EXIT_NO_DATA;
}

void bills_close(struct bills *bills)
{
    billing_free(&bills->billing);
    sources_free(&bills->sources);
    tariff_free(bills->tariff);
    tariff_free(bills->without);
    contract_free(bills->contract);
}

static const struct paper_bill *find_paper(const struct contract_file *contract, struct period period)
{
    for (int32_t i = 0; i < contract->paper_count; i++)
        if (contract->papers[i].from_day == period.from_day && contract->papers[i].to_day == period.to_day)
            return &contract->papers[i];
    return NULL;
}

bool bills_next(struct bills *bills, struct bill_pair *pair)
{
    struct billing *billing = &bills->billing;
    if (bills->failed || bills->next >= billing->count ||
        billing->periods[bills->next].from_day >= bills->asked->period.to_day)
        return false;
    struct period period = billing->periods[bills->next++];
    struct contract without = contract_at(bills->contract, period.to_day - 1, false);
    struct billing_period *energies = &pair->period;
    memset(pair, 0, sizeof(*pair));
    pair->terms = contract_at(bills->contract, period.to_day - 1, true);
    if (!bills->with_alone)
        bills->failed = !billing_read(billing, bills->without, period, energies);
    struct usage other[BILL_STRETCHES];
    memcpy(other, energies->without, sizeof(other));
    int32_t other_count = energies->use_count;
    bool without_hours = energies->no_hours_without || energies->no_apparent_without;
    bills->failed = bills->failed || !billing_read(billing, bills->tariff, period, energies);
    if (bills->failed)
        return false;
    opening_take(bills, period.from_day, &pair->opening);
    pair->before = bills->credit;
    pair->has_with = !energies->no_hours && bill_make(&pair->with, bills->tariff, &pair->terms,
                                                      energies->with, energies->use_count, &bills->credit);
    pair->has_without =
        !without_hours && energies->has_production &&
        bill_make(&pair->without, bills->without, &without, other, other_count, &bills->without_credit);
    pair->paper = find_paper(bills->contract, period);
    return true;
}

struct bill_basis bills_basis(const struct bills *bills, const struct bill_pair *pair)
{
    return (struct bill_basis){ .tariff = bills->tariff,
                                .contract = &pair->terms,
                                .uses = pair->period.with,
                                .use_count = pair->period.use_count,
                                .credit = &pair->before };
}

bool bills_asked(const struct bills *bills, const struct bill_pair *pair)
{
    const struct period *asked = &bills->asked->period;
    return pair->period.to_day > asked->from_day && pair->period.from_day < asked->to_day;
}

static void note_opening(const struct bill_pair *pair, struct sheet *sheet, const char *from, const char *to)
{
    char kwh[NUMBER_SIZE];
    int64_t energy = pair->opening.energy;
    sheet_note(sheet, "%s to %s: it begins with a credit that was brought along%s%s%s: %s", from, to,
               energy > 0 ? ", " : "", energy > 0 ? number_print(kwh, energy, ENERGY_SCALE, 1, ',') : "",
               energy > 0 ? " kWh" : "", pair->opening.source);
    if (pair->opening.guessed_block[0])
        sheet_note(
            sheet,
            "%s to %s: the logbook does not say of which block it is, and netting is within each: it is "
            "taken as of \"%s\"; the contract's list 'credits' can say it",
            from, to, pair->opening.guessed_block);
}

static int32_t year_of(int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return year;
}

/* What the contract does not say, and the tariff asks for: it counts as nothing. Nor are holidays there after
 * the last year of which any is written down. */
static void note_terms(const struct bills *bills, const struct bill_pair *pair, const char *from,
                       const char *to, struct sheet *sheet)
{
    bool loads = false, ages = false;
    int64_t holiday = bills->tariff->holiday_count > 0
                          ? bills->tariff->holidays[bills->tariff->holiday_count - 1]
                          : INT64_MAX;
    for (int32_t u = 0; u < pair->period.use_count; u++) {
        const struct schedule *schedule = pair->period.with[u].schedule;
        for (int32_t i = 0; i < schedule->item_count; i++) {
            loads |= schedule->items[i].of == MEASURE_CONTRACTED || schedule->items[i].contracted_percent > 0;
            ages |= schedule->items[i].age_count > 0;
        }
    }
    if (pair->has_with && holiday != INT64_MAX && year_of(pair->period.to_day - 1) > year_of(holiday))
        sheet_note(sheet, "%s to %s: the tariff's holidays end with %d: this bill has none", from, to,
                   (int)year_of(holiday));
    if (pair->has_with && loads && pair->terms.contracted == 0)
        sheet_note(
            sheet,
            "%s to %s: the contract's list 'loads' has no contracted load then: nothing is billed for it",
            from, to);
    if (pair->has_with && ages &&
        (pair->terms.part_count == 0 || pair->terms.parts[0].commissioned >= pair->period.to_day))
        sheet_note(sheet, "%s to %s: the contract's list 'plant' has no part then: rates by age pay nothing",
                   from, to);
}

void bills_notes(const struct bills *bills, const struct bill_pair *pair, struct sheet *sheet)
{
    const struct civil *civil = bills->asked->session.civil;
    char from[STAMP_SIZE], to[STAMP_SIZE], kwh[NUMBER_SIZE], all[NUMBER_SIZE];
    const struct billing_period *period = &pair->period;
    const int64_t *energy = pair->with.energy;
    stamp_date(from, civil, civil_day_start(civil, period->from_day));
    stamp_date(to, civil, civil_day_start(civil, period->to_day));
    if (!pair->has_with && period->unscheduled_days > 0)
        sheet_note(sheet, "%s to %s: no bill: on %d of %d days no schedule of the tariff holds", from, to,
                   (int)period->unscheduled_days, (int)(period->to_day - period->from_day));
    else if (!pair->has_with)
        sheet_note(sheet, "%s to %s: no bill: the tariff asks for hours, and sealed readings know none", from,
                   to);
    note_terms(bills, pair, from, to, sheet);
    if (pair->has_with && (period->no_apparent || period->no_reactive))
        sheet_note(sheet,
                   "%s to %s: %s not known, the grid meter's record has no such counter: the bill is too low",
                   from, to,
                   !period->no_reactive  ? "kVAh and kVA are"
                   : period->no_apparent ? "kVAh, kVA and kvarh are"
                                         : "kvarh are");
    if (pair->has_with && period->missing_days > 0)
        sheet_note(sheet, "%s to %s: nothing is known of %d of %d days: the bill is too low", from, to,
                   (int)period->missing_days, (int)(period->to_day - period->from_day));
    if (pair->opening.taken)
        note_opening(pair, sheet, from, to);
    if (period->untold_import || period->untold_export)
        sheet_note(
            sheet,
            "%s to %s: the sealed meter's readings do not tell its %s (see meterbook spans): what else "
            "is known of these days stands for it",
            from, to,
            !period->untold_export   ? "import"
            : !period->untold_import ? "export"
                                     : "import and export");
    if (period->guessed)
        sheet_note(sheet, "%s to %s: a reading was estimated by the utility", from, to);
    if (period->shaped && pair->has_with)
        sheet_note(sheet, "%s to %s: what the registers say was shared out within the period %s", from, to,
                   period->by_days ? "by days, since our own account has nothing of it"
                                   : "as our own account has it");
    if (pair->with.demand_at_least)
        sheet_note(sheet, "%s to %s: the demand is at least that: gaps may hide a higher one", from, to);
    if (pair->with.estimated > 0)
        sheet_note(sheet, "%s to %s: %s kWh of %s kWh (import, export and production) were estimated", from,
                   to, number_print(kwh, pair->with.estimated, ENERGY_SCALE, 1, ','),
                   number_print(all,
                                energy[MEASURE_IMPORT] + energy[MEASURE_EXPORT] + energy[MEASURE_PRODUCTION],
                                ENERGY_SCALE, 0, ','));
}

struct sheet_cell bills_money(const struct bills *bills, int64_t amount)
{
    return (struct sheet_cell){ .value = amount, .decimals = bills->tariff->decimals, .thousands = true };
}
