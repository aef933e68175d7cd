/* What a tariff does not know of a customer, and what a plant cost: the contract's file
 * (meterbook-tariff(5)). Facts are dated: each holds from its day on. Amounts are millionths of the tariff's
 * currency, days civil days. */
#ifndef METERBOOK_CONTRACT_H
#define METERBOOK_CONTRACT_H

#include "bill.h"

enum {
    CONTRACT_LOADS = 32,
    CONTRACT_COSTS = 128,
    CONTRACT_CREDITS = 64,
    CONTRACT_TEXT_SIZE = 80,
    CONTRACT_REGISTERS = 4,
    PAPER_ITEMS = 24,
    PAPER_READINGS = 2 * TARIFF_BLOCKS + 2,
    CONTRACT_CASES = 12
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

/* Credit in kWh that the site brought along, of a block of the day. Those of one day belong together. */
struct contract_credit {
    int64_t day; /* it holds for the first bill that begins on it or later */
    int64_t energy;
    char block[TARIFF_NAME_SIZE];
    char source[CONTRACT_TEXT_SIZE];
    int32_t line; /* in the file */
};

/* A bill as the utility wrote it. */
struct paper_item {
    char name[TARIFF_NAME_SIZE]; /* that of the tariff's item */
    int64_t amount;
};
/* What it prints of a register. */
struct paper_reading {
    enum measure of;              /* MEASURE_IMPORT or MEASURE_EXPORT */
    char block[TARIFF_NAME_SIZE]; /* that the register counts; "" all time */
    int64_t opening, closing;     /* as shown, millionths; UNKNOWN: not stated */
    int64_t energy;               /* mWh that are billed of it */
    int32_t line;                 /* in the contract's file */
};
struct paper_bill {
    int64_t from_day, to_day; /* [from, to) */
    int64_t import, export;   /* mWh; UNKNOWN: not stated */
    int64_t total;            /* millionths */
    bool estimated;           /* a reading was */
    int32_t item_count;
    struct paper_item items[PAPER_ITEMS];
    int32_t reading_count;
    struct paper_reading readings[PAPER_READINGS];
    char note[CONTRACT_TEXT_SIZE];
};

/* A case of what-if as written; what_if.h says what becomes of it. */
struct contract_case {
    char name[TARIFF_NAME_SIZE];
    char tariff[CONFIG_PATH_SIZE]; /* made whole; "" the contract's */
    int64_t plant_kwp;             /* 10^-6 kWp; 0: as it is */
    int64_t inverter_kw;           /* 10^-6 kW; 0: no limit */
    int64_t export_limit_kw;       /* UNKNOWN: no limit; 0: nothing is exported */
    int64_t consumption_change;    /* millionths: 100000 a tenth more */
    int64_t consumption_per_month; /* mWh in the mean month; 0: as it is */
    bool has_shape;
    int32_t shape_hours[24], shape_months[12]; /* millionths of what was made: another tilt or azimuth */
    bool has_load;
    int32_t load_w[24];              /* by hour of the day */
    int64_t battery_kwh, battery_kw; /* millionths */
    int32_t battery_efficiency;      /* millionths */
    bool by_time_of_use;             /* it gives only in dispatch_block */
    char dispatch_block[TARIFF_NAME_SIZE];
    int32_t netting_s;
    int64_t cost; /* of what is added; millionths */
};

/* Plant sizes and consumptions to go through. */
struct contract_sweep {
    int64_t plant_from, plant_to, plant_step;                   /* 10^-6 kWp */
    int64_t consumption_from, consumption_to, consumption_step; /* mWh in the mean month */
    int64_t cost_fixed, cost_per_kwp;                           /* millionths */
    int64_t inverter_share; /* kW of the inverters for a kWp, millionths; 0: no limit */
};

/* Which published factors stand for the grid (carbon.h). */
struct contract_carbon {
    char factors[CONFIG_PATH_SIZE]; /* file, made whole; "" none */
    char average[64], marginal[64]; /* names in it; "" none */
    int64_t losses;                 /* of the grid between power station and house, millionths */
    int64_t life_cycle;             /* 10^-6 kg per kWh that the plant makes */
    int64_t embodied_kwh_per_kwp;   /* energy that its making took, mWh per kWp; 0 not known */
    bool claim_sold;                /* certificates of the energy were sold: the claim is another's */
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
    struct contract_carbon carbon;
    int32_t case_count;
    struct contract_case cases[CONTRACT_CASES];
    bool has_sweep;
    struct contract_sweep sweep;
    int32_t credit_count;
    struct contract_credit credits[CONTRACT_CREDITS]; /* by day */
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
