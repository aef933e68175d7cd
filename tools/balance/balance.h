/* The balance of a site from the accounts of its meters: pure arithmetic on
 * signed integers, nothing is clamped, so that parts add up to the whole.
 *
 *   production P, import I, export E, storage charge and discharge, generator G
 *   consumption C = P + G + discharge - charge + I - E
 *   self-consumption S = P - E
 *
 * Which meter stands for which term is an arrangement; it holds from an
 * instant to the next change of the settings. */
#ifndef METERBOOK_BALANCE_H
#define METERBOOK_BALANCE_H

#include <stdbool.h>
#include <stdint.h>

#include "config.h"
#include "number.h"

enum { ARRANGEMENT_MAX_METERS = CONFIG_MAX_METERS + 1 }; /* and the derived grid meter */

/* What the balance uses a meter for. */
enum use {
    USE_NONE,       /* branch, weather, parts beside a production meter */
    USE_PRODUCTION, /* made behind the grid meter */
    USE_GROSS,      /* made and sold whole */
    USE_GRID,
    USE_CONSUMPTION, /* whole consumption */
    USE_STORAGE,
    USE_GENERATOR,
    USE_COUNT
};

/* The terms that sealed meters can stand for beside our own. */
enum balance_term { TERM_PRODUCTION, TERM_IMPORT, TERM_EXPORT, TERM_COUNT };
enum {
    TERMS_PRODUCTION = 1 << TERM_PRODUCTION,
    TERMS_GRID = 1 << TERM_IMPORT | 1 << TERM_EXPORT,
    TERMS_ALL = TERMS_PRODUCTION | TERMS_GRID,
};

struct arranged_meter {
    int32_t number;
    char name[CONFIG_NAME_SIZE];
    enum meter_role role;
    bool delivers_by_export; /* which counter is delivery to the site */
    bool gross;
    bool phases_apart;
    enum use use;       /* set by arrangement_prepare() */
    bool only_compared; /* a consumption meter beside a grid meter: shown as residual, in no figure */
    int32_t slot;       /* index of the meter in the answer, -1 where it is not used */
};

struct arrangement {
    int64_t from_s, to_s; /* holds for intervals that start in [from, to) */
    int32_t interval_s;
    int32_t meter_count;
    struct arranged_meter meters[ARRANGEMENT_MAX_METERS];
    int32_t count[USE_COUNT];                         /* meters by use; set by arrangement_prepare() */
    int32_t used_count, used[ARRANGEMENT_MAX_METERS]; /* indexes of those with a use, in order; as count */
    bool derived;                                     /* the grid meter is the derived one */
    bool from_parts;                                  /* parts stand in for a production meter */
};

/* One meter's account over a span. */
struct meter_energy {
    bool present;
    int64_t import, export; /* mWh, UNKNOWN: no such counter */
    int64_t estimated;      /* mWh */
};

/* Energies in mWh, UNKNOWN where nothing is known. */
struct balance {
    int64_t production, import, export, consumption, self_consumption;
    int64_t charge, discharge, generated;
    int64_t estimated;
    int64_t consumption_metered; /* by the consumption meter beside a grid meter */
    /* What the shares compare: only spans in which both sides are known. */
    int64_t production_shared;                      /* P where S is known */
    int64_t import_shared;                          /* I where C is known */
    int64_t consumption_shared;                     /* C where I is known */
    int64_t consumption_compared, metered_compared; /* C and its meter where both are known */
};

/* Nothing known. */
extern const struct balance balance_nothing;

/* Decides each meter's use. The derived grid meter is one of the meters; it
 * counts where no real one does and something is made behind the house meter. */
void arrangement_prepare(struct arrangement *arrangement);
/* The last step of it, for who sets uses otherwise. */
void arrangement_list_used(struct arrangement *arrangement);

/* Same meters, roles and interval: names may differ. */
bool arrangement_same(const struct arrangement *a, const struct arrangement *b);

/* The balance of one span; energy[i] belongs to arrangement->meters[i].
 * A sum over several meters of which some are absent holds those present;
 * consumption and self-consumption are known only where all are. */
struct balance balance_of(const struct arrangement *arrangement, const struct meter_energy *energy);

/* What the record knows of a span in which sealed meters speak for some of the terms. */
struct balance_part {
    struct balance balance; /* without those terms */
    int64_t span_s;
    int64_t known_s[TERM_COUNT]; /* of it, that all meters of the term have rows for */
    int64_t others_s;            /* the same for storage and generators, where there are any */
};

/* The balance of that span: `sealed` are the terms that sealed meters speak for, one bit
 * each, `energy` what they say. Consumption and self-consumption are known only where every term is
 * known for all of the span. */
struct balance balance_join(const struct arrangement *arrangement, const struct balance_part *part,
                            unsigned sealed, const int64_t energy[TERM_COUNT]);

/* Which terms the meters of a use stand for, one bit each. */
unsigned use_terms(enum use use);
int64_t balance_term(const struct balance *balance, enum balance_term term);

/* Adds a following span. */
void balance_add(struct balance *sum, const struct balance *span);

/* Shares in millionths, UNKNOWN where they mean nothing. */
int64_t balance_self_consumption_share(const struct balance *balance); /* of production */
int64_t
balance_self_sufficiency_share(const struct balance *balance); /* of consumption: what was not imported */
int64_t balance_residual_share(const struct balance *balance); /* (meter - figure) / figure */

#endif
