/* Private to the collector's files (collect, answers, dating, resume, refining, correcting, sleeping, supply,
 * commit, derived). */
#ifndef METERBOOK_COLLECT_STATE_H
#define METERBOOK_COLLECT_STATE_H

#include "civil.h"
#include "collect.h"
#include "date.h"
#include "meter.h"
#include "net.h"
#include "redate.h"
#include "store.h"

enum {
    OUTBOX_PIECE = 1024, /* rows a commit holds at most while the record is written */
    OUTBOX_ROWS =
        18432, /* and while it cannot be: a week of eight meters at five minutes, with a derived one */
    OUTBOX_ENDED = CONFIG_MAX_METERS * COUNTER_COUNT,
    OUTBOX_EVENTS = 128,
    OUTBOX_HELD = 512,
    BOOT_ID_SIZE = 37,
};

struct waiting_row {
    uint8_t which; /* series */
    int16_t meter; /* index; -1: the derived meter */
    struct store_row row;
};

struct waiting_event {
    int64_t boot_ms;
    const char *kind;
    int32_t meter; /* number, 0: none */
    char bus[CONFIG_NAME_SIZE];
    int64_t count;
    char text[160];
};

/* What waits for the next commit. */
struct outbox {
    int32_t row_count, ended_count, event_count, held_count;
    int64_t newest_end_s; /* end of the newest row */
    int64_t events_dropped;
    struct waiting_row rows[OUTBOX_ROWS];
    struct store_run ended[OUTBOX_ENDED]; /* to_ms STORE_NULL: dated by ended_boot_ms, when there is a date */
    int64_t ended_boot_ms[OUTBOX_ENDED];
    bool ended_stored[OUTBOX_ENDED]; /* by the commit under way; others wait on */
    struct waiting_event events[OUTBOX_EVENTS];
    struct store_held held[OUTBOX_HELD];
    bool clock; /* a clock row */
    int64_t clock_from_ms;
    bool drop_held; /* held rows of this boot up to drop_id are rows now */
    int64_t drop_id;
};

/* How much of an outbox a transaction holds. */
struct outbox_mark {
    int32_t rows, ended, events, held;
    int64_t clock_from_ms; /* of its clock row */
    int64_t last_event;    /* id of the newest event in the record, this transaction's included */
};

/* Which file the record is, whatever its name. A number is given again once a file is gone. */
struct record_file {
    int64_t known;
    int64_t device[2], born[2]; /* born: 0 where the file system does not keep it */
    uint64_t number;
};

/* The derived grid meter. */
struct derived {
    bool used;
    struct net net;
    int32_t side_of[CONFIG_MAX_METERS]; /* index in net, or -1 */
    /* From here on: put back when a commit fails. */
    bool behind;              /* rows must be netted from stored rows */
    struct store_run runs[2]; /* import, export */
    int64_t account[2];       /* at the frontier */
    int64_t frontier_s;       /* end of the newest derived row, stored or waiting; 0 none */
    int64_t next_midnight_s;
    int32_t consumption[NET_MAX_METERS], production[NET_MAX_METERS];
    bool by_export[NET_MAX_METERS];
    int32_t consumption_count, production_count;
};

enum { SUPPLY_PHASES = 3 };

/* One phase as a meter of the supply sees it. */
struct supply_phase {
    bool known, low;
    int32_t contrary;   /* readings in a row that say the opposite of `low` */
    int64_t changed_ms; /* boot time of the first of them; once confirmed, of the change */
};

/* What the meters of the supply say of the grid, by meter index. */
struct supply {
    struct supply_phase phases[CONFIG_MAX_METERS][SUPPLY_PHASES];
    int64_t voltage[CONFIG_MAX_METERS][SUPPLY_PHASES]; /* mV, of the last reading */
    uint8_t told[CONFIG_MAX_METERS];                   /* bit k: phase k was told to be lost by itself */
    int64_t heard_ms[CONFIG_MAX_METERS];               /* boot time of a supply meter's last answer, 0 none */
    int64_t made_ms[CONFIG_MAX_METERS]; /* and of the last at which a production meter made something */
    bool lost;                          /* the grid, */
    int64_t lost_ms;                    /* since this boot time */
};

/* What a meter's own clock says: the first one that goes as boot time does. */
struct meter_clock {
    int32_t meter;     /* number; 0: none */
    int64_t read_ms;   /* boot time */
    int64_t offset_ms; /* UTC by it = boot time + offset */
    int32_t agreed;    /* readings in a row that say so */
};

