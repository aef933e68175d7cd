#include "fill_grid.h"

#include <stdbool.h>

#include "muldiv.h"

/* What a piece's energy may be placed by, in this order of choice. */
enum { IMPORT_BOUGHT, IMPORT_USED, IMPORT_ANYWHERE };
enum { EXPORT_SOLD, EXPORT_KEPT_SELLING, EXPORT_KEPT_BUYING, EXPORT_MADE, EXPORT_ANYWHERE };

struct weights {
    int64_t import[FILL_GRID_WAYS], export[FILL_GRID_WAYS];
};

static struct weights weigh(int64_t p, int64_t c)
{
    return (struct weights){
        .import = { [IMPORT_BOUGHT] = c > p ? c - p : 0, [IMPORT_USED] = c, [IMPORT_ANYWHERE] = 1 },
        .export = { [EXPORT_SOLD] = p > c ? p - c : 0,
                    [EXPORT_KEPT_SELLING] = p > c ? c : 0,
                    [EXPORT_KEPT_BUYING] = p > c ? 0 : p,
                    [EXPORT_MADE] = p,
                    [EXPORT_ANYWHERE] = 1 },
    };
}

void fill_grid_init(struct fill_grid *grid)
{
    *grid = (struct fill_grid){ 0 };
}

void fill_grid_add(struct fill_grid *grid, int64_t production, int64_t consumption)
{
    struct weights weights = weigh(production, consumption);
    for (int i = 0; i < FILL_GRID_WAYS; i++) {
        grid->import[i].total += weights.import[i];
        grid->export[i].total += weights.export[i];
    }
}

/* Places by this at most its own size, or all where there is no bound. */
static void place(struct fill_spread *spread, bool bounded, int64_t *rest)
{
    spread->amount = bounded && *rest > spread->total ? spread->total : *rest;
    if (spread->total == 0)
        spread->amount = 0;
    *rest -= spread->amount;
}

void fill_grid_fit(struct fill_grid *grid, int64_t import, int64_t export)
{
    static const bool bounded[FILL_GRID_WAYS] = {
        [EXPORT_SOLD] = true, [EXPORT_KEPT_SELLING] = true, [EXPORT_KEPT_BUYING] = true
    };
    for (int i = 0; i < FILL_GRID_WAYS; i++) {
        place(&grid->import[i], false, &import);
        place(&grid->export[i], bounded[i], &export);
    }
}

static int64_t take(struct fill_spread *spread, int64_t weight)
{
    if (spread->amount == 0)
        return 0;
    int64_t before = mul_div(spread->amount, spread->sum, spread->total);
    spread->sum += weight;
    return mul_div(spread->amount, spread->sum, spread->total) - before;
}

void fill_grid_take(struct fill_grid *grid, int64_t production, int64_t consumption, int64_t *import,
                    int64_t *export)
{
    struct weights weights = weigh(production, consumption);
    *import = *export = 0;
    for (int i = 0; i < FILL_GRID_WAYS; i++) {
        *import += take(&grid->import[i], weights.import[i]);
        *export += take(&grid->export[i], weights.export[i]);
    }
}
