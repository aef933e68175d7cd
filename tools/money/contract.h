/* What a tariff does not know of a customer, and what a plant cost: the contract's file
 * (meterbook-tariff(5)). Facts are dated: each holds from its day on. Amounts are millionths of the tariff's
 * currency, days civil days. */
#ifndef METERBOOK_CONTRACT_H
#define METERBOOK_CONTRACT_H

#include "bill.h"

enum {
    CONTRACT_LOADS = 32,
    CONTRACT_COSTS = 128,
    CONTRACT_TEXT_SIZE = 80,
    CONTRACT_REGISTERS = 4,
    PAPER_ITEMS = 24
};

struct contract_load {
    int64_t from_day;
    int64_t contracted; /* 10^-6 kW */
};

/* Money that was spent on the plant (above 0) or got for it (a subsidy, below 0), apart from bills. */
struct contract_cost {
    int64_t day;
    int64_t amount;
    char what[CONTRACT_TEXT_SIZE];
};

/* What a projection assumes; millionths of a year's value where it is a share. */
struct contract_projection {
    int32_t life_years;  /* from the first part's commissioning on */
    int64_t degradation; /* of what is made, a year */
    int64_t escalation;  /* of the tariff's rates, a year */
    int64_t operating;   /* amount a year */
    int64_t operating_escalation;
    int32_t replacement_year; /* 0: none */
    int64_t replacement;      /* amount */
    int64_t discount;         /* rate of the net present value, a year */
    int64_t deposit;          /* interest of a deposit beside it, a year */
};

/* A bill as the utility wrote it. */
struct paper_item {
    char name[TARIFF_NAME_SIZE]; /* that of the tariff's item */
    int64_t amount;
};
struct paper_bill {
    int64_t from_day, to_day; /* [from, to) */
    int64_t import, export;   /* mWh; UNKNOWN: not stated */
    int64_t total;            /* millionths */
    bool estimated;           /* a reading was */
    int32_t item_count;
    struct paper_item items[PAPER_ITEMS];
    char note[CONTRACT_TEXT_SIZE];
};

struct contract_file {
    char tariff[CONFIG_PATH_SIZE];  /* paths, made whole */
    char without[CONFIG_PATH_SIZE]; /* the tariff that would hold without the plant; the same where not given
                                     */
    int32_t phases;
    char registers[CONTRACT_REGISTERS][TARIFF_NAME_SIZE]; /* block of a sealed meter's T1 to T4; "" none */
    int32_t load_count;
    struct contract_load loads[CONTRACT_LOADS];
    int32_t part_count;
    struct plant_part parts[BILL_PARTS];
    int32_t cost_count;
    struct contract_cost costs[CONTRACT_COSTS];
    bool has_projection;
    struct contract_projection projection;
    int32_t paper_count;
    struct paper_bill *papers; /* heap, by date */
};

/* Reads it; every problem is said as "file:line: what, what is allowed". NULL after at least one error was
 * said. Give it to contract_free(). */
struct contract_file *contract_load(const char *path, struct problems *problems);
void contract_free(struct contract_file *file);

/* What holds on a day, with the plant or without it. */
struct contract contract_at(const struct contract_file *file, int64_t day, bool with_plant);

#endif