struct collect {
    struct collect_setup setup;
    const struct config *config;
    char boot[BOOT_ID_SIZE];
    struct civil *civil;
    struct store *store;
    struct record_file file; /* as it was opened last */
    bool replaced;           /* another one is at its path; reported */
    struct date date;
    struct instant now;
    bool told_to_wait; /* said that readings wait for a clock */
    int64_t grid_us;   /* wall less boot time that the buses were told; 0 none */
    int64_t born_ms;   /* boot time at which this process began */
    int64_t setting;   /* row id of the configuration in force */
    int64_t newest_s;  /* end of the newest row in the record */
    bool cut_off;      /* the process before this one ended without notice */
    bool cut_boot;     /* and its boot with it: power failed */
    int64_t cut_off_s; /* it lived at least until then: end of its newest row */
    int64_t started_s; /* from there on the derived meter has rows, where it is new */
    int64_t
        row_due_ms;    /* boot time at which the newest waiting interval is written even if meters are late */
    bool redate_doubt; /* the same of a transaction that dated rows anew */
    bool in_doubt;     /* a commit's sync failed: it may be in the record or not */
    struct outbox_mark doubt; /* what of the outbox that commit held */
    int64_t committed_end_s;  /* end of the newest row of the last commit */
    int64_t retry_ms;         /* boot time before which no commit is tried again; 0 none */
    bool failing;             /* the last commit failed, and was reported */
    char why[256];            /* the record could not be opened last */
    struct derived derived;
    struct outbox outbox;
    struct meter meters[CONFIG_MAX_METERS];
    bool refine_due;                          /* rows were stored: gaps may be over */
    int64_t refine_from_s[CONFIG_MAX_METERS]; /* nothing before it is left to place */
    struct store_correction *corrections; /* room for all that the logbook may ask for; NULL: no logbook */
    bool corrections_read;                /* the logbook's are those in force */
    bool corrections_none;                /* and there are none: no block can become due */
    int64_t correcting_retry_ms;          /* boot time before which it is not tried again; 0 none */
    char *latest;                         /* the page that readers see; NULL: none */
    struct meter_clock meter_clock;
    bool earlier_due;   /* earlier boots without a clock may be placed now */
    int64_t anchors_ms; /* boot time at which anchors are looked for again */
    uint32_t latest_number;
    int64_t latest_ms; /* boot time of the last write to it */
    bool bus_down[CONFIG_MAX_BUSES];
    struct supply supply;
    struct message message;
};

/* The collector's files, each knowing only those above it. */

/* outbox.c */
int64_t outbox_now_ms(const struct collect *collect); /* boot time of this turn */
/* Notes a change of state; the same again at once is counted. */
void outbox_event(struct collect *collect, const char *kind, int32_t meter, const char *bus,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));
/* So many of a kind at once, the last of them at that boot time. */
void outbox_events(struct collect *collect, int64_t boot_ms, int64_t count, const char *kind, int32_t meter,
                   const char *format, ...) __attribute__((format(printf, 6, 7)));
/* The same for one that began earlier, at boot_ms. */
void outbox_event_at(struct collect *collect, int64_t boot_ms, const char *kind, int32_t meter,
                     const char *bus, const char *format, ...) __attribute__((format(printf, 6, 7)));
/* A row or a held reading waits: how long it may. */
void outbox_waits(struct collect *collect, int64_t end_s);
/* Notes a run that ended, by a reading at boot_ms where it is not dated (to_ms STORE_NULL). */
void outbox_end_run(struct collect *collect, const struct store_run *run, int64_t boot_ms);
/* Runs of a meter that ended and are not in the record: it is taken up from there anew. */
void outbox_forget_ended(struct collect *collect, int32_t meter);
/* Is anything on its way that the record lacks of a meter? */
bool outbox_has_of(const struct collect *collect, const struct meter *meter);
/* What is in it now. */
struct outbox_mark outbox_mark(const struct outbox *outbox);
/* What a transaction held is in the record: it need not wait any more. */
void outbox_drop(struct collect *collect, struct outbox_mark stored);

/* derived.c */
void derived_init(struct collect *collect);
int derived_resume(struct collect *collect);
void derived_now(struct collect *collect, const struct meter *meter, const int64_t account[]);
void derived_step(struct collect *collect);
void derived_crossed(struct collect *collect, const struct meter *meter, const struct book_row *row);
/* Inside the commit's transaction: rows that were not netted live, runs, days. */
int derived_commit(struct collect *collect);

/* correcting.c: applies what the logbook corrects to rows that are being committed, and, some
 * blocks a turn, to all others. Rows go without where that fails; 0, or a failure that took the
 * transaction along. */
