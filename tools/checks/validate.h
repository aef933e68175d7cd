/* What the checks of a record find: a tally per meter and item.
 *
 * The yardstick are the Standards for Validating, Editing, and Estimating
 * Monthly and Interval Data (California, attachment VEE): time,
 * identification, sum, spike and high/low check. Their text is not here: which
 * thresholds are from memory and which our own, meterbook.conf(5) says. Each
 * validate_*.c is one of them, pure, fed with rows in order of time and kept
 * in constant memory; validate_walk.c reads the record and feeds them.
 *
 * Energies in mWh, times in UTC s, shares in millionths. */
#ifndef METERBOOK_VALIDATE_H
#define METERBOOK_VALIDATE_H

#include <stdbool.h>
#include <stdint.h>

#include "number.h"

enum item {
    /* time check */
    ITEM_PRESENT, /* every interval between a meter's first and its last is there */
    ITEM_ORDER,   /* none begins before the one before it ends, none stands twice */
    ITEM_GRID,    /* all begin where the interval's length says */
    ITEM_FUTURE,  /* none ends later than now */
    ITEM_DAYS,    /* days of 23 to 25 h have all their intervals */
    ITEM_CLOCK,   /* what clocks did */
    /* identification check */
    ITEM_SERIAL,   /* serial numbers of register runs */
    ITEM_RUNS,     /* register runs that began, and why */
    ITEM_FACTORS,  /* ratios and directions that changed */
    ITEM_SETTINGS, /* configurations loaded */
    /* sum check */
    ITEM_ACCOUNT,  /* intervals against the accounts of register runs, exact */
    ITEM_REGISTER, /* accounts against the register's last reading, to a step */
    ITEM_DAY_SUMS, /* closed days against their intervals, exact */
    ITEM_PARTS,    /* sum of the parts against the production meter */
    ITEM_RESIDUAL, /* consumption meter against the balance */
    ITEM_BELOW,    /* hours that export more than is made and imported: a meter is the wrong way round */
    ITEM_SEALED,   /* our account against readings of sealed meters */
    /* spike check */
    ITEM_SPIKE, /* the day's highest block against its third highest */
    ITEM_RATED, /* no interval beyond rated power */
    /* high/low check */
    ITEM_DAY_USE,   /* a day's use against days of the same kind before */
    ITEM_MONTH_USE, /* a month's use against the same month a year before */
    ITEM_MONTH_PRODUCTION,
    ITEM_CLEAR_SKY, /* production against what a clear sky would bring */
    ITEM_NIGHT,     /* no production at night */
    /* what was seen while reading */
    ITEM_REJECTED, /* values that the gate rejected */
    ITEM_LOST,     /* how often the meter was lost */
    /* how the span's figures were found */
    ITEM_MISSING,      /* time without intervals */
    ITEM_UNOBSERVED,   /* time in which the meter did not answer */
    ITEM_INTERPOLATED, /* energy */
    ITEM_ESTIMATED,    /* energy */
    ITEM_ENTERED,      /* energy */
    ITEM_CORRECTED,    /* energy */
    ITEM_COUNT
};

/* Which figure of a finding tells the worst. */
enum item_unit { UNIT_NONE, UNIT_ENERGY, UNIT_SHARE, UNIT_TIME };

struct item_info {
    const char *check; /* the standard's word for the check it belongs to */
    const char *name;  /* what holds where it is passed */
    enum item_unit unit;
};

extern const struct item_info item_infos[ITEM_COUNT];

/* One finding; UNKNOWN where a figure means nothing. */
struct finding {
    int64_t at_s;
    int64_t energy, share, seconds;
};

enum { TALLY_PLACES = 3, TALLY_REMARK_SIZE = 120 };

enum tally_result { TALLY_ABSENT, TALLY_PASSED, TALLY_NOTED, TALLY_FAILED, TALLY_UNTOLD };

struct tally {
    int64_t tested;               /* how many were looked at and could be told */
    int64_t failed;               /* of them */
    int64_t noted;                /* what happened and is no failure by itself */
    int64_t untold;               /* how many could not be told */
    bool stated;                  /* `worst` is set though nothing failed or was noted */
    struct finding worst;         /* of the failed, else of the noted */
    int32_t place_count;          /* of the same: */
    int64_t places[TALLY_PLACES]; /* the first ones; UNKNOWN without an instant */
    char remark[TALLY_REMARK_SIZE];
};

/* An instant and no figure. */
struct finding finding_at(int64_t at_s);

void tally_pass(struct tally *tally, int64_t count);
void tally_untold(struct tally *tally, int64_t count);
void tally_fail(struct tally *tally, enum item item, const struct finding *finding, int64_t count);
void tally_note(struct tally *tally, enum item item, const struct finding *finding, int64_t count);
/* Passes or fails by `good`. */
void tally_test(struct tally *tally, enum item item, const struct finding *finding, bool good);
/* Adds words to the remark, parted by commas; what stands there already or does not fit is left out. */
void tally_remark(struct tally *tally, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* Is there a finding in `worst`? */
bool tally_has_worst(const struct tally *tally);
/* States a figure that is no failure: the worst of what passed. */
void tally_state(struct tally *tally, const struct finding *finding);

enum tally_result tally_result(const struct tally *tally);
extern const char *const tally_result_words[];

#endif
