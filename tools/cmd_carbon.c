/* Emissions that the plant avoided, by published factors, by year or month. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "carbon.h"
#include "reckoning.h"
#include "stamp.h"
#include "walk.h"

static const struct sheet_column columns[] = {
    { "from", { "", "from" }, "", SHEET_DATE, 0, false },
    { "to", { "", "to" }, "", SHEET_DATE, 0, true },
    { "production_kwh", { "", "production" }, "kWh", SHEET_NUMBER, 6, false },
    { "self_consumption_kwh", { "self-", "consumption" }, "kWh", SHEET_NUMBER, 6, false },
    { "avoided_average_kg", { "avoided,", "average" }, "kg", SHEET_NUMBER, 6, false },
    { "avoided_average_with_losses_kg", { "with losses", "avoided" }, "kg", SHEET_NUMBER, 6, false },
    { "avoided_marginal_kg", { "avoided,", "marginal" }, "kg", SHEET_NUMBER, 6, false },
    { "avoided_marginal_with_losses_kg", { "with losses", "avoided" }, "kg", SHEET_NUMBER, 6, false },
    { "plant_footprint_kg", { "of the plant", "itself" }, "kg", SHEET_NUMBER, 6, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), MASSES = 5 };

struct sums {
    int64_t from_day, to_day;
    int64_t production, self_consumption; /* mWh */
    int64_t mass[MASSES];                 /* 10^-6 kg, in the order of the columns */
};

struct work {
    struct reckoning money;
    struct contract_file *contract;
    struct carbon_factors *factors;
    struct sums row, total;
    bool any;
    const struct carbon_factor *said[CARBON_FACTORS]; /* that a note was made of */
    int32_t said_count;
    char title[CONFIG_NAME_SIZE + 40];
};

static void say(void *self, bool error, const char *line)
{
    (void)self, (void)error;
    fprintf(stderr, "meterbook: %s\n", line);
}

/* Has the file a factor of the name that the contract gives? */
static bool has_factor(const struct work *work, const char *name, enum carbon_kind kind)
{
    static const char *const words[CARBON_KINDS] = { "average", "marginal" };
    enum carbon_fit fit;
    const struct carbon_factors *factors = work->factors;
    if (!name[0] || carbon_at(factors, name, kind, 0, &fit))
        return true;
    fprintf(
        stderr,
        "meterbook: '%s' of the contract's group 'carbon' is \"%s\", allowed: a factor of that kind in '%s':",
        words[kind], name, work->contract->carbon.factors);
    for (int32_t i = 0; i < factors->count; i++)
        if (factors->factors[i].kind == kind &&
            carbon_at(factors, factors->factors[i].name, kind, INT64_MIN, &fit) == &factors->factors[i])
            fprintf(stderr, " \"%s\"", factors->factors[i].name); /* each name once */
    fputs("\n", stderr);
    return false;
}

static enum exit_code read_files(struct work *work)
{
    const struct config *config = work->money.inquiry.session.config;
    const char *path = work->money.options->contract ? work->money.options->contract
                       : config                      ? config->contract
                                                     : "";
    struct problems problems = { .say = say };
    if (!path[0]) {
        fputs("meterbook: no contract: name its file with --contract, see meterbook-tariff(5)\n", stderr);
        return EXIT_USAGE;
    }
    work->contract = contract_load(path, &problems);
    if (work->contract && !work->contract->carbon.factors[0]) {
        fputs("meterbook: the contract has no group 'carbon', see meterbook-tariff(5)\n", stderr);
        return EXIT_USAGE;
    }
    if (work->contract)
        work->factors = carbon_load(work->contract->carbon.factors, &problems);
    if (work->contract && work->factors && has_factor(work, work->contract->carbon.average, CARBON_AVERAGE) &&
        has_factor(work, work->contract->carbon.marginal, CARBON_MARGINAL))
        return EXIT_ANSWERED;
    fprintf(stderr, "meterbook: cannot use the contract '%s'\n", path);
    return EXIT_RECORD;
}

