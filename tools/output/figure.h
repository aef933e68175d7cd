/* The figures of an answer's row, written once: key, head, unit, where they
 * stand. Every form of output walks this table. */
#ifndef METERBOOK_FIGURE_H
#define METERBOOK_FIGURE_H

#include <stdbool.h>
#include <stdint.h>

#include "answer.h"

enum { FIGURE_LAST_RANK = 4 };

enum figure_kind {
    FIGURE_ENERGY,
    FIGURE_DATA, /* an energy that a table has in its notes */
    FIGURE_SHARE,
    FIGURE_CUT_SHARE, /* never rounded up: 100 % is the whole */
};

/* Which registers limit the digits shown. */
enum figure_register { REGISTER_PRODUCTION, REGISTER_GRID, REGISTER_ALL };

struct figure {
    const char *key;     /* in CSV and JSON */
    const char *head[2]; /* in a table, two lines */
    enum figure_kind kind;
    enum figure_register limit;
    bool optional;                                  /* only where the answer knows it */
    bool of_meter;                                  /* also of one meter alone */
    int32_t rank;                                   /* in a narrow table the highest go first; 0 stays */
    int64_t (*value)(const struct answer_row *row); /* mWh or millionths; UNKNOWN */
};

extern const struct figure figures[];
extern const int32_t figure_count;

/* Does this answer have the figure at all? */
bool figure_present(const struct figure *figure, const struct answer *answer);

/* Decimals of a kWh that the registers behind the figure support, at most `most`. */
int32_t figure_decimals(const struct figure *figure, const struct answer *answer, int32_t most);

/* "record", "sealed", "both", "" where nothing is known. */
const char *source_name(int32_t sources);

/* Name of each flag that a row can carry, in order; *flag is what it stands for. NULL past the end. */
const char *flag_name(int32_t index, int32_t *flag);

#endif
