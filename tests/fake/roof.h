/* An invented plant under invented weather, by the hour: what its parts make, and what each would
 * have made without its planted defect. Same seed, same roof. */
#ifndef METERBOOK_FAKE_ROOF_H
#define METERBOOK_FAKE_ROOF_H

#include "parts.h"

enum { ROOF_PARTS = 12, ROOF_DAYS = 366 };

enum roof_defect_kind { DEFECT_NONE, DEFECT_SHADING, DEFECT_SOILING, DEFECT_FAILURE };

struct roof_defect {
    enum roof_defect_kind kind;
    int32_t part, from, to;     /* days */
    double loss;                /* failure: share; shading: of the beam; soiling: per day */
    int32_t hour_from, hour_to; /* shading */
};

struct roof {
    uint64_t seed;
    int32_t count;
    double latitude;
    double offset[ROOF_PARTS]; /* of the counter */
    double tilt[ROOF_PARTS];   /* as it was built: a degree or so from what is written */
    int64_t peak_w[ROOF_PARTS], rated_w[ROOF_PARTS];
    int32_t extended, extended_from; /* part that grows by a third, from that day; -1 none */
    double noise[ROOF_PARTS];        /* of hours under clouds */
    double sky, wander[ROOF_PARTS];
    int32_t snow_until[ROOF_PARTS], gap_until[ROOF_PARTS];
    struct roof_defect defect;
    double lost_mwh; /* by the defect so far */
};

void roof_init(struct roof *roof, uint64_t seed);
/* Fills in the parts' facts. */
void roof_facts(const struct roof *roof, struct parts *parts);
/* The next day; days must be asked for in order. Day 0 is the first of April. */
void roof_day(struct roof *roof, int32_t day, struct part_hour (*hours)[PARTS_HOURS]);

/* 0 .. 1, and normal with deviation 1 */
double roof_chance(uint64_t *seed);
double roof_normal(uint64_t *seed);

#endif
