/* A simulated meter, and what only it knows: how much energy went through it
 * at every millisecond of true time. Its registers show that, cut to their
 * step; its diary keeps the truth at every minute, and for how long nobody got
 * a usable answer, so that a record can be held against it. Energies in mWh,
 * powers in mW, times in ms of true UTC. */
#ifndef METERBOOK_SIM_TRUTH_H
#define METERBOOK_SIM_TRUTH_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"

enum { TRUTH_SLOT_MS = 60000, TRUTH_REGISTERS = 11, TRUTH_JITTER_STEPS = 2 };

/* How the counters are shown. */
enum truth_form {
    FORM_UINT64,  /* 64 bits, counting steps */
    FORM_UINT32,  /* 32 bits, counting steps */
    FORM_FLOAT32, /* kWh */
    FORM_COUNT
};

/* What a reading of the counters is. */
enum misreading { READ_TRUE, READ_ZERO, READ_BACK, READ_TORN, READ_TORN_HALVES };

struct truth_slot {
    int64_t energy[2];    /* at its beginning */
    int32_t unwatched_ms; /* of it */
    int32_t unsure_ms;    /* of it: what was read may have been set aside */
    bool still;           /* the registers stood in what was not watched: as good as watched */
    bool blurred;         /* the record may say anything of it: clocks stepped, polls were lost */
    bool vague;           /* the record knows less of who watched than was true */
    bool behind;          /* a register jittered: the record stays where it stood until that has caught up */
};

struct truth {
    enum truth_form form;
    int64_t step;      /* of integer registers */
    int64_t modulus;   /* registers roll over here, 0 never */
    int64_t first[2];  /* registers at the beginning */
    int64_t error_ppm; /* of the power register */
    int64_t voltage_mv;

    int64_t power_mw;     /* now; import positive */
    int64_t at_ms;        /* up to here it is counted */
    int64_t energy[2];    /* import, export since the beginning */
    int64_t work[2];      /* not yet a whole mWh, mW ms */
    int64_t taken_off[2]; /* by resets: register = first + energy - taken_off */

    enum misreading misread; /* what the next answers are */
    int64_t misread_polls;
    int64_t back_steps;

    int64_t begin_ms;                      /* of the diary, a whole minute */
    int64_t next_ms;                       /* beginning of the slot to be written next */
    bool clock_wrong, map_lacks;           /* slots yet to come are blurred while one of these is set */
    int64_t blur_until_ms, vague_until_ms; /* slots yet to come that begin before it are so */
    int32_t slot_count, slot_room;
    struct truth_slot *slots;
};

/* Begins to count at an instant; form, step, modulus, first, error and voltage are set by the caller. */
void truth_begin(struct truth *truth, int64_t at_ms);
void truth_finish(struct truth *truth);

/* Power flows until then. An earlier instant changes nothing. */
void truth_advance(struct truth *truth, int64_t to_ms);

/* The registers now: import at 0, export at 4 (counters), power at 8 (mW), voltage at 10 (0.01 V).
 * Returns whether the counters are true ones. */
bool truth_answer(struct truth *truth, uint16_t registers[TRUTH_REGISTERS]);

/* What a counter's register stands at now, and its step there. */
int64_t truth_register(const struct truth *truth, int way);
int64_t truth_step(const struct truth *truth, int way);

/* The energy at an instant that is past: exact at whole minutes, else between its neighbours. */
int64_t truth_energy(const struct truth *truth, int way, int64_t at_ms);
/* Nobody got a usable answer in this span, up to the answer just given; the energy where it began. */
void truth_unwatched(struct truth *truth, int64_t from_ms, const int64_t energy[2], int64_t to_ms);
/* What was read in this span was used or was not: it may be said to be unobserved. */
void truth_unsure(struct truth *truth, int64_t from_ms, int64_t to_ms);
/* What was noted of it is void: the record knows nothing from here on. */
void truth_forget(struct truth *truth, int64_t from_ms);
/* The record cannot be held to it by the minute; the end may lie ahead. */
void truth_blur(struct truth *truth, int64_t from_ms, int64_t to_ms);
/* What of it was watched is known to the record only in part; the end may lie ahead. */
void truth_vague(struct truth *truth, int64_t from_ms, int64_t to_ms);

/* The map's points of such a meter, without the counters whose bits are set. Returns how many. */
int32_t truth_points(const struct truth *truth, unsigned without, struct point points[4]);

#endif