int correcting_commit(struct collect *collect);
/* There is another logbook. */
void correcting_logbook(struct collect *collect);
void correcting_turn(struct collect *collect);

/* commit.c */
/* Writes the outbox in one transaction. Returns 0 or an enum store_result; the outbox is kept on failure. */
int commit_now(struct collect *collect);
/* Writes what waits, unless a try failed a moment ago. True when the record is open and holds it all. */
bool commit_flush(struct collect *collect);
/* Opens the record after a failure; settles what became of a commit in doubt. */
int commit_reopen(struct collect *collect);
/* A transaction failed: says so once; a file that failed is closed. */
void commit_failed(struct collect *collect, int result);
/* Is a commit due in this turn? */
bool commit_due(const struct collect *collect);

/* replaced.c: a record that is removed or replaced while it is open */
/* After each open. */
void replaced_remember(struct collect *collect);
/* Before a commit, where no reading is under way: leaves a file that is not at its path any more. */
void replaced_look(struct collect *collect);
/* After an open, before replaced_remember(): takes everything up from this file where it is another one. */
int replaced_take_up(struct collect *collect);

/* latest.c */
void latest_open(struct collect *collect);
void latest_close(struct collect *collect);
void latest_write(struct collect *collect);

/* posting.c */
/* Feeds one dated point of a series to its book; what rows it gives go to the outbox. */
void posting_point(struct collect *collect, struct meter *meter, int which, int64_t utc_ms,
                   const int64_t account[], bool gap, uint16_t flags);
/* Dates runs that begin at this point; before it is fed to the book. */
void posting_runs(struct meter *meter, int which, int64_t utc_ms, const int64_t account[]);

/* resume.c: 0, or an enum store_result */
int resume_meter(struct collect *collect, struct meter *meter);
int resume_settings(struct collect *collect);
/* What of today is in the record, where nothing waits for a commit. */
int resume_today(struct collect *collect, struct meter *meter);

/* redating.c: what a worse clock dated is put right, in one transaction with the new clock row, and the
 * books go on from there; else that row waits for the next commit. 0, or an enum store_result: nothing was
 * done, or nobody knows (again is right either way). */
int redating_run(struct collect *collect);

/* Places what another boot held, by a clock for it. 1, 0 where nothing could be placed, or a failure. */
int redating_place(struct collect *collect, const struct redate_clock *clock);

/* placing.c: earlier boots that no clock came for, by what people wrote or by the sun */
int placing_earlier(struct collect *collect);
/* What says when a boot was, besides the network. near_ms: UTC near which its first reading may have been,
 * 0 unknown. False: nothing does. */
struct anchor {
    const char *source;
    int64_t offset_ms, doubt_ms;
};
bool placing_hand(const struct collect *collect, const char *boot, struct anchor *anchor);
bool placing_sun(struct collect *collect, const char *boot, int64_t near_ms, struct anchor *anchor);

/* dating.c */
/* Something vouches for another clock of this boot. */
void dating_anchor(struct collect *collect, const char *source, int64_t offset_ms, int64_t doubt_ms);
void dating_turn(struct collect *collect);
/* At start: trust earned earlier in this boot, and held rows that no clock came for. */
void dating_start(struct collect *collect);
/* Keeps an accounted reading that cannot be dated yet. */
void dating_hold(struct collect *collect, struct meter *meter, int which, const struct accounted *accounted,
                 const struct reading *reading);

/* rejecting.c */
/* A value was not believed; `text` has it, raw. */
void rejecting_note(struct collect *collect, struct meter *meter, enum episode_kind kind, const char *text);
/* Tells of what is over; at the end of all. */
void rejecting_turn(struct collect *collect);
void rejecting_finish(struct collect *collect);

/* answers.c */
void answers_take(struct collect *collect, const struct message *message);

/* anchors.c: clocks other than the system's, now and then */
void anchors_reading(struct collect *collect, const struct meter *meter, const struct reading *reading);
void anchors_turn(struct collect *collect);

/* sleeping.c: rows of production meters that sleep, on time */
void sleeping_turn(struct collect *collect);

/* supply.c: the grid, lost and back */
/* A complete reading, before its gate: a lost phase has no voltage, and without
 * any there is no frequency; that is no value to reject. */
void supply_reading(struct collect *collect, const struct meter *meter, struct reading *reading);
void supply_turn(struct collect *collect);

/* refining.c: places the energy of one gap that is over, once a turn, where nothing waits for a commit */
void refining_start(struct collect *collect);
void refining_turn(struct collect *collect);

#endif
