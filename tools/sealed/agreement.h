/* Do the sealed meters agree with our own account?
 *
 * A row is what a register of a sealed meter went on by between two readings that were taken, beside what
 * our own meters counted in the same time, and how far the two may be apart: by the accuracy classes of the
 * meters and their current transformers, by the last digit of the registers, by the energy that flows in the
 * doubt of a reading's time. Added up these are the worst case, as root of the sum of their squares the
 * likely one.
 *
 * A difference accuses nobody. Of one that is beyond the worst case all causes that fit are kept,
 * with the figure that makes them fit.
 *
 * agreement_read() gathers the rows (the record, the logbook); the rest is pure. Energies in mWh, UNKNOWN
 * where nothing is known; quotients and shares in millionths. */
#ifndef METERBOOK_AGREEMENT_H
#define METERBOOK_AGREEMENT_H

#include "schema.h"
#include "session.h"
#include "sources.h"
#include "spans.h"

enum agreement_part {
    PART_THEIR_CLASS,
    PART_THEIR_CT,
    PART_OUR_CLASS,
    PART_OUR_CT,
    PART_DERIVED, /* what deriving import and export from two meters adds */
    PART_THEIR_STEP,
    PART_OUR_STEP,
    PART_BEGIN, /* the time of the first reading */
    PART_END,
    AGREEMENT_PARTS
};

struct agreement_allowance {
    int64_t worst[AGREEMENT_PARTS];
    int64_t likely[AGREEMENT_PARTS]; /* less than that where a part is of several meters */
    int64_t open_theirs, open_ours;  /* on top at most, for classes that are not stated */
};

enum agreement_verdict {
    VERDICT_AGREES,  /* within the likely */
    VERDICT_WITHIN,  /* within the worst case */
    VERDICT_DIFFERS, /* beyond it, whatever the classes that are not stated */
    VERDICT_OPEN,    /* depends on a class that is not stated */
    VERDICT_NONE,    /* not compared: a side is not known */
    AGREEMENT_VERDICTS
};

/* What may stand behind a difference. */
enum agreement_fit_kind {
    FIT_RATIO,     /* a current transformer of another ratio than is reckoned with: `up` / `down` */
    FIT_FACTOR,    /* another multiplying factor of the sealed meter: `up` thousandths for `down` */
    FIT_SCALE,     /* `up` / `down` is a power of ten */
    FIT_EXCHANGED, /* import and export: `energy` is our other direction */
    FIT_PHASE,     /* `up` / `down`: of three phases, in ours or (above 1) in theirs */
    FIT_METHOD,    /* phases netted or apart: both directions differ by `energy`, ours less theirs */
    FIT_ABSOLUTE,  /* theirs counts whatever the direction: `energy` is both of ours */
    FIT_READING, /* the value read at `at_s` is off by `energy`: with the row beyond it the difference is gone
                  */
    FIT_TIME,    /* of that reading, or of one at an end, by about `seconds` */
    FIT_AHEAD,   /* a load in front of our meter, behind it for production: `watts` */
    AGREEMENT_FIT_KINDS
};

struct agreement_fit {
    enum agreement_fit_kind kind;
    int64_t quotient; /* ours / theirs */
    int64_t expected; /* what it would be */
    int32_t up, down;
    int64_t energy, watts, seconds, at_s;
};

struct agreement_row {
    int32_t sealed;    /* index in the configuration, of the first */
    uint32_t together; /* 1 << index of each whose sum this is */
    enum sealed_register reg;
    enum balance_term term;
    int64_t from_s, to_s;
    int64_t theirs, ours;
    int64_t other; /* ours in the grid's other direction */
    struct agreement_allowance allowance;
    int64_t around_begin, around_end; /* ours in the day around its ends, 12 hours each side */
    int64_t lacking_s;                /* for which our account has nothing; then `ours` is UNKNOWN */
    int64_t unobserved_s;             /* that ours filled in: at least, and by the least observed meter */
    int32_t flags;                    /* of ours: enum row_flag, enum answer_flag */
    int32_t passed;                   /* readings between its ends that nobody took */
    int32_t exchanges;                /* of the sealed meter, in it */
    bool rolled, from_by_day, to_by_day;
    int32_t ct_primary, ct_secondary; /* our ratio then, of the only meter; 0: none, or several meters */
    bool shared;  /* other sealed meters count the same and have no such period: not compared */
    bool by_load; /* limits are those of the mean load, else of rated current */
    bool below;   /* the mean load is below what a class promises anything for */
    /* agreement_judge(): */
    enum agreement_verdict verdict;
    bool unlike; /* differs by another share than the register's other rows, more than steps and times explain
                  */
    bool alone;  /* and neither the one before nor the one after is so: it says nothing of a drift */
    int64_t worst, likely; /* all parts together, without open classes */
    int32_t fit_count;
    struct agreement_fit fits[AGREEMENT_FIT_KINDS]; /* one of a kind at most */
};

