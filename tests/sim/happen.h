/* What can happen to a site, written once: scenario files name it, the random
 * mode draws it. */
#ifndef METERBOOK_SIM_HAPPEN_H
#define METERBOOK_SIM_HAPPEN_H

#include "sim.h"

enum happening_argument {
    ARG_METER, /* index */
    ARG_BUS,   /* index */
    ARG_ON,
    ARG_SECONDS,
    ARG_MS,
    ARG_POLLS,
    ARG_STEPS,
    ARG_WATTS,
    ARG_COUNTER, /* 0 import, 1 export */
    ARG_CODE,
    ARG_NTH,
    ARG_CLOCK, /* s that the wall clock is wrong after the next boot; 0: right and vouched for */
    ARG_COUNT
};

struct happening {
    const char *name;
    unsigned needs, takes; /* bit per argument: must, may be given */
    void (*happen)(struct sim *sim, const int64_t argument[ARG_COUNT]);
};

/* Ends with a row without a name. */
extern const struct happening happenings[];
extern const char *const happening_arguments[ARG_COUNT];

const struct happening *happening_by_name(const char *name);
/* Does it and tells. */
void happen(struct sim *sim, const char *name, const int64_t argument[ARG_COUNT]);

/* All faults end; then long enough for all that waits to be written. */
void happen_calm(struct sim *sim);

#endif
