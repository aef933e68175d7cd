/* Which source speaks for the balance when: our own record, or the readings of
 * sealed meters; and what the readings say of any stretch of time.
 *
 * Where the logbook says nothing, the record speaks from its first row on and
 * the readings before it; an entry `precedence` decides from its date on. A
 * reading period that reaches over such a seam gives its energy less what the
 * record counted beyond it, so that nothing is counted twice.
 *
 * sources_read() gathers all that an answer over a span needs; the rest is pure. */
#ifndef METERBOOK_SOURCES_H
#define METERBOOK_SOURCES_H

#include "balance.h"
#include "civil.h"
#include "logbook.h"
#include "query.h"

enum source_subject { SUBJECT_OF_GRID, SUBJECT_OF_PRODUCTION, SOURCE_SUBJECTS };

struct sources_change {
    int64_t at_s; /* from here on */
    bool sealed;
};

/* How the energy of a part was found. */
enum sources_how {
    PART_WHOLE,    /* a reading period */
    PART_LESS,     /* one less what the record counted of it */
    PART_PRORATED, /* one that the record does not have either: a share */
};

/* A reading period, as far as sealed meters speak in it. */
struct sources_part {
    enum balance_term term;
    int32_t sealed; /* index in the configuration */
    int64_t from_s, to_s;
    int64_t energy;                     /* mWh */
    int64_t first_s, last_s;            /* of all parts of the period: its energy is theirs together */
    int64_t period_from_s, period_to_s; /* the whole period, and what was read */
    int64_t period_energy;
    int64_t counted; /* by the record, of the rest; 0 without */
    int64_t step;    /* mWh */
    enum sources_how how;
    bool along_sun;
    bool guessed; /* a reading at its ends that nobody took */
    bool by_day;  /* or that has no time of day */
    bool missed;  /* a counter of ours was reset where the record counted */
};

/* A piece of a part that no midnight and no seam cuts. */
struct sources_share {
    int64_t from_s, to_s;
    int64_t energy;
    int32_t part;
};

struct sources {
    const struct config *config;
    const struct civil *civil;
    int32_t meter_count[TERM_COUNT]; /* sealed meters that have the term's register */
    /* heap */
    int32_t change_count[SOURCE_SUBJECTS], change_room[SOURCE_SUBJECTS];
    struct sources_change *changes[SOURCE_SUBJECTS]; /* rising; the first holds from INT64_MIN on */
    int32_t part_count, part_room, share_count, share_room, break_count, break_room;
    struct sources_part *parts;
    struct sources_share *shares;
    int64_t *breaks;        /* rising: where a source changes, or what readings cover begins or ends */
    int32_t logbook_errors; /* lines left out; set by the caller */
    int32_t unclear;        /* periods in the span whose energy cannot be told */
    bool memory_out;
};

/* Which term a register of a sealed meter counts; TERM_COUNT: none. */
enum balance_term sources_term(const struct config_sealed *meter, enum sealed_register reg);
enum source_subject sources_subject(enum balance_term term);

/* Reads for answers over [from, to). `logbook` must be sorted. Returns 0, or -1 where memory
 * is out or the query failed; sources_free() takes it in any case. */
int sources_read(struct sources *sources, struct query *query, const struct civil *civil,
                 const struct config *config, const struct logbook *logbook, int64_t from_s, int64_t to_s);
void sources_free(struct sources *sources);

/* The rest take NULL for a site without sealed meters. */

/* Terms that sealed meters speak for at an instant, one bit each. */
unsigned sources_sealed(const struct sources *sources, int64_t at_s);

/* The first instant after this one at which that, or what readings cover, may change; INT64_MAX. */
int64_t sources_next(const struct sources *sources, int64_t at_s);

/* The first and the last instant of [from, to) for which readings speak; INT64_MAX and INT64_MIN without. */
void sources_reach(const struct sources *sources, int64_t from_s, int64_t to_s, int64_t *first_s,
                   int64_t *last_s);

/* mWh of [from, to), whose ends are midnights or breaks; UNKNOWN where the readings do not cover it. */
int64_t sources_energy(const struct sources *sources, enum balance_term term, int64_t from_s, int64_t to_s);

/* Do the readings of one sealed meter cover [from, to)? */
bool sources_covers(const struct sources *sources, enum balance_term term, int32_t sealed, int64_t from_s,
                    int64_t to_s);

/* How much of all terms in [from, to) are shares of reading periods that its ends cut, mWh; UNKNOWN
 * where no reading speaks. */
int64_t sources_prorated(const struct sources *sources, int64_t from_s, int64_t to_s);

/* Does a reading that nobody took bound a period in [from, to)? */
bool sources_guessed(const struct sources *sources, int64_t from_s, int64_t to_s);

/* Coarsest step of the registers read for a term in [from, to), mWh; 1 without. */
int64_t sources_step(const struct sources *sources, enum balance_term term, int64_t from_s, int64_t to_s);

#endif