/* Each factor that was used is named once, and whether it was used past its time. */
static void name_factor(struct work *work, const struct carbon_factor *factor, enum carbon_fit fit)
{
    char from[STAMP_SIZE], to[STAMP_SIZE], value[NUMBER_SIZE];
    const struct civil *civil = work->money.inquiry.session.civil;
    for (int32_t i = 0; i < work->said_count; i++)
        if (work->said[i] == factor)
            return;
    work->said[work->said_count++] = factor;
    stamp_date(from, civil, civil_day_start(civil, factor->from_day));
    stamp_date(to, civil, civil_day_start(civil, factor->to_day) - 1);
    sheet_note(&work->money.sheet, "%s \"%s\": %s kg CO2/kWh for %s to %s, %s, %s%s",
               factor->kind == CARBON_AVERAGE ? "average" : "marginal", factor->name,
               number_print(value, factor->per_kwh, 6, 3, 0), from, to, factor->edition, factor->source,
               fit == CARBON_OF_THE_DAY ? ""
               : fit == CARBON_EARLIER  ? "; also used for later days: there is no newer one in the file"
                                        : "; also used for earlier days: there is no older one in the file");
}

static void add_kind(struct work *work, const char *name, enum carbon_kind kind, int64_t day,
                     int64_t production, int64_t self_consumption)
{
    enum carbon_fit fit;
    const struct carbon_factor *factor = name[0] ? carbon_at(work->factors, name, kind, day, &fit) : NULL;
    int64_t *mass = &work->row.mass[kind == CARBON_AVERAGE ? 0 : 2];
    if (!factor)
        return;
    int64_t elsewhere =
        production - self_consumption + carbon_with_losses(self_consumption, work->contract->carbon.losses);
    name_factor(work, factor, fit);
    mass[0] += carbon_of(production, factor->per_kwh);
    mass[1] += carbon_of(elsewhere, factor->per_kwh);
}

static void put(struct work *work, const struct sums *sums)
{
    const struct civil *civil = work->money.inquiry.session.civil;
    const struct contract_carbon *carbon = &work->contract->carbon;
    struct sheet_cell *row = sheet_row(&work->money.sheet);
    if (!row)
        return;
    row[0].value = civil_day_start(civil, sums->from_day);
    row[1].value = civil_day_start(civil, sums->to_day);
    row[2] = (struct sheet_cell){ .value = sums->production, .decimals = 0, .thousands = true };
    row[3] = (struct sheet_cell){ .value = sums->self_consumption, .decimals = 0, .thousands = true };
    for (int32_t m = 0; m < MASSES; m++)
        row[4 + m] = (struct sheet_cell){ .value = sums->mass[m], .decimals = 0, .thousands = true };
    for (int32_t m = 0; m < 4; m++)
        if (!(m < 2 ? carbon->average[0] : carbon->marginal[0]))
            row[4 + m].value = UNKNOWN;
}

static void end_row(struct work *work)
{
    if (!work->any)
        return;
    put(work, &work->row);
    work->total.production += work->row.production;
    work->total.self_consumption += work->row.self_consumption;
    for (int32_t m = 0; m < MASSES; m++)
        work->total.mass[m] += work->row.mass[m];
    work->total.to_day = work->row.to_day;
}

static int64_t period_of(const struct work *work, int64_t day)
{
    int32_t year, month, day_of_month;
    civil_date(day, &year, &month, &day_of_month);
    return work->money.options->by == BY_MONTH ? year * 12 + month : year;
}

static void take_day(struct work *work, const struct answer_row *answer)
{
    const struct contract_carbon *carbon = &work->contract->carbon;
    int64_t day = civil_day_of(work->money.inquiry.session.civil, answer->from_s);
    int64_t production = answer->balance.production, self = answer->balance.self_consumption;
    if (production == UNKNOWN)
        return;
    self = self == UNKNOWN || self < 0 ? 0 : self;
    if (!work->any || period_of(work, day) != period_of(work, work->row.from_day)) {
        end_row(work);
        if (!work->any)
            work->total.from_day = day;
        work->row = (struct sums){ .from_day = day };
        work->any = true;
    }
    work->row.to_day = day + 1;
    work->row.production += production;
    work->row.self_consumption += self;
    add_kind(work, carbon->average, CARBON_AVERAGE, day, production, self);
    add_kind(work, carbon->marginal, CARBON_MARGINAL, day, production, self);
    work->row.mass[4] += carbon_of(production, carbon->life_cycle);
}

