/* How complete is the record of a meter: what of its time and of its energy was observed,
 * what was filled and how, what is missing; and its gaps. Pure: fed with one meter's
 * intervals in order of time. Energies in mWh, times in UTC s. */
#ifndef METERBOOK_COMPLETENESS_H
#define METERBOOK_COMPLETENESS_H

#include "query.h"

/* Of a meter over a span. All of `expected_s` is in one of the six behind it. */
struct completeness_shares {
    int64_t expected_s; /* for which the settings have the meter, as far as the record reaches */
    int64_t observed_s; /* read by the collector; a sleeping inverter too */
    int64_t entered_s;  /* read elsewhere, and entered */
    int64_t interpolated_s, estimated_s; /* in gaps that were filled so */
    int64_t unanswered_s;                /* the meter did not answer, its register speaks for the interval */
    int64_t missing_s;                   /* no interval; set by completeness_expect() */
    int64_t rows;
    int64_t import, export;                /* UNKNOWN: no such counter */
    int64_t energy;                        /* both directions */
    int64_t interpolated, estimated;       /* of it, placed by filling */
    int64_t entered, corrected;            /* of it */
    int64_t stepped, back_dated, re_dated; /* intervals with these flags */
};

extern const struct completeness_shares completeness_nothing;

/* An interval of this length. */
void completeness_row(struct completeness_shares *shares, const struct interval_row *row, int32_t length_s);
/* A closed day that was observed whole, with nothing filled, entered or corrected. */
void completeness_day(struct completeness_shares *shares, const struct day_row *day);
/* Sets what was expected, and with it what is missing. */
void completeness_expect(struct completeness_shares *shares, int64_t expected_s);
void completeness_sum(struct completeness_shares *sum, const struct completeness_shares *part);

/* Millionths, cut, of the expected time in which the meter was observed, by whom ever: what the answers of
 * the balance print of it. UNKNOWN where nothing is expected. */
int64_t completeness_observed(const struct completeness_shares *shares);

/* How the energy of a gap was placed, one bit each. */
enum gap_how {
    GAP_COUNTED = 1,      /* nothing was: its registers stand at both ends of each interval */
    GAP_INTERPOLATED = 2, /* point to point */
    GAP_EVENLY = 4,       /* as an estimate, by time */
    GAP_SHAPED = 8,       /* as an estimate, along a shape */
    GAP_ENTERED = 16,
    GAP_MISSING = 32, /* not at all: intervals lack */
};

/* Intervals one after another in which the meter was not observed, or not all the time. */
struct completeness_gap {
    int32_t meter;
    int64_t from_s, to_s; /* as near as the intervals tell */
    int64_t unobserved_s; /* of it, missing intervals among it */
    int64_t placed;       /* energy that filling placed in it */
    int32_t how;          /* enum gap_how */
    bool open;            /* it lasts, or is not filled yet */
};

/* Where a meter's gaps are looked for. */
struct gap_search {
    int64_t end_s;        /* what is known ends here */
    bool in_gap, ends;    /* an interval lost in part came last: it can be the last one only */
    int64_t first_lost_s; /* of the first interval of the gap */
    int64_t first_end_s;  /* its end */
    struct completeness_gap gap;
};

void gap_search_begin(struct gap_search *search, int32_t meter, int64_t from_s);

/* Each returns true, with the gap in *done, where what is given tells that one is over. A gap begins and
 * ends with an interval that was lost in part, at most: what a flaky meter loses in each is none that
 * goes on for days. */
bool gap_search_row(struct gap_search *search, const struct interval_row *row, int32_t length_s,
                    struct completeness_gap *done);
/* [from, to) was observed whole. */
bool gap_search_whole(struct gap_search *search, int64_t from_s, int64_t to_s, struct completeness_gap *done);
/* The record reaches to_s. */
bool gap_search_end(struct gap_search *search, int64_t to_s, struct completeness_gap *done);

#endif
