/* Private to billing*.c: what is gathered while the rows of a period go by. */
#ifndef METERBOOK_BILLING_READ_H
#define METERBOOK_BILLING_READ_H

#include "billing.h"

struct gather {
    struct billing *billing;
    const struct tariff *tariff;
    struct billing_period *result;
    struct period period;
    uint32_t measures; /* that its schedules ask for, 1 << enum measure */
    bool has_blocks;   /* so that hours are asked for */
    bool by_interval;
    bool by_quarters;               /* and nothing finer than the quarter hours of the clock */
    int64_t day, day_s, next_day_s; /* the civil day of the row before: most rows are of the same */
    struct demand {
        int64_t block_s;                  /* begin of the demand interval that is being filled */
        int64_t covered_s, with, without; /* mWh; of apparent energy mVAh */
        bool doubtful;
    } demand;
};

/* billing_gather.c */
bool gather_wants(const struct gather *gather, enum measure measure);
/* Where an instant's energy goes: the stretch (-1: none) and its block; the day is kept. */
int32_t gather_place(struct gather *gather, int64_t at_s, int32_t *block);
/* Adds an interval of so many seconds to the demand interval that it lies in; true at its end, then `demand`
 * is whole or must be left out (a demand is then at least what others are). */
bool gather_demand(struct gather *gather, int64_t from_s, int64_t to_s, int64_t with, int64_t without,
                   bool doubtful);
bool gather_demand_is_sure(const struct gather *gather);

/* billing_register.c: what a register of the sealed meter went on by; UNKNOWN where the period's ends are no
 * readings. */
int64_t gather_register(const struct gather *gather, enum sealed_register reg);
/* Of all stretches and blocks, with the plant. */
int64_t gather_sum(const struct billing_period *result, enum measure measure);

/* billing_sealed.c: import, export and demand as the sealed meter's registers have them. */
void gather_sealed(struct gather *gather);

/* billing_production.c: what was made between the two readings, where our own account or the readings of a
 * sealed production meter tell it; else, UNKNOWN, that of the civil days stays. */
int64_t gather_production(const struct gather *gather);

/* billing_registers.c: a measure by the registers of tariff periods, of which `first` is the first; where
 * they leave one block uncounted, that gets the rest of `total`. False where they do not tell all blocks:
 * nothing is changed then. */
bool gather_by_registers(struct gather *gather, enum measure measure, enum sealed_register first,
                         int64_t total);
/* Energies that the period's schedules ask for block by block, 1 << enum measure. */
uint32_t gather_measures_by_block(const struct gather *gather);

/* billing_apparent.c: kVAh and kvarh of the grid meter. False where the record could not be read. */
bool gather_apparent(struct gather *gather);

#endif
