/* The parts of a plant in the record: who is one when, what each made by the hour, and
 * the sum of all beside the production meter. */
#ifndef METERBOOK_PARTS_READ_H
#define METERBOOK_PARTS_READ_H

#include "civil.h"
#include "logbook.h"
#include "parts.h"
#include "period.h"
#include "query.h"

/* Days before the span that are read too, to know what is usual. */
enum { PARTS_HISTORY_DAYS = 400 };

/* Who is what from an instant on; one bit per part, and per meter beside them. */
struct parts_setting {
    int64_t from_s;
    int32_t id, interval_s;
    uint64_t parts, parts_export, beside, beside_export; /* export: that counter is delivery */
    int64_t limit_w[PARTS_MOST];                         /* a.c. rating, else rated power; 0: not known */
};

/* Energies of the instants at which all of them are known, mWh. */
struct parts_sum {
    int64_t parts, beside;
    int64_t known_s, left_out_s; /* time in which they all are, and are not */
    int64_t resolution;          /* what the registers of all of them may be off by together */
};

/* What `meterbook parts` and the report show. */
struct parts_answer {
    struct parts parts;
    int64_t first_day;     /* civil day of day 0 */
    int64_t record_to_day; /* civil day after the last that was read */
    bool of_production;    /* there are no parts: several production meters stand for them */
    int32_t beside_count;  /* production meters beside the parts */
    int32_t beside[PARTS_MOST];
    char beside_name[CONFIG_NAME_SIZE]; /* of the first */
    struct parts_sum sum;               /* over the span */
    double longitude;                   /* of the site: hours are by the sun; 0 not known */
    struct parts_setting *settings;     /* heap */
    int32_t setting_count;
};

enum parts_result { PARTS_READY, PARTS_NONE /* there is no part */, PARTS_FAILED /* query, or memory */ };

/* Reads and judges; parts_answer_free() in any case. `logbook` may be NULL. */
enum parts_result parts_read(struct parts_answer *answer, struct query *query, const struct civil *civil,
                             const struct logbook *logbook, const struct period *period);
void parts_answer_free(struct parts_answer *answer);

/* Civil day of a day's index. */
static inline int64_t parts_civil_day(const struct parts_answer *answer, int32_t day)
{
    return answer->first_day + day;
}

/* parts_settings.c: fills in settings, the parts and their facts. Within query_begin(). */
enum parts_result parts_read_settings(struct parts_answer *answer, struct query *query,
                                      const struct civil *civil, const struct period *reach);

#endif
