/* From boot time to UTC: when the wall clock is believed, and with what offset.
 *
 * Pure. Trust is a latch per boot: gained when the network disciplines the
 * clock (or at once where a battery clock is trusted and plausible), kept
 * until reboot. Slews of at most 500 ppm are followed; a step only while
 * synchronised and when seen in two turns. A clock that a person, a meter or
 * the sun vouched for goes on from there: the wall clock is not looked at until
 * the network sets it. */
#ifndef METERBOOK_DATE_H
#define METERBOOK_DATE_H

#include <stdbool.h>
#include <stdint.h>

#include "clock.h"

enum date_change {
    DATE_SAME,
    DATE_GAINED,  /* trusted from now on */
    DATE_STEPPED, /* the offset changed by `step_ms` */
    DATE_SOURCE,  /* the same offset, vouched for by another (the network went, or came) */
    DATE_REFUSED, /* a step or a clock that is not believed (said once) */
};

struct date {
    bool battery; /* a battery clock may be trusted */
    bool trusted;
    bool refused;         /* said so already */
    bool seen;            /* last_* are valid */
    int64_t offset_ms;    /* UTC = boot time + offset */
    int64_t step_ms;      /* of the last DATE_STEPPED or DATE_REFUSED */
    int64_t last_boot_ms; /* previous turn */
    int64_t candidate_ms; /* a step seen once */
    bool candidate;
    int64_t doubt_ms;   /* by how much it may be wrong */
    const char *source; /* network holdover meter hand battery sun */
};

/* 0 for the best source, the network; the worse the more. A name that is none: worst. */
int date_rank(const char *source);

void date_init(struct date *date, bool battery);

/* A restart inside the same boot, with the last clock row of that boot. */
void date_resume(struct date *date, int64_t offset_ms, const char *source);

/* Once per turn. `newest_ms`: UTC of the newest stored row, 0 without. */
enum date_change date_turn(struct date *date, const struct instant *now, int64_t newest_ms);

/* May a clock that nobody vouches for be right? */
bool date_plausible(int64_t wall_ms, int64_t newest_ms);

/* Something else than the system's clock says what time it is: a meter, a
 * person, the sun. DATE_SAME where a better one is in force. */
enum date_change date_anchor(struct date *date, int64_t boot_ms, const char *source, int64_t offset_ms,
                             int64_t doubt_ms);

/* Dates a reading; only while trusted. */
static inline int64_t date_utc_ms(const struct date *date, int64_t boot_ms)
{
    return boot_ms + date->offset_ms;
}

#endif
