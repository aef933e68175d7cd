/* The bills of a site one after another, from the first that can be made on, with the plant and without it:
 * each takes up the credit that the one before left. */
#ifndef METERBOOK_BILLS_H
#define METERBOOK_BILLS_H

#include "billing.h"
#include "rebill.h"

/* Credit that the site brought along. */
struct opening {
    bool taken;
    int64_t energy;            /* mWh, of all blocks */
    const char *source;        /* where that is written */
    const char *guessed_block; /* into which energy went although nobody says so; "" none */
};

struct bill_pair {
    struct billing_period period;
    struct bill with, without;      /* without: under the tariff that would hold then, on the consumption */
    bool has_with, has_without;     /* false: no schedule holds, or nothing is known */
    struct contract terms;          /* with the plant */
    struct credit before;           /* credit before the bill with the plant */
    struct opening opening;         /* credit that was brought along into this bill */
    const struct paper_bill *paper; /* what the utility billed for the same days; NULL */
};

struct bills {
    struct inquiry inquiry; /* of the whole run */
    const struct inquiry *asked;
    struct contract_file *contract;
    struct tariff *tariff, *without;
    struct billing billing;
    struct sources sources;
    int32_t next;
    struct credit credit, without_credit;
    int64_t credit_day; /* an opening credit dated up to here was taken; 0: none */
    bool with_alone;    /* set after bills_open(): the bills without the plant are not asked for */
    bool failed;
};

/* Reads the contract that the options or the configuration name, and its tariffs. Bills are made from the
 * first reading or interval on up to the end of the inquiry's span. Returns EXIT_ANSWERED, else the code to
 * end with, said on stderr; bills_close() takes it in any case. */
enum exit_code bills_open(struct bills *bills, struct inquiry *inquiry, const struct options *options);
/* The next pair; false at the end or where it failed, said on stderr. */
bool bills_next(struct bills *bills, struct bill_pair *pair);
void bills_close(struct bills *bills);

/* Does the pair's period reach into the span that was asked for? */
bool bills_asked(const struct bills *bills, const struct bill_pair *pair);

/* What the bill with the plant was made of; valid as the pair is. */
struct bill_basis bills_basis(const struct bills *bills, const struct bill_pair *pair);

/* An amount in the tariff's currency, for a sheet. */
struct sheet_cell bills_money(const struct bills *bills, int64_t amount);

/* What must be said of any bill, once, and of this one. */
extern const char bills_estimate[];
void bills_notes(const struct bills *bills, const struct bill_pair *pair, struct sheet *sheet);

#endif
