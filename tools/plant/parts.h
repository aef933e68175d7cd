/* Which part lags? Parts (inverters, strings, modules) per kWp beside the median of
 * those that look the same way.
 *
 * Days are fed once, in order, as hours; kept are a few bytes per part and day, so that ten years
 * of 64 parts take 8 MB. Then parts_judge() looks for changes: a robust flag that one bad day
 * never sets off, its date, what it looks like and what it may have cost.
 *
 * A yield is mWh per kWp in force that day. The reference of an hour is the median of its peers' yields: of
 * three at least, and at least half of those that are there; a part at its a.c. rating is left out in that
 * hour. A day's ratio is what its hours made together beside the median of what the peers made in the same
 * hours, or, where one of them was not seen in all of these, the sum of the references; 10000 is alike.
 *
 * A constant offset is nothing: counters of inverters are not of any class (common practice: 2-3 %). A
 * change counts. Pure; energies in mWh. Days are numbered from 0 on, hours as the caller likes. */
#ifndef METERBOOK_PARTS_H
#define METERBOOK_PARTS_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "number.h"
#include "plane.h"

enum {
    PARTS_MOST = CONFIG_MAX_METERS,
    PARTS_HOURS = 24,
    PARTS_FACTS = 8,        /* changes of one part's facts that are kept apart */
    PARTS_EPISODES = 12,    /* of one part; later ones replace the last */
    PARTS_BASELINE = 30,    /* days that count, from which a part's own level is taken */
    PARTS_WINDOW = 10,      /* days that count, of which the median must have changed */
    PARTS_CHANGE = 300,     /* least change that counts, 10^-4: beyond what a counter's error does */
    PARTS_CHANGE_NOISE = 2, /* and at least so many times the scatter of single days */
    PARTS_LOW = 9000,       /* a part that begins below it lags from the beginning, 10^-4 */
    PARTS_AROUND = 20,      /* days before and behind, among which the brightest is looked for */
    PARTS_DARK = 50,        /* a day with less than these per cent of it does not count: snow, deep clouds */
    PARTS_RATIO_ONE = 10000,
    PARTS_HOUR_NONE = 255,
};

#define PARTS_NO_RATIO INT16_MIN

struct part_facts {
    int32_t from_day;      /* index; the first holds before it too */
    bool present;          /* is it a part then? */
    int64_t peak_w;        /* 0: not known */
    int64_t azimuth, tilt; /* degrees; UNKNOWN */
};

enum part_hour_state {
    HOUR_UNSEEN, /* not observed whole, filled, or entered in coarser steps */
    HOUR_SEEN,
    HOUR_LIMITED, /* seen, at its a.c. rating for some of it */
};

struct part_hour {
    int64_t energy; /* mWh */
    enum part_hour_state state;
};

enum part_day_state {
    PART_DAY_ABSENT,  /* no part of the plant */
    PART_DAY_ALONE,   /* fewer than three in one plane, or plane or kWp not known */
    PART_DAY_UNKNOWN, /* no reference: too few peers were observed, or no light */
    PART_DAY_UNSEEN,  /* observed in less than nine tenths of the day's yield */
    PART_DAY_LIMITED, /* three quarters of it at the a.c. rating */
    PART_DAY_DARK,
    PART_DAY_COUNTS,
};

struct part_day {
    int16_t ratio;             /* 10^-4, PARTS_NO_RATIO */
    uint16_t reference;        /* Wh per kWp, of the hours that count */
    uint16_t whole;            /* the same of all hours of the plane */
    uint8_t state;             /* enum part_day_state */
    uint8_t seen;              /* hours in which the part itself was observed */
    uint8_t hour[PARTS_HOURS]; /* ratio in per cent, PARTS_HOUR_NONE */
};

enum part_cause {
    CAUSE_NOT_TOLD,
    CAUSE_SHADING,
    CAUSE_SOILING,
    CAUSE_FAILURE,
    CAUSE_DRIFT, /* slower than dirt: it had been on its way for long */
    CAUSE_COUNT
};
extern const char *const part_cause_words[CAUSE_COUNT];

