/* Two clocks, two types.
 *
 * Boot time (CLOCK_BOOTTIME) says when to poll and how long something took;
 * it never steps. Wall time says which hour it was and may be wrong until
 * somebody vouches for it. A reading carries boot time only; record/date.c is
 * the only place that turns one into the other.
 */
#ifndef METERBOOK_CLOCK_H
#define METERBOOK_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

/* What the clock says, read once per turn and passed on. */
struct instant {
    int64_t boot_us;   /* boot time, us */
    int64_t wall_us;   /* wall time, us since 1970-01-01 UTC, read at the same instant */
    bool synchronised; /* the kernel says that the network disciplines the wall clock */
};

/* The seam: real in daemon/clock.c, virtual in the simulation. */
struct clock {
    void (*read)(void *self, struct instant *now);
    void *self;
};

#endif
