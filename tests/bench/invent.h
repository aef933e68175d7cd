/* An INVENTED plant, for tests and measurements that need years of a record in
 * seconds: 10 kWp on one roof in four inverters, a grid meter, a production
 * meter, two branches and a weather station, nine meters in all, eight of which
 * count energy. No place, person, device or measurement stands behind it.
 *
 * invent_world.c says what flows in an interval (pure: seed and time say all),
 * invent_record.c and invent_rows.c write what meterbookd would have written of it,
 * invent_files.c the configuration, its maps and the logbook. invent.c has the
 * table of what was planned to be wrong. Energies mWh, times UTC s. */
#ifndef METERBOOK_INVENT_H
#define METERBOOK_INVENT_H

#include <stdbool.h>
#include <stdint.h>

#include "civil.h"

enum {
    INVENT_PARTS = 4,
    INVENT_PHASES = 3,
    INVENT_COUNTERS = 2, /* import, export */
};

enum invented {
    INVENTED_GRID,
    INVENTED_PRODUCTION,
    INVENTED_PART, /* the first of INVENT_PARTS */
    INVENTED_HEAT_PUMP = INVENTED_PART + INVENT_PARTS,
    INVENTED_WORKSHOP,
    INVENTED_WEATHER, /* counts nothing */
    INVENTED_METERS
};

struct invented_meter {
    int32_t number;
    const char *name;
    bool counts[INVENT_COUNTERS];
    int64_t step;  /* of its registers, mWh */
    int64_t first; /* what they showed when the record began, mWh */
};
extern const struct invented_meter invented_meters[INVENTED_METERS];

/* What was planned to be wrong, each in the record's second year. */
enum defect {
    DEFECT_SOILED,  /* part 2 loses up to 14 % from day to day, until it is cleaned */
    DEFECT_SHADED,  /* a tree takes part 3's sun from 15:00 to 17:00, for good */
    DEFECT_FAILED,  /* part 4 makes nothing */
    DEFECT_GAP,     /* the computer was off: all meters estimated */
    DEFECT_OUTAGE,  /* of the grid */
    DEFECT_VOLTAGE, /* above 253 V at clear noons, and all inverters throttled to 75 % by it */
    DEFECT_AHEAD,   /* a load ahead of our transformers: the utility's meter sees 1.8 % more import */
    DEFECT_COUNT
};

struct invent {
    uint64_t seed;
    int32_t interval_s;
    struct civil *civil;
    int64_t before_s;       /* the plant was built, its sealed meters count */
    int64_t begin_s, end_s; /* of the record */
    struct defect_span {
        int64_t from_s, to_s;
    } defects[DEFECT_COUNT];
};

/* A number from 0 to 1 that depends on seed, channel and index alone. */
double invent_chance(const struct invent *invent, uint64_t channel, int64_t index);

/* What happened from start_s on during length_s. */
struct flow {
    int64_t start_s, length_s;
    int64_t import, export, production, part[INVENT_PARTS], heat_pump, workshop; /* mWh */
    int32_t voltage[INVENT_PHASES];                                              /* 0.01 V */
    int32_t frequency;                                                           /* mHz */
    int32_t irradiance, ambient, module; /* mW/m2 in the plane, m degC */
    int32_t ripple;                      /* per mille by which power varied within it */
    bool asleep;                         /* the inverters */
    bool gap, outage;
};
void invent_flow(const struct invent *invent, int64_t start_s, int64_t length_s, struct flow *flow);

/* All files stand in the working directory. This writes meterbook.conf and its maps. */
bool invent_config(const struct invent *invent);

/* The logbook: opened with its comments, then flow by flow, closed with what is not a reading. */
struct invent_logbook;
struct invent_logbook *invent_logbook_open(const struct invent *invent);
void invent_logbook_take(struct invent_logbook *logbook, const struct flow *flow);
bool invent_logbook_close(struct invent_logbook *logbook);

/* record.db. Each function says what failed and returns false, or NULL. */
struct invent_record;
struct invent_record *invent_record_open(const struct invent *invent);
bool invent_record_take(struct invent_record *record, const struct flow *flow);
bool invent_record_close(struct invent_record *record);

/* Its rows of intervals and days, on a record whose tables are there. */
struct invent_rows;
struct invent_rows *invent_rows_open(const struct invent *invent, const char *path);
bool invent_rows_take(struct invent_rows *rows, const struct flow *flow);
struct invent_counted {
    int64_t to_s; /* end of the last whole day */
    int64_t energy[INVENTED_METERS][INVENT_COUNTERS];
};
bool invent_rows_close(struct invent_rows *rows, struct invent_counted *counted);

#endif
