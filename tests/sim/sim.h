/* A site in virtual time: simulated meters whose truth is known, a simulated
 * wire at the seam of the request, clocks that can be wrong, the disk of
 * tests/fake/disk.h, and between them what is real: the step functions of all
 * buses, the collector, its store and SQLite. One process, one thread, one
 * queue of events: a seed replays byte for byte. */
#ifndef METERBOOK_SIM_H
#define METERBOOK_SIM_H

#include <setjmp.h>
#include <stdbool.h>
#include <stdint.h>

#include "bus.h"
#include "collect_state.h"
#include "truth.h"

enum { SIM_METERS = 8, SIM_BUSES = 4 };

/* What a counter may differ by from the truth, beside a step: each register that
 * was set anew costs what flowed between the readings before and after. */
struct sim_allowance {
    int64_t more, less; /* mWh */
    bool lost;          /* set anew while nobody watched: some is lost, how much is not known */
    bool unknown;       /* set anew before the record knew it */
    bool replaced;      /* by a register that shows more: what nobody watched cannot be told from energy */
    bool crossing;      /* set anew since the last answer */
    int64_t resets;
};

struct sim_meter {
    struct truth truth;
    unsigned without; /* bit c: its map has no counter c */
    bool other_plan;  /* the map was found anew while running: plans[1] is in force */
    struct plan plans[2];
    char serial[TEXT_SIZE];

    /* what its answers are */
    bool silent;
    int64_t late_polls, late_us;
    int64_t garbled_polls; /* another unit's, or damaged */
    int64_t exception_polls;
    uint8_t exception;

    /* what the record is held to */
    bool unknown_since;       /* heard_ms is where the record ends: nothing since was watched */
    bool undated;             /* what was heard was never dated, and is held or lost */
    bool usable;              /* the last answer */
    int64_t read_ms, read[2]; /* true UTC of it, energy then */
    int64_t heard_ms,
        heard[2];         /* the same of the last usable reading that the bus delivered; heard_ms 0: none */
    int64_t gap_end_ms;   /* the reading that ended the last gap, */
    int64_t since_gap;    /* and how many were heard since, with it */
    int64_t unsure_ms;    /* set anew or rolled over before that was confirmed: read from here on; 0: no */
    int64_t disturbed_ms; /* true UTC: something happened to it */
    struct sim_allowance allow[2];
};

/* An answer that comes after its time. */
struct sim_stale {
    bool any;
    int64_t arrives_us;
    int32_t meter;
    struct request request;
};

struct sim_bus {
    struct sim *sim;
    struct bus *machine; /* NULL while the process does not run */
    struct action action;
    struct outcome outcome;
    struct wire_reply reply;
    uint16_t image[TRUTH_REGISTERS]; /* all registers of the meter that answered last */
    int64_t next_us;                 /* boot time of its next step */
    int64_t steps_at_once;
    bool unplugged; /* the adapter, or the network */
    bool swallows;  /* a gateway that accepts and never answers */
    struct sim_stale stale;
};

struct sim {
    uint64_t seed, random;
    const char *name;     /* of the scenario */
    bool telling, sparse; /* tells what happens; leaves out what costs time */
    jmp_buf *escape;      /* where a failure goes */
    char failure[512];

    struct config config;
    struct register_map maps[SIM_METERS];
    char *map_texts[SIM_METERS];
    struct sim_meter meters[SIM_METERS];
    struct sim_bus buses[SIM_BUSES];
    struct inbox *inbox;
    struct collect *collect; /* NULL while the process does not run */
    struct sqlite3 *other;   /* another program that has the record open, or NULL */

    int64_t boot_us;       /* now */
    int64_t begin_ms;      /* true UTC at the beginning */
    int64_t true_ms;       /* true UTC = boot time + true_ms */
    int64_t wall_error_ms; /* wall clock less true UTC */
    bool synchronised;     /* the kernel says so */
    int boots;
    char boot[BOOT_ID_SIZE];
    uint32_t generation;
    int64_t turn_us;          /* boot time of the next turn */
    bool stalled;             /* a slow sync: polls go on, no turn comes */
    int64_t clock_after_boot; /* ms that the wall clock is wrong after the next boot; not 0: nothing vouches
                                 for it */
    int64_t cut_off_ms;       /* how long the power stays away after the disk's own cut */

    /* what holds of the whole run */
    bool true_after_gaps; /* what a gap ends with is believed: nothing is misread then */
    int64_t longest_s;    /* longest interval used */
    int32_t rows_of_s;    /* interval that the process before this one used */
    bool clock_stepped;   /* a trusted clock was wrong: rows may be off by the step */
    bool turned;          /* energies changed sides: their sum is what holds */
    bool roles_changed;   /* rows of one meter were of several roles */
    int64_t committed_s;  /* newest row that a commit is known to hold */
    int64_t polls, allocations;
};

/* An empty site of this seed; meters are added, then it is switched on. */
void sim_begin(struct sim *sim, uint64_t seed, int64_t at_ms);
int sim_add_bus(struct sim *sim, enum bus_kind kind, int32_t baud);
/* Meter with register form and step; returns its index. */
int sim_add_meter(struct sim *sim, enum meter_role role, int bus, enum truth_form form, int64_t step);
void sim_switch_on(struct sim *sim);
void sim_finish(struct sim *sim);

uint64_t sim_random(struct sim *sim);
int64_t sim_up_to(struct sim *sim, int64_t n); /* 0 .. n - 1 */
bool sim_one_in(struct sim *sim, int64_t n);

int64_t sim_now_ms(const struct sim *sim); /* true UTC */

/* The process: start (fails the run where it cannot), end; `clean` as on SIGTERM. */
void sim_start(struct sim *sim);
void sim_stop(struct sim *sim, bool clean);
/* The other program lets go of the record. */
void sim_leave_other(struct sim *sim);
/* Power off for so long: a new boot after it, with the disk as it lasted; the process does not run yet. */
void sim_power_off(struct sim *sim, int64_t for_ms);
/* Time passes. Where the disk's own power cut comes, the power goes, comes back, and the process starts. */
void sim_run_ms(struct sim *sim, int64_t ms);
/* The collector's turn, now. */
void sim_turn(struct sim *sim);

/* Something happens to a meter (-1: all): for a while it is not held to the minute. */
void sim_disturb(struct sim *sim, int meter);
/* What the process has not committed is lost when it ends: registers set anew since then are met again. */
void sim_forget_uncommitted(struct sim *sim);
/* What it answers next does not confirm what may just have ended a gap: that may be set aside. */
void sim_contradict(struct sim_meter *meter);
/* A counter's register shows so much less from now on. */
void sim_take_off(struct sim *sim, int meter, int way, int64_t amount);
/* Its account cannot be taken up while the record refuses: what it answers is left out. */
bool sim_leaves_out(const struct sim *sim, int meter);
/* Longest span between two readings that is not a gap. */
int64_t sim_gap_ms(const struct sim *sim);

void sim_tell(const struct sim *sim, const char *format, ...) __attribute__((format(printf, 2, 3)));
/* Ends the run: does not return. */
void sim_fail(struct sim *sim, const char *format, ...) __attribute__((format(printf, 2, 3), noreturn));

/* sim_wire.c: takes the next step of a bus and acts on it. */
void sim_wire_step(struct sim_bus *bus);
/* The buses' messages on their way to the inbox. */
void sim_wire_deliver(void *self, const struct message *message);

#endif
