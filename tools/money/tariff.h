/* A tariff: dated schedules of items, each of which names what it multiplies. Read whole from a file
 * (meterbook-tariff(5)) by tariff_file.c, never changed after.
 *
 * Rates and amounts are millionths of the currency's unit, quantities millionths of theirs (kWh: mWh), days
 * civil days since 1970-01-01 (calendar.h). */
#ifndef METERBOOK_TARIFF_H
#define METERBOOK_TARIFF_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "money.h"

enum {
    TARIFF_NAME_SIZE = 48,
    TARIFF_TEXT_SIZE = 200,
    TARIFF_BLOCKS = 8, /* time-of-use periods, and one for all other time */
    TARIFF_ITEMS = 32, /* of a schedule */
    TARIFF_SLABS = 12, /* of an item or a table */
    TARIFF_TABLES = 8, /* of an item whose table is chosen */
    TARIFF_SCHEDULES = 64,
    TARIFF_HOLIDAYS = 600,
    TARIFF_AGES = 4,
    TARIFF_SETTLE_DAYS = 4, /* of a year */
};

/* What an item multiplies. The first ones are energies, kept by block. */
enum measure {
    MEASURE_IMPORT,
    MEASURE_EXPORT,
    MEASURE_NET, /* import less export and credit, never below zero: what is billed under net metering */
    MEASURE_CONSUMPTION,
    MEASURE_PRODUCTION,
    MEASURE_SELF_CONSUMPTION,
    MEASURE_APPARENT,  /* kVAh of import */
    MEASURE_REACTIVE,  /* kvarh of import */
    MEASURE_ABOVE_CAP, /* export beyond what may be taken from import */
    MEASURE_ENERGIES,
    MEASURE_DEMAND = MEASURE_ENERGIES, /* kW, the highest of the bill's demand intervals */
    MEASURE_DEMAND_APPARENT,           /* kVA */
    MEASURE_CONTRACTED,                /* kW */
    MEASURE_DAYS,
    MEASURE_MONTHS, /* 1 in a calendar month; of other periods their days over the tariff's `month_days` */
    MEASURE_BILLS,  /* 1 */
    MEASURE_PHASES,
    MEASURE_POWER_FACTOR, /* kWh over kVAh of import; decides only (chosen_by) */
    MEASURE_ITEMS,        /* the amounts of other items */
    MEASURE_COUNT
};

enum price {
    PRICE_FLAT,       /* one rate */
    PRICE_TELESCOPIC, /* each slab's share at its own rate */
    PRICE_WHOLE,      /* all of it at the rate of the slab that it reaches */
    PRICE_CHOSEN,     /* a table of slabs chosen by the total, then as telescopic */
    PRICE_PERCENT,    /* of other items */
    PRICE_LEAST,      /* what is missing to the least amount of other items */
    PRICE_COUNT
};

enum party { PARTY_ALWAYS, PARTY_WITH_PLANT, PARTY_WITHOUT_PLANT };

/* How one bill is made where a revision falls into its period (trade.md has the figures of all five). */
enum revision {
    REVISION_WEIGHTED,   /* the whole use on each schedule, weighted by days */
    REVISION_SPLIT_USE,  /* the real use of each part, slab limits by its days */
    REVISION_SPLIT_DAYS, /* the use shared by days, full slabs for each part */
    REVISION_CLOSING,    /* the schedule at the closing reading */
    REVISION_OPENING,    /* that at the opening one */
    REVISION_COUNT
};

enum settlement { SETTLEMENT_NET_METERED, SETTLEMENT_NET_BILLED, SETTLEMENT_GROSS, SETTLEMENT_COUNT };

struct rounding {
    int64_t unit; /* millionths; 0: not rounded */
    enum round_how how;
};

struct slab {
    int64_t to; /* upper limit of the quantity; INT64_MAX: none */
    int64_t rate;
};

struct slab_table {
    int64_t to; /* chosen where the total is at most this; INT64_MAX: else */
    int32_t slab_count;
    struct slab slabs[TARIFF_SLABS];
};

/* A rate that depends on how old the plant's part is that made it. */
struct age_rate {
    int32_t to_years;         /* below this age; INT32_MAX: from then on */
    int64_t from_day, to_day; /* for parts commissioned in [from, to); INT64_MIN, INT64_MAX: any */
    int64_t rate;
};

struct item {
    char name[TARIFF_NAME_SIZE];
    enum measure of;
    enum price price;
    enum party party;
    int32_t block;          /* of the schedule's blocks; -1: all of them together */
    bool pays;              /* the amount is the customer's */
    int64_t rate;           /* flat; of PERCENT: millionths of the whole; of LEAST: the least amount */
    int32_t scale_days;     /* slab limits are for so many days, and scale with the bill's; 0: they stay */
    enum measure chosen_by; /* of CHOSEN and WHOLE: the quantity that decides; else the item's own */
    int32_t table_count;    /* of TELESCOPIC and WHOLE: 1 */
    struct slab_table tables[TARIFF_TABLES];
    int32_t age_count; /* 0: the rate holds for all */
    struct age_rate ages[TARIFF_AGES];
    uint32_t items; /* of PERCENT and LEAST: 1 << index of items before it */
    int32_t ratchet_percent,
        ratchet_bills;          /* demand: never below that share of the highest of so many bills before */
    uint32_t ratchet_months;    /* of bills that end in these, 1 << (month - 1); 0: any */
    int64_t contracted_percent; /* demand: never below that share of the contracted, millionths */
    int64_t apparent_percent;   /* demand in kW: never below that share of the one in kVA, millionths */
    struct rounding quantity, amount; /* unit 0: as the tariff */
};