/* A stretch of days in which a part stayed behind. */
struct part_episode {
    int32_t from, to;    /* days; to: the first that is as usual again, -1: it goes on */
    bool from_beginning; /* it lagged as far back as was looked */
    int32_t usual;       /* its own level before, 10^-4; from the beginning: that of its peers */
    int32_t before;      /* the same in the last days before it: seasons move it a little */
    int32_t level;       /* median while it lasted */
    int32_t deepest;     /* lowest median of ten days in it */
    enum part_cause cause;
    int32_t left, left_of;     /* a failure: about left / left_of go on, 0 / 0: no small fraction fits */
    bool cleaned;              /* a cleaning was noted when it ended */
    int32_t compared, unknown; /* days of it with light that could be compared, and could not */
    int64_t lost, lost_doubt;  /* mWh not made since, estimated, and by how much that may be off (two standard
                                  deviations) */
};

enum part_verdict {
    VERDICT_NOT_COMPARABLE,
    VERDICT_TOO_LITTLE, /* data */
    VERDICT_AS_USUAL,
    VERDICT_LAGS,   /* since a date */
    VERDICT_LAGGED, /* from a date to a date */
    VERDICT_LOW,    /* from the beginning on */
    VERDICT_LOW_UNTIL,
};

struct part {
    int32_t number;
    char name[CONFIG_NAME_SIZE];
    int32_t fact_count;
    struct part_facts facts[PARTS_FACTS];
    int64_t energy; /* in the span, the caller's, mWh; UNKNOWN */
    int64_t yield;  /* the same per kWp in force, mWh; UNKNOWN where that is not known of some of it */

    /* parts_judge() fills in: */
    enum part_verdict verdict;
    int32_t counted; /* days of the span that count */
    int64_t against; /* yield beside the median of the plane, over these, less 1: millionths; UNKNOWN */
    int32_t offset;  /* own level in the beginning, 10^-4, 0 not known */
    int32_t scatter; /* of single days, 10^-4 */
    int32_t episode_count;
    struct part_episode episodes[PARTS_EPISODES]; /* by time; those that reach into the span */
    int32_t main;                                 /* the episode that the verdict speaks of, -1 none */
    int32_t unseen_from; /* from this day to the end others were observed, and it was not; -1: it was */
};

struct parts {
    int32_t count, days;
    int32_t span_from; /* first day of the span; those before only tell what is usual */
    struct part part[PARTS_MOST];
    struct part_day *day; /* heap: of day d and part p at d * count + p */
};

/* Cleanings as they were noted. */
struct part_cleaning {
    int32_t day, part; /* part: index, -1 all */
};

/* Room for so many parts and days; *parts must be zeroed, part[] is the caller's to fill in, before or
 * after. False without memory. */
bool parts_open(struct parts *parts, int32_t count, int32_t days, int32_t span_from);
void parts_close(struct parts *parts);

static inline struct part_day *parts_at(const struct parts *parts, int32_t day, int32_t part)
{
    return &parts->day[(int64_t)day * parts->count + part];
}

/* The facts that hold on a day. */
const struct part_facts *parts_facts(const struct part *part, int32_t day);
/* Takes facts of a day on, in order of days; the same as before change nothing. */
void parts_set_facts(struct part *part, const struct part_facts *facts);
/* Parts in one plane with this one, itself among them, one bit each; 0 where plane or kWp is not known. */
uint64_t parts_peers(const struct parts *parts, int32_t part, int32_t day);

/* The highest `whole` of the days around one, of those that were fed. */
int32_t parts_brightest(const struct parts *parts, int32_t part, int32_t day);

/* One day's hours; index: of the day. */
void parts_feed(struct parts *parts, int32_t index, const struct part_hour (*hours)[PARTS_HOURS]);

/* After the last day. False without memory. */
bool parts_judge(struct parts *parts, const struct part_cleaning *cleanings, int32_t cleaning_count);

/* parts_change.c: the episodes of one part. `index` and `ratio` hold its days that count, in order. */
struct part_track {
    int32_t count;
    int32_t *day; /* heap, as the others */
    int32_t *ratio;
    int32_t *values; /* to be put out of order */
};
void parts_find_episodes(const struct parts *parts, struct part *part, const struct part_track *track);

/* parts_cause.c: what an episode looks like, and what it cost. */
void parts_tell_cause(const struct parts *parts, int32_t part, struct part_episode *episode,
                      const struct part_track *track, const struct part_cleaning *cleanings,
                      int32_t cleaning_count);

/* Of `count` values, put out of order; their middle, of an even number the mean of both in the middle. */
int32_t parts_median(int32_t *values, int32_t count);

#endif
