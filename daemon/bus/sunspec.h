/* Walking a SunSpec model chain: finds a meter's points on the wire and makes a
 * register map of them. Pure: it says which registers it wants next and is told
 * what came; no clock, no wire, no allocation.
 *
 *     sunspec_start(&walk, base, max_registers, grid_sign_export, prefer_meter);
 *     while (sunspec_next(&walk, &request) == SUNSPEC_ASKING)
 *         sunspec_take(&walk, ask(request) ? registers : NULL);
 *
 * sunspec_next() changes nothing: until sunspec_take() it gives the same
 * request again, so the caller may retry a silent or garbled one as it likes.
 * A walk that failed begins anew with sunspec_start(). */
#ifndef METERBOOK_SUNSPEC_H
#define METERBOOK_SUNSPEC_H

#include <stdbool.h>
#include <stdint.h>

#include "map.h"
#include "plan.h"
#include "sunspec_models.h"

enum {
    SUNSPEC_TRY_BASES = -1, /* 40000, then 0, then 50000 */
    SUNSPEC_MAX_MODELS = 64,
    SUNSPEC_REASON_SIZE = 120,
};

enum sunspec_state {
    SUNSPEC_ASKING, /* wants another request answered */
    SUNSPEC_DONE,   /* `map` is complete and has a point that measures something */
    SUNSPEC_FAILED, /* `reason` says why */
};

/* A model in the chain: its ID register's address, and how many registers
 * follow its length. id 0: none found. */
struct sunspec_model {
    int32_t id, address, length;
};

struct sunspec_walk {
    enum sunspec_state state;
    bool grid_sign_export, prefer_meter;
    int32_t bases[3];
    int32_t base_count, base_index;
    bool marker_found;
    int32_t address;                                /* of the two registers wanted next */
    int32_t model_count;                            /* headers seen */
    struct sunspec_model found[SUNSPEC_KIND_COUNT]; /* the first of each kind */
    struct register_map map;                        /* valid when DONE */
    char reason[SUNSPEC_REASON_SIZE];               /* "" unless FAILED */
};

/* Begins a walk. base: 0..65533, or SUNSPEC_TRY_BASES. max_registers: of one
 * request to this meter, 0 = 125; points that do not fit in one request with
 * their scale register are left out. grid_sign_export: a meter model (201-214)
 * counts power > 0 as export; the standard leaves it open. prefer_meter: where
 * the chain has both an inverter and a meter model, take the meter (grid,
 * consumption, branch), else the inverter; of several of a kind the first. */
void sunspec_start(struct sunspec_walk *walk, int32_t base, int32_t max_registers, bool grid_sign_export,
                   bool prefer_meter);

/* What the walk wants. Fills in `request` (function 3, two registers, class
 * READ_START) with SUNSPEC_ASKING only. */
enum sunspec_state sunspec_next(const struct sunspec_walk *walk, struct request *request);

/* The answer to sunspec_next()'s request: its registers (as many as asked for),
 * or NULL for an exception or no answer. Does nothing unless ASKING.
 *
 * No answer at one base leads to the next; inside the chain it fails the walk.
 * A header that cannot be (no end marker, a length past register 65535, more
 * than SUNSPEC_MAX_MODELS) ends the chain like the end marker where something
 * was found before, else it fails the walk. */
void sunspec_take(struct sunspec_walk *walk, const uint16_t *registers);

#endif
