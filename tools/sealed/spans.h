/* The account of a sealed meter by reading period, from the logbook alone:
 * what its registers went on by from one reading to the next, over rollovers
 * and exchanges. Pure; exact, in mWh. */
#ifndef METERBOOK_SPANS_H
#define METERBOOK_SPANS_H

#include "civil.h"
#include "logbook.h"
#include "number.h"
#include "sun.h"

enum spans_share {
    SHARE_WHOLE,
    SHARE_TIME,
    SHARE_SUN
}; /* how a calendar month got its part of a reading period */

struct spans_period {
    int32_t sealed; /* index in the configuration */
    enum sealed_register reg;
    int64_t from_s, to_s;
    int64_t energy; /* mWh; of demand: what was shown at the end, 10^-6 kW; UNKNOWN: it cannot be told */
    int64_t step;   /* least amount that the register shows, mWh */
    bool from_estimated, to_estimated;
    bool rolled, exchanged;
    bool from_by_day, to_by_day; /* that end has no time of day */
    enum spans_share share;
    bool partly; /* a month that readings do not cover whole */
};

struct spans {
    const struct config *config;
    const struct civil *civil;
    int32_t count, room;
    struct spans_period *periods; /* heap */
    bool memory_out;
    /* What must be known to read them. */
    void (*note)(void *self, const char *line);
    void *self;
};

/* Adds the reading periods of a sealed meter's registers, by time. `logbook` must be sorted. */
void spans_read(struct spans *spans, const struct logbook *logbook, int32_t sealed);

/* Shares reading periods out to calendar months: production and export along a
 * clear sky, all else evenly by time. What a register counted stays the same to the mWh. `months` is
 * prepared as `spans` was. Demand is left out. */
void spans_by_month(struct spans *months, const struct spans *spans);

void spans_free(struct spans *spans);

/* Where a plant stands and looks, for the shape of its days: that of the first production
 * meter that has a plane. */
struct spans_plant {
    struct sun_place place;
    struct sun_plane plane;
};
struct spans_plant spans_plant(const struct config *config);

/* Does the register count what the sun makes? Production does, and on a site that makes any, export. */
bool spans_along_sun(const struct config *config, const struct config_sealed *meter,
                     enum sealed_register reg);

/* What a stretch of a reading period weighs when the period's energy is shared out. */
int64_t spans_weight(const struct spans_plant *plant, bool along_sun, int64_t from_s, int64_t to_s);

/* Adds a period; NULL without memory. */
struct spans_period *spans_add(struct spans *spans, const struct spans_period *period);
/* By meter, time, register. */
void spans_sort(struct spans *spans);

#endif
