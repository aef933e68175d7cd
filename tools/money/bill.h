/* A bill: what a tariff makes of the energies of a period, line by line. Pure, in integers, without a clock.
 * An estimate: what the utility bills is what counts, and whoever wrote the tariff's file answers for it. */
#ifndef METERBOOK_BILL_H
#define METERBOOK_BILL_H

#include "credit.h"
#include "tariff.h"

enum { BILL_LINES = 160, BILL_STRETCHES = 16, BILL_PARTS = 8 };

/* The energies of a stretch of civil days within one schedule, in that schedule's blocks. */
struct usage {
    int64_t from_day, to_day; /* [from, to) */
    const struct schedule *schedule;
    int64_t energy[MEASURE_ENERGIES][TARIFF_BLOCKS];               /* mWh, mvarh, mVAh; NET is left 0 */
    int64_t demand[TARIFF_BLOCKS], apparent_demand[TARIFF_BLOCKS]; /* 10^-6 kW, kVA */
    int64_t estimated;    /* mWh of import, export and production together that were not measured */
    bool demand_at_least; /* a gap may hide a higher one */
};

/* Adds a stretch that follows, block by block of the same name: where the sum's schedule has none it is all
 * other time. */
void usage_add(struct usage *sum, const struct usage *use);
/* The same energies in another schedule's blocks. */
struct usage usage_in_blocks_of(const struct usage *use, const struct schedule *schedule);

/* A part of the plant by its date. */
struct plant_part {
    int64_t commissioned; /* civil day */
    int64_t kilowatts;    /* millionths */
};

/* What the tariff does not know of the customer. */
struct contract {
    bool with_plant;
    int64_t contracted; /* 10^-6 kW; 0: none */
    int32_t phases;
    int32_t part_count;
    struct plant_part parts[BILL_PARTS];
};

/* Why a line is what it is. */
enum line_kind { LINE_ITEM, LINE_SLAB, LINE_AGE, LINE_CREDIT_USED, LINE_CREDIT_CARRIED, LINE_ROUNDING };

struct bill_line {
    enum line_kind kind;
    const struct schedule *schedule; /* NULL: of the bill as a whole */
    const struct item *item;         /* NULL: credit, rounding */
    int64_t quantity, rate, amount;  /* millionths; quantity of "items": their amounts */
    int64_t slab_from, slab_to;      /* of a slab, after scaling; slab_to INT64_MAX: none */
    int64_t share;                   /* millionths of the schedule's part in the bill; 1000000: all */
};

struct bill {
    int64_t from_day, to_day;
    int32_t line_count;
    struct bill_line lines[BILL_LINES];
    bool cut; /* there were more lines than fit: the total is not to be used */
    int64_t total;
    int64_t energy[MEASURE_ENERGIES]; /* of the bill, NET among them: what is billed after credit */
    int64_t demand, apparent_demand;  /* the highest */
    bool demand_at_least;
    int64_t estimated; /* mWh of import, export and production together that were not measured */
    struct credit_use credit;
    int64_t money_in, money_out;
    /* apart from the bill: what the end of a settlement year pays, millionths; 0 none */
    bool settled;
    int64_t settlement_rate, settlement;
};

/* Makes the bill of consecutive stretches (as many as there are schedules in the period) and moves the credit
 * on. Returns false where nothing can be billed: no stretch, or too many. */
bool bill_make(struct bill *bill, const struct tariff *tariff, const struct contract *contract,
               const struct usage *uses, int32_t use_count, struct credit *credit);

/* Sum of an item's lines by its name, over all schedules. */
int64_t bill_item_amount(const struct bill *bill, const char *name);

/* ---- parts of it: bill_price.c ---- */

/* What one schedule makes of energies: lines are added to the bill, sums by item returned. */
struct evaluation {
    const struct tariff *tariff;
    const struct contract *contract;
    const struct schedule *schedule;
    const struct credit *credit; /* demands of bills before */
    struct usage use;            /* with NET filled in */
    int64_t days, whole_days;    /* of the use, of the bill */
    int64_t months;              /* millionths, of the use */
    int64_t bills;               /* millionths: share of the bill */
    int64_t slab_days,
        weight_days; /* of whole_days: which slab limits are for; by which amounts are weighted */
    int64_t amounts[TARIFF_ITEMS];
};
void bill_price(struct bill *bill, struct evaluation *evaluation);

#endif
