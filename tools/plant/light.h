/* Intervals in which both production and irradiance in the plane are known: what a performance ratio is
 * made of. An interval without one of them, or of which less than half was observed, or whose energy
 * is an estimate, is not given out; nor one in which the sensor saw nothing while the plant made something.
 *
 * Outages are those of the grid (outages.h), and an inverter, a part too, that makes nothing of an hour's
 * light. Throttled is told from evidence
 * only: production at the inverters' stated output; or voltage at the level from which inverters
 * throttle while the plant made less than nine tenths of what it makes of as much light otherwise. */
#ifndef METERBOOK_LIGHT_H
#define METERBOOK_LIGHT_H

#include "plant.h"
#include "session.h"

enum warmth { WARMTH_NONE, WARMTH_MEASURED, WARMTH_COMPUTED /* from the air's temperature */ };

struct light {
    int64_t start_s, length_s;
    const struct plant *plant;
    double made, reference; /* kWh; reference: P0 H */
    double light;           /* kWh/m2, by peak power */
    double temperature;     /* of the modules, degC; NAN */
    enum warmth warmth;
    bool outage, throttled;
};

typedef void light_function(void *self, const struct light *light);

/* Gives out the intervals of [from, to), in order, a month per read transaction. False where the query
 * failed or memory is out; then ask query_error(). */
bool light_walk(const struct session *session, const struct plants *plants, int64_t from_s, int64_t to_s,
                light_function *give, void *self);

#endif