/* Pictures of a mass, only on request, each with its definition. */
static void note_equivalents(struct work *work)
{
    char trees[NUMBER_SIZE], gallons[NUMBER_SIZE];
    int64_t mass = work->contract->carbon.marginal[0] ? work->total.mass[2] : work->total.mass[0];
    if (!work->money.options->equivalents)
        return;
    sheet_note(
        &work->money.sheet,
        "avoided (%s) is as much as %s urban tree seedlings take up when grown for ten years (60 kg each in "
        "ten "
        "years), or as %s gallons of gasoline give (8.887 kg each): Greenhouse Gas Equivalencies, 2023-24",
        work->contract->carbon.marginal[0] ? "marginal" : "average",
        number_print(trees, multiply_round(mass, 1000000, 60000000), 6, 0, ','),
        number_print(gallons, multiply_round(mass, 1000000, 8887000), 6, 0, ','));
}

static void note_rest(struct work *work)
{
    const struct contract_carbon *carbon = &work->contract->carbon;
    char a[NUMBER_SIZE], b[NUMBER_SIZE];
    int64_t kwp = 0, days = work->total.to_day - work->total.from_day;
    for (int32_t p = 0; p < work->contract->part_count; p++)
        kwp += work->contract->parts[p].kilowatts;
    sheet_note(&work->money.sheet,
               "avoided is by production at a published factor of the grid; what the plant itself stands for "
               "over its life "
               "(%s g per kWh) is apart, and never in one sum with it",
               number_print(a, carbon->life_cycle, 3, 1, 0));
    if (carbon->losses > 0)
        sheet_note(
            &work->money.sheet,
            "with losses: what is used where it is made saves the %s %% that the grid loses on the way",
            number_print(a, carbon->losses, 4, 1, 0));
    if (carbon->claim_sold)
        sheet_note(&work->money.sheet,
                   "certificates of this energy were sold: the claim to what is avoided is their buyer's");
    if (carbon->embodied_kwh_per_kwp > 0 && kwp > 0 && work->total.production > 0)
        sheet_note(&work->money.sheet,
                   "energy payback: its making took %s kWh (stated), which it makes in %s years",
                   number_print(a, multiply_round(kwp, carbon->embodied_kwh_per_kwp, 1000000), 6, 0, ','),
                   number_print(b,
                                multiply_round(multiply_round(kwp, carbon->embodied_kwh_per_kwp, 1000000),
                                               days * 100 / 365, work->total.production),
                                2, 1, 0));
    note_equivalents(work);
}

static enum exit_code answer(void *self)
{
    struct work *work = self;
    struct walk walk;
    const struct answer_row *row;
    enum exit_code code = read_files(work);
    if (code != EXIT_ANSWERED)
        return code;
    if (work->money.options->by != BY_DEFAULT && work->money.options->by != BY_MONTH &&
        work->money.options->by != BY_YEAR) {
        fputs("meterbook: '--by' of carbon: allowed are year, month\n", stderr);
        return EXIT_USAGE;
    }
    sheet_init(&work->money.sheet, "carbon", work->money.inquiry.session.civil, columns, COLUMN_COUNT);
    snprintf(work->title, sizeof(work->title), "%s, emissions avoided", work->money.inquiry.head.site.name);
    work->money.sheet.title = work->title;
    inquiry_head(&work->money.inquiry, &work->money.sheet);
    walk_begin(&walk, &work->money.inquiry, ROW_DAY);
    while ((row = walk_next(&walk)) != NULL)
        take_day(work, row);
    if (!walk_end(&walk))
        return EXIT_RECORD;
    if (!work->any) {
        fputs("meterbook: nothing is known of what was made in that span\n", stderr);
        return EXIT_NO_DATA;
    }
    end_row(work);
    if (work->money.options->format == FORMAT_TABLE)
        put(work, &work->total);
    note_rest(work);
    return reckoning_print(&work->money);
}

static void release(void *self)
{
    struct work *work = self;
    contract_free(work->contract);
    free(work->factors);
}

enum exit_code cmd_carbon(const struct options *options, const char *const *arguments)
{
    static const struct reckoning_command command = { .size = sizeof(struct work),
                                                      .answer = answer,
                                                      .release = release };
    return reckoning_run(&command, options, arguments);
}