enum agreement_drift_state {
    DRIFT_FEW,  /* fewer than three rows that can be compared, or half a year */
    DRIFT_OPEN, /* the interval holds zero */
    DRIFT_NONE, /* and reaches no further than a tenth of a per cent a year */
    DRIFT_SEEN,
    DRIFT_STEP, /* it is none: the quotient steps at step_s */
};

/* Change of ours / theirs, millionths a year; 95 %. */
struct agreement_drift {
    enum agreement_drift_state state;
    int32_t rows;
    int64_t span_s;
    int64_t slope, uncertainty;
    int64_t step_s, step; /* millionths */
};

/* A cause over the rows of a register. */
struct agreement_common {
    int32_t rows;    /* in which it fits */
    int32_t example; /* the last of them */
    int32_t tail;    /* of them those at the end, without one between in which it does not fit */
    int64_t since_s; /* where these begin */
    int32_t head;    /* of them those at the begin, likewise */
    int64_t until_s;
};

/* A register of a sealed meter. */
struct agreement_register {
    int32_t first, count;       /* rows */
    struct agreement_row whole; /* all rows that are compared together */
    bool gapless;               /* which is from the first reading to the last */
    int32_t verdicts[AGREEMENT_VERDICTS];
    struct agreement_common common[AGREEMENT_FIT_KINDS];
    struct agreement_drift drift;
    int32_t unlike; /* rows */
    int64_t usual;  /* median of (ours - theirs) / theirs; UNKNOWN of too few rows */
};

/* Our own meters of a term, as configured now. */
struct agreement_side {
    int32_t count;
    int32_t meters[CONFIG_MAX_METERS]; /* indices in the configuration */
    int32_t phases;                    /* of all together */
    bool transformers;                 /* stated of some */
    bool phases_apart;
};

struct agreement {
    const struct config *config; /* the session's */
    struct agreement_side sides[TERM_COUNT];
    int32_t count, room;
    struct agreement_row *rows; /* heap; by meter, register, time */
    int32_t left_out;           /* periods of which our account has nothing at all */
    int32_t register_count;
    struct agreement_register registers[CONFIG_MAX_SEALED * 2 + TERM_COUNT];
    bool memory_out;
};

/* Reads and judges the rows that lie in [from, to): of all sealed meters, or one (its index, else -1).
 * Without a configuration or a loaded logbook there are none. 0, or -1 without memory or where the query
 * failed; agreement_free() takes it in any case. */
int agreement_read(struct agreement *agreement, struct session *session, int32_t only, int64_t from_s,
                   int64_t to_s);
void agreement_free(struct agreement *agreement);

/* Makes verdicts, registers, fits and drifts of rows that are set, sorted, with their sides. */
void agreement_judge(struct agreement *agreement);

/* Parts of agreement_judge(), each in a file of its own. `partner`: the row of the other register over the
 * same span, if both sides of it are known; NULL. */
void agreement_find_fits(const struct agreement *agreement, struct agreement_row *row,
                         const struct agreement_row *partner);
void agreement_sum_fits(struct agreement *agreement, struct agreement_register *of);
/* Sets `unlike` of the rows and the register; false without memory. */
bool agreement_find_unlike(struct agreement_row *rows, int32_t count, struct agreement_register *of);
/* After that. */
struct agreement_drift agreement_drift(const struct agreement_row *rows, int32_t count);

/* agreement_words.c. Each fills `out` and returns it. */
enum { AGREEMENT_TEXT_SIZE = 200 };
extern const char *const agreement_verdict_words[AGREEMENT_VERDICTS];
extern const char *const agreement_fit_words[AGREEMENT_FIT_KINDS]; /* a word or two */
const char *agreement_fit_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                               const struct civil *civil, const struct agreement_row *row,
                               const struct agreement_fit *fit);
const char *agreement_drift_text(char out[AGREEMENT_TEXT_SIZE], const struct civil *civil,
                                 const struct agreement_drift *drift);
/* What is said of a register as a whole. */
const char *agreement_whole_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement_register *of);
/* Our meters of a term with their classes, "" without any. */
const char *agreement_side_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                                enum balance_term term);
/* The same of the sealed ones of a row, and their names alone. */
const char *agreement_sealed_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                                  const struct agreement_row *row);
const char *agreement_names(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                            const struct agreement_row *row);
/* What limits the row, "" without. */
const char *agreement_remarks(char out[AGREEMENT_TEXT_SIZE], const struct agreement_row *row);

#endif
