/* What a plant returns: money that went out for it and came back so far, and, apart from that, a projection.
 * Pure. */
#ifndef METERBOOK_RETURNS_H
#define METERBOOK_RETURNS_H

#include "contract.h"
#include "finance.h"

enum { RETURNS_FLOWS = 2048, RETURNS_RATES = 4 };

/* What one bill saved, at its last day, and what the plant made in its days. */
struct saved {
    int64_t from_day, to_day;
    int64_t saving;     /* millionths, with what the settlement paid */
    int64_t production; /* mWh */
    int64_t settled;    /* of the saving: paid by the end of a settlement year, millionths */
    bool settles;       /* it has such an end */
};

struct returns_flow {
    int64_t day;
    bool projected;
    int64_t cost, saving, operating; /* millionths; cost and operating below 0 where paid */
    int64_t from_day;                /* a projected year's saving comes evenly from here to `day` */
};

struct returns {
    /* realised */
    int64_t paid;                /* costs less subsidies up to the last bill, above 0 */
    int64_t saved;               /* up to the last bill */
    int64_t first_day, last_day; /* of the first payment, of the last bill */
    /* a year of the last bills, up to 365 days of them */
    int64_t year_days, year_saving, year_production;
    /* settlements in year_saving: for so many days up to a day, 365 of them; UNKNOWN: none was due yet */
    int64_t settled_days, settled_until;
    int64_t simple_return; /* saving of a year over what was paid, millionths; UNKNOWN: nothing was paid */
    int64_t payback_day;   /* on which the sum of all flows reached 0; UNKNOWN: never */
    bool payback_projected;
    /* with the projection */
    bool has_projection;
    int64_t end_day;      /* of the plant's life */
    double present_value; /* in the currency's unit, at the first payment */
    int32_t rate_count;   /* solutions of the internal rate: 0 none, more than 1 several */
    double rates[RETURNS_RATES];
    double levelised; /* of a kWh; not a number where nothing is known of what was made */
    double plant_wealth,
        deposit_wealth; /* at end_day: savings put at the deposit's rate; the costs put there instead */
    int32_t flow_count;
    struct returns_flow flows[RETURNS_FLOWS]; /* by day */
};

/* `saved` is by time; at least one. Bills are projected from the last year of them. */
void returns_make(struct returns *returns, const struct contract_file *contract, const struct saved *saved,
                  int32_t saved_count);

#endif
