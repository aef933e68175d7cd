/* Billing periods of a span, with the energies that their bills are made of: by calendar month, or from
 * reading to reading of the sealed meter. Bills are for whole civil days of the site; a reading counts for
 * its day's begin. */
#ifndef METERBOOK_BILLING_H
#define METERBOOK_BILLING_H

#include "contract.h"
#include "inquiry.h"
#include "spans.h"

/* How the energies of a period were found. */
struct billing_period {
    int64_t from_day, to_day;
    bool by_readings; /* import and export are those of the sealed meter's registers, to the mWh */
    bool untold_import,
        untold_export;        /* the ends are readings, but do not tell what the register went on by */
    bool shaped;              /* within it they were shared out: over a revision, or to blocks of the day */
    bool by_days;             /* so by days alone: our own account has nothing of it */
    bool guessed;             /* a reading at its ends was estimated */
    int64_t missing_days;     /* of which a figure is not known: a bill of it is too low */
    int64_t unscheduled_days; /* on which no schedule holds: then nothing is billed */
    bool no_hours;            /* blocks of the day or demand are asked for, and nothing knows the hours */
    bool no_hours_without;    /* nor of the consumption */
    bool no_apparent, no_reactive; /* asked for, and the grid meter has no such counter: 0 */
    bool no_apparent_without;      /* asked for, and without the plant nobody knows it */
    bool has_production;           /* so that the bill without the plant is known */
    int32_t use_count; /* stretches by schedule; 0: no schedule holds on all days, or they are too many */
    struct usage with[BILL_STRETCHES], without[BILL_STRETCHES];
};

struct billing {
    struct inquiry *inquiry;
    const struct contract_file *contract;
    const struct tariff *tariff, *without;
    int32_t sealed;     /* index of the grid's sealed meter in the configuration, -1 none */
    struct spans spans; /* its reading periods */
    int32_t count, room;
    struct period *periods; /* heap, by time */
    bool memory_out;
    /* what was made in the civil day of an instant before it: of the two ends of the period before */
    struct billing_head {
        int64_t at_s, production;
    } heads[2];
};

/* Finds the periods of the inquiry's span: those that lie in it whole, and at its ends what it has of one.
 * The billing's first four fields are the caller's. False, said on stderr, where it failed; billing_free()
 * takes it in any case. */
bool billing_open(struct billing *billing);
void billing_free(struct billing *billing);

/* The energies of a period under a tariff; false where the record could not be read. A megabyte or so: on the
 * heap. */
bool billing_read(struct billing *billing, const struct tariff *tariff, struct period period,
                  struct billing_period *result);

/* The civil day of an instant. */
int64_t billing_day(const struct billing *billing, int64_t at_s);

#endif
