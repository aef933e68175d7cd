/* The open datasets of the shared folder as cumulative registers, and a seeded
 * knife that cuts gaps into them. The folder's README says where each comes
 * from and under which licence; series_list has it in short. */
#ifndef METERBOOK_REAL_SERIES_H
#define METERBOOK_REAL_SERIES_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"

enum { SERIES_METERS = 2, SERIES_HOMES = 17, SERIES_FIELDS = 40 };

/* What a row of the file says of the time from its stamp on. */
enum series_kind {
    SERIES_ROWS,     /* energy or mean power of a row of step_s */
    SERIES_HELD,     /* power, held until the next stamp */
    SERIES_COUNTERS, /* a register that counts */
};

struct series_column {
    int meter;    /* 1 or 2; 0: none */
    int counter;  /* 0 import, 1 export */
    int field;    /* of the file, from 0 */
    double scale; /* to mWh, or to mW where power is held */
};

struct series_info {
    const char *title, *file, *from; /* from: origin and licence */
    const char *zone;                /* of the stamps, and of the site */
    double latitude, longitude;
    int32_t azimuth, tilt; /* of the plane; -1 unknown */
    enum series_kind kind;
    int32_t step_s;     /* of the rows */
    int32_t interval_s; /* the record's */
    int32_t poll_s;     /* in virtual time */
    int32_t unit_mwh;   /* register unit: 100, 1000 or 1000000 */
    int32_t history_d;  /* days before the first cut */
    int32_t longest_h;  /* gap */
    bool judged;        /* long enough to have reference days, and its place is known */
    struct {
        const char *name;
        enum meter_role role;
    } meters[SERIES_METERS];
    struct series_column columns[4];
};

/* Ends with an entry without a title. Homes are one entry: fields are those of the first. */
extern const struct series_info series_list[];

/* Datasets from which no counter follows that a gap could be cut into, and why. Ends with NULL. */
extern const char *const series_left_out[];

struct dataset {
    struct series_info info;
    char name[48];
    int32_t count;                    /* of stamps */
    int64_t *at_s;                    /* UTC; rise strictly */
    int64_t *value[SERIES_METERS][2]; /* register at the stamp, mWh; NULL: the meter has none */
    bool *unknown;                    /* the time from this stamp to the next is not in the data */
    int64_t total[SERIES_METERS][2];  /* last less first */
    struct civil *civil;
};

/* Reads a dataset (home 1..17, else 0). False, with a message, where it is not here. */
bool series_open(struct dataset *series, const struct series_info *info, int home);
void series_close(struct dataset *series);

/* Register at an instant: that of the last stamp, mWh. */
int64_t series_value(const struct dataset *series, int meter, int counter, int64_t at_s);
/* Is the whole span, or the register at an instant, in the data? */
bool series_knows(const struct dataset *series, int64_t from_s, int64_t to_s);

enum { KNIFE_LENGTHS = 4, KNIFE_MOST = 400 };
extern const int32_t knife_hours[KNIFE_LENGTHS];

struct cut {
    int64_t from_s, to_s; /* the meters answer at both, not between */
    int length;           /* index in knife_hours */
};

/* Cuts gaps of all lengths in turn, days apart, at multiples of `grid_s`. Returns how many. */
int knife_cut(const struct dataset *series, uint64_t seed, int64_t grid_s, struct cut cuts[KNIFE_MOST]);

/* Errors of one counter's rows in gaps of one length, mWh. */
struct score {
    int64_t cuts;
    double energy, ours, plain;
};

/* Adds what the rows of a cut say: `row` answers a stored interval's energy, plain
 * is the register interpolated between the readings at both ends. */
void score_cut(struct score *score, const struct dataset *series, int meter, int counter,
               const struct cut *cut, int64_t (*row)(void *self, int meter, int counter, int64_t start_s),
               void *self);

/* Prints "ours / plain" by length; false where ours is not better from judged_h on (0: not judged). */
bool score_print(const char *name, const char *counter, const struct score scores[KNIFE_LENGTHS],
                 int32_t judged_h);

/* From how long a gap on the series is judged: a single home is from a day on,
 * all homes together from 6 h on: six rows of an hour, seventeen times, are chance. */
int32_t series_judged_h(const struct dataset *series);

#endif
