/* What is carried from one bill to the next under net metering: pure.
 *
 * Energy credit is kept in lots by block and by the day on which it arose; the oldest is used first. Nothing
 * appears or vanishes: in + surplus = used + expired + not_kept + lost + settled + paid + out, to the mWh. */
#ifndef METERBOOK_CREDIT_H
#define METERBOOK_CREDIT_H

#include "tariff.h"

enum { CREDIT_LOTS = 256, CREDIT_DEMANDS = 36 };

struct credit_lot {
    int64_t day;    /* on which its bill ended */
    int64_t energy; /* mWh, above 0 */
    int32_t block;  /* 0 where credit is not kept by block */
};

/* The highest demands of a bill, in the blocks of its last schedule; 10^-6 kW, kVA. */
struct demand_before {
    int32_t month; /* 1 to 12, in which it ended */
    const struct schedule *schedule;
    int64_t demand[TARIFF_BLOCKS], apparent_demand[TARIFF_BLOCKS];
};

struct credit {
    int32_t lot_count;
    struct credit_lot lots[CREDIT_LOTS]; /* oldest first */
    int64_t money;                       /* millionths, at least 0 */
    int32_t demand_count;
    struct demand_before demands[CREDIT_DEMANDS]; /* of bills before, the newest last */
};

/* What a bill did with credit, mWh. */
struct credit_use {
    int64_t in, surplus, used, expired, not_kept, settled, lost, paid, out;
    int64_t above; /* of the surplus: what was above the cap */
};

/* Adds credit of a block; lots beyond the most are joined with the oldest. */
void credit_add(struct credit *credit, int64_t day, int32_t block, int64_t energy);
int64_t credit_sum(const struct credit *credit);

/* Nets the energies of a bill whose last day is before `to_day`: import less export less credit by block, the
 * result in `net`, each at least 0. What is left over becomes credit. `above`: export above the cap that
 * items pay for, of which nothing becomes credit. */
void credit_net(struct credit *credit, const struct netting *netting, int64_t from_day, int64_t to_day,
                int32_t block_count, const int64_t import[TARIFF_BLOCKS], const int64_t export[TARIFF_BLOCKS],
                int64_t net[TARIFF_BLOCKS], int64_t above[TARIFF_BLOCKS], struct credit_use *use);

/* What credit that is left is worth by the rule that would settle it, millionths: what is paid for it, 0
 * where it is lost; money itself. UNKNOWN where energy is kept or never settled: nobody sets a price. */
int64_t credit_worth(const struct credit *credit, const struct netting *netting);

/* Does the settlement year end within [from, to)? */
bool credit_settles(const struct netting *netting, int64_t from_day, int64_t to_day);

#endif
