#include "figure.h"

#include <stddef.h>

#include "schema.h"

#define ENERGY(field)                                                                                        \
    static int64_t field(const struct answer_row *row)                                                       \
    {                                                                                                        \
        return row->balance.field;                                                                           \
    }

ENERGY(production)
ENERGY(import)
ENERGY(export)
ENERGY(consumption)
ENERGY(self_consumption)
ENERGY(charge)
ENERGY(discharge)
ENERGY(generated)
ENERGY(consumption_metered)
ENERGY(estimated)

static int64_t prorated(const struct answer_row *row)
{
    return row->prorated;
}

static int64_t production_doubt(const struct answer_row *row)
{
    return row->doubt[TERM_PRODUCTION];
}

static int64_t import_doubt(const struct answer_row *row)
{
    return row->doubt[TERM_IMPORT];
}

static int64_t export_doubt(const struct answer_row *row)
{
    return row->doubt[TERM_EXPORT];
}

static int64_t self_consumption_share(const struct answer_row *row)
{
    return balance_self_consumption_share(&row->balance);
}

static int64_t self_sufficiency_share(const struct answer_row *row)
{
    return balance_self_sufficiency_share(&row->balance);
}

static int64_t residual_share(const struct answer_row *row)
{
    return balance_residual_share(&row->balance);
}

/* clang-format off */
const struct figure figures[] = {
    { "production_kwh", { "", "production" }, FIGURE_ENERGY, REGISTER_PRODUCTION, false, false, 0, production },
    { "import_kwh", { "", "import" }, FIGURE_ENERGY, REGISTER_GRID, false, true, 0, import },
    { "export_kwh", { "", "export" }, FIGURE_ENERGY, REGISTER_GRID, false, true, 0, export },
    { "consumption_kwh", { "", "consumption" }, FIGURE_ENERGY, REGISTER_ALL, false, false, 0, consumption },
    { "self_consumption_kwh", { "self-", "consumption" }, FIGURE_ENERGY, REGISTER_ALL, false, false, 0, self_consumption },
    { "self_consumption_share", { "self-", "consumed" }, FIGURE_SHARE, REGISTER_ALL, false, false, 1, self_consumption_share },
    { "self_sufficiency_share", { "self-", "sufficient" }, FIGURE_SHARE, REGISTER_ALL, false, false, 1, self_sufficiency_share },
    { "charge_kwh", { "", "charge" }, FIGURE_ENERGY, REGISTER_ALL, true, false, 0, charge },
    { "discharge_kwh", { "", "discharge" }, FIGURE_ENERGY, REGISTER_ALL, true, false, 0, discharge },
    { "generator_kwh", { "", "generator" }, FIGURE_ENERGY, REGISTER_ALL, true, false, 0, generated },
    { "consumption_metered_kwh", { "consumption", "metered" }, FIGURE_ENERGY, REGISTER_ALL, true, false, 2, consumption_metered },
    { "residual_share", { "", "residual" }, FIGURE_SHARE, REGISTER_ALL, true, false, 3, residual_share },
    { "observed_share", { "", "observed" }, FIGURE_CUT_SHARE, REGISTER_ALL, false, true, 4, answer_observed_share },
    { "estimated_kwh", { "", "estimated" }, FIGURE_ENERGY, REGISTER_ALL, false, true, 4, estimated },
    { "prorated_kwh", { "", "prorated" }, FIGURE_ENERGY, REGISTER_ALL, true, false, 4, prorated },
    { "production_doubt_kwh", { "", "" }, FIGURE_DATA, REGISTER_PRODUCTION, true, false, 0, production_doubt },
    { "import_doubt_kwh", { "", "" }, FIGURE_DATA, REGISTER_GRID, true, false, 0, import_doubt },
    { "export_doubt_kwh", { "", "" }, FIGURE_DATA, REGISTER_GRID, true, false, 0, export_doubt },
};
/* clang-format on */

const int32_t figure_count = sizeof(figures) / sizeof(figures[0]);

bool figure_present(const struct figure *figure, const struct answer *answer)
{
    if (answer->what.meter && !figure->of_meter)
        return false;
    return !figure->optional || figure->value(&answer->total) != UNKNOWN;
}

int32_t figure_decimals(const struct figure *figure, const struct answer *answer, int32_t most)
{
    int64_t step = answer->coarsest_step;
    if (figure->limit == REGISTER_PRODUCTION)
        step = answer->production_step;
    else if (figure->limit == REGISTER_GRID)
        step = answer->grid_step;
    return number_decimals_of_step(step, most);
}

const char *source_name(int32_t sources)
{
    static const char *const names[] = {
        [0] = "",
        [SOURCE_RECORD] = "record",
        [SOURCE_SEALED] = "sealed",
        [SOURCE_BOTH] = "both",
    };
    return names[sources & SOURCE_BOTH];
}

const char *flag_name(int32_t index, int32_t *flag)
{
    static const struct {
        int32_t flag;
        const char *name;
    } names[] = {
        { HOW_CLOCK, "clock_stepped" },       { HOW_BACK_DATED, "back_dated" },
        { HOW_RE_DATED, "re_dated" },         { HOW_RUN_CHANGE, "run_change" },
        { HOW_POWER_FAILED, "power_failed" }, { HOW_CORRECTED, "corrected" },
        { ROW_ENTERED, "entered" },           { ROW_PRORATED, "prorated" },
        { ROW_GUESSED, "estimated_reading" },
    };
    if (index < 0 || index >= (int32_t)(sizeof(names) / sizeof(names[0])))
        return NULL;
    *flag = names[index].flag;
    return names[index].name;
}