/* When a block holds: the first that fits; what fits none is in the last one, TARIFF's "other". */
struct block {
    char name[TARIFF_NAME_SIZE];
    int32_t same;         /* index of the first of that name: a block may have several windows */
    uint32_t months;      /* 1 << (month - 1) */
    uint32_t weekdays;    /* 1 << 0 Monday ... 1 << 6 Sunday, 1 << 7 holidays */
    int32_t from_s, to_s; /* of the site's clock; to_s <= from_s: over midnight */
};

enum carry { CARRY_NOTHING, CARRY_ENERGY, CARRY_MONEY };
enum above_cap { ABOVE_SURPLUS, ABOVE_LOSE, ABOVE_PAY };
enum at_settlement { SETTLE_LOSE, SETTLE_PAY, SETTLE_KEEP };

/* What net metering does with what was exported beyond the import. */
struct netting {
    bool by_block; /* within each block; else over the whole bill */
    bool across;   /* a block's credit may then be used in others, in the order of the blocks */
    /* Export and credit together may take off so much of a bill's import; 0: all of it. Where netting is
     * within each block, the share is of each block's import. */
    int64_t cap_share;        /* millionths */
    int64_t cap_energy;       /* mWh, of the bill as a whole */
    int32_t cap_days;         /* cap_energy is for so many days, and scales with the bill's; 0: it stays */
    enum above_cap above_cap; /* what becomes of export above it: as any surplus, lost, or items pay for it */
    enum carry carry;
    int32_t kept_percent;  /* of a credit, each time it is carried */
    int32_t expiry_months; /* 0: not before settlement */
    int32_t settle_count;  /* a settlement year (or a part of it) ends after each of these days; 0: never */
    struct day_of_year {
        int32_t month, day;
    } settle[TARIFF_SETTLE_DAYS];
    enum at_settlement at_settlement;
    int64_t settle_rate; /* for a kWh that is paid then */
    uint32_t pays;       /* items that money credit may pay, 1 << index; 0: all */
};

struct schedule {
    int64_t from_day;  /* holds from here on, to the next schedule's or the tariff's end */
    int64_t known_day; /* published; at or after from_day: retroactive */
    char source[TARIFF_TEXT_SIZE];
    int32_t block_count; /* the last one is "other" */
    struct block blocks[TARIFF_BLOCKS];
    int32_t item_count;
    struct item items[TARIFF_ITEMS];
    struct netting netting;
};

struct tariff {
    char name[TARIFF_NAME_SIZE];
    char note[TARIFF_TEXT_SIZE];
    char currency[4];
    int32_t decimals; /* of the currency */
    enum settlement settlement;
    enum revision revision;
    bool by_readings;   /* bills go from reading to reading; else by calendar month */
    int32_t demand_s;   /* length of a demand interval */
    int32_t month_days; /* days of a month where a charge per month falls on another period */
    struct rounding quantity, line, total; /* of energies, of each line, of the bill */
    int64_t end_day;                       /* the last schedule ends before it; INT64_MAX: open */
    int32_t holiday_count;
    int64_t *holidays; /* heap, rising */
    int32_t schedule_count;
    struct schedule *schedules; /* heap, by from_day, without gap or overlap */
};

/* Reads a tariff; every problem is said as "file:line: what, what is allowed". NULL after at least one error
 * was said. Give it to tariff_free(). */
struct tariff *tariff_load(const char *path, struct problems *problems);
void tariff_free(struct tariff *tariff);

/* A copy that rounds nothing, so that the worth of a single kWh can be told; NULL without memory.
 * tariff_free() takes it. */
struct tariff *tariff_unrounded(const struct tariff *tariff);

/* The schedule that holds on a day; NULL before the first and after the end. */
const struct schedule *tariff_at(const struct tariff *tariff, int64_t day);

/* Index of the schedule's block of that name, -1 where it has none. */
int32_t schedule_find_block(const struct schedule *schedule, const char *name);

/* The same, but that of all other time where it has none. */
int32_t schedule_block_named(const struct schedule *schedule, const char *name);

/* Has the tariff a block of that name in any of its schedules? */
bool tariff_has_block(const struct tariff *tariff, const char *name);

/* Measures that a schedule's items multiply or are decided by, 1 << enum measure each. */
uint32_t schedule_measures(const struct schedule *schedule);

/* Does it ask for kVAh, kVA or kvarh in any of its schedules? */
bool tariff_asks_apparent(const struct tariff *tariff);

/* Index of the block that holds at an instant of the site's clock. */
int32_t schedule_block(const struct tariff *tariff, const struct schedule *schedule, int64_t day,
                       int32_t second_of_day);

/* Do all its blocks begin and end at multiples of so many seconds of the clock's day? */
bool schedule_is_of(const struct schedule *schedule, int32_t seconds);

/* Does the measure count energy? Then its unit is kWh, kVAh or kvarh. */
const char *measure_name(enum measure measure);
const char *measure_unit(enum measure measure);

#endif
