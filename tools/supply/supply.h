/* Is the supply healthy? Ten minutes' root-mean-square voltages of a meter against
 * EN 50160 and a national band, by week and month; frequency, unbalance, how long
 * inverters would throttle. Pure: fed with one meter's intervals in order of time.
 *
 * Counting rule of EN 50160, per phase and week: of N valid ten minutes, N1 lie outside
 * +-10 % and N2 outside +10/-15 % of the nominal voltage; the week complies where N1/N <= 5 % and
 * N2 = 0. Ten minutes are aligned to UTC and belong to the week in which they begin. One is
 * flagged where the record knows that the supply was out in it, invalid where an
 * interval lacks a voltage, its clock stepped, or the meter was not observed for more than a tenth of
 * it; neither is in N. All is indicative: a poller sees no dips, and is no
 * instrument of IEC 61000-4-30.
 *
 * Voltages in mV against neutral, frequencies in mHz, shares in millionths, times in UTC s. */
#ifndef METERBOOK_SUPPLY_H
#define METERBOOK_SUPPLY_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "number.h"
#include "supply_export.h"

enum {
    SUPPLY_PHASES = 3,
    SUPPLY_BLOCK_S = 600,
    SUPPLY_VOLTS = 512,       /* bins of the histogram, 1 V each; what lies above is in the last */
    SUPPLY_UNBALANCES = 5000, /* bins of 0.01 %; the same */
};

/* What the figures are held against. */
struct supply_limits {
    int64_t nominal;             /* mV */
    int64_t low, high, lowest;   /* +-10 % and -15 % */
    int64_t band_low, band_high; /* a national band; UNKNOWN where it has no such end */
    int64_t throttle;            /* from which on inverters throttle */
    int64_t error;               /* of the meter at the nominal voltage; UNKNOWN: its class is not known */
    int64_t frequency;           /* nominal, mHz */
    int32_t valid_percent;
};

/* By the configuration and the meter's accuracy class ("" unknown), which is of its energy and is
 * taken for its voltages too. */
struct supply_limits supply_limits_of(const struct config_supply *config, const char *accuracy_class);

/* An interval of the meter; its length divides SUPPLY_BLOCK_S. */
struct supply_interval {
    int64_t start_s;
    int32_t length_s;
    int64_t unobserved_s;
    bool stepped;                   /* the clock stepped in it */
    unsigned flagged;               /* phases that were out, one bit each */
    int64_t voltage[SUPPLY_PHASES]; /* UNKNOWN: none */
    int64_t frequency;              /* UNKNOWN: none */
    int64_t import, export;         /* mWh, UNKNOWN: no such counter, or not measured */
};

/* Ten minutes of one phase, counted. */
struct supply_phase {
    int32_t valid, flagged;
    int32_t outside, beyond; /* N1 and N2 */
    int32_t banded;          /* outside the national band */
    int32_t throttled;       /* at or above the level where inverters throttle */
    /* N1 and N2 at limits that the meter's error makes wider and narrower */
    int32_t wider_outside, wider_beyond, narrower_outside, narrower_beyond;
    int64_t least, most, sum; /* of the valid; UNKNOWN */
};

struct supply_frequency {
    int64_t known_s;
    int64_t outside_s, beyond_s; /* outside +-1 % and -6/+4 % */
    int64_t least, most;         /* UNKNOWN */
};

/* A week or a month, or what of it the span holds. */
struct supply_row {
    int64_t from_s, to_s;
    int32_t expected;  /* ten minutes that the whole week or month has */
    int32_t asked;     /* of them that the span holds, up to now */
    bool cut;          /* the span holds a part of it only */
    bool open;         /* it is not over, or the record does not reach its end */
    int32_t throttled; /* ten minutes with some phase at or above the level */
    struct supply_phase phases[SUPPLY_PHASES];
    struct supply_frequency frequency;
};

/* The largest deviation of a phase from the mean of the three, of that mean: an approximation
 * from the three voltages against neutral, without their angles. */
struct supply_unbalance {
    int64_t count, sum, most; /* shares */
    uint32_t bins[SUPPLY_UNBALANCES];
};

/* Large: for the heap. */
struct supply {
    struct supply_limits limits;
    unsigned phases; /* that a voltage was seen of, one bit each */
    struct supply_row total;
    struct supply_unbalance unbalance;
    struct supply_export export;
    uint32_t histogram[SUPPLY_PHASES][SUPPLY_VOLTS]; /* of the valid ten minutes */
    /* the ten minutes that go on */
    int64_t block_s; /* its start, INT64_MIN none */
    int32_t covered_s[SUPPLY_PHASES], all_s, counted_s;
    int64_t unobserved_s, squares[SUPPLY_PHASES], exported;
    unsigned flagged;
    bool stepped;
    /* where what it says is counted, beside the total; NULL none */
    struct supply_row *week, *month;
    /* where the highest valid phase of each ten minutes goes; NULL none */
    int64_t *highest;
    int64_t highest_s; /* start of its first place */
    int32_t highest_count;
};

void supply_init(struct supply *supply, const struct supply_limits *limits, int64_t from_s, int64_t to_s);
void supply_row_init(struct supply_row *row, int64_t from_s, int64_t to_s);

/* Start of the ten minutes that hold an instant. */
int64_t supply_block_start(int64_t at_s);

/* What ten minutes say ends when an interval of the next comes: they are counted in `week` and
 * `month` as these were set before the call; call supply_end() before changing them. */
void supply_take(struct supply *supply, const struct supply_interval *interval);
void supply_end(struct supply *supply);

/* Sets what is asked of it: [from, to) of the span, up to now. */
void supply_row_ask(struct supply_row *row, int64_t from_s, int64_t to_s);

/* Ten minutes that are neither valid nor flagged, of those asked. */
int32_t supply_invalid(const struct supply_row *row, int32_t phase);

/* The counting rule. */
bool supply_complies(int32_t valid, int32_t outside, int32_t beyond);

enum supply_verdict {
    SUPPLY_COMPLIES,
    SUPPLY_FAILS,
    SUPPLY_COMPLIES_NEARLY, /* as measured; the meter's error could turn it */
    SUPPLY_FAILS_NEARLY,
    SUPPLY_TOO_FEW, /* valid ten minutes */
    SUPPLY_CUT,     /* the span holds a part of the week only */
    SUPPLY_OPEN,    /* the week is not over */
    SUPPLY_MISFIT,  /* the mean is no voltage of such a supply: the nominal one is wrong */
};
extern const char *const supply_verdict_words[];

/* Of a week. */
enum supply_verdict supply_verdict(const struct supply_limits *limits, const struct supply_row *week,
                                   int32_t phase);

/* Share of time in which the frequency stood within +-1 %; UNKNOWN. */
int64_t supply_frequency_share(const struct supply_frequency *frequency);

/* The unbalance that this share (millionths) of the ten minutes stays below, UNKNOWN without any. */
int64_t supply_unbalance_below(const struct supply_unbalance *unbalance, int64_t share);

#endif
