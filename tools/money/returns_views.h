/* What is shown of returns: figures by name, and flows by year. Pure. */
#ifndef METERBOOK_RETURNS_VIEWS_H
#define METERBOOK_RETURNS_VIEWS_H

#include "returns.h"

enum { RETURNS_FIGURES = 24 };

/* One figure; what it has none of is UNKNOWN. */
struct returns_figure {
    bool projected;
    const char *name;
    int64_t amount; /* millionths */
    int64_t share;  /* millionths */
    int64_t days;   /* since the first payment */
    int64_t day;    /* civil */
};

/* Returns how many there are. */
int32_t returns_figures(const struct returns *returns, const struct contract_projection *projection,
                        struct returns_figure figures[RETURNS_FIGURES]);

/* Why the internal rate of return is not one figure; NULL where it is. */
const char *returns_rate_words(const struct returns *returns);

/* All flows of a civil year. */
struct returns_year {
    int32_t year;
    bool realised, projected;        /* has such */
    int64_t cost, saving, operating; /* millionths */
    int64_t sum;                     /* of all flows up to its end */
};

/* The year of the flow at *at and of those that follow; moves on. False at the end. */
bool returns_next_year(const struct returns *returns, int32_t *at, struct returns_year *year);

#endif
