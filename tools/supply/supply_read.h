/* What the record says of the supply over a span: reads it, a month per read transaction, and fills
 * the structs of supply.h and supply_lost.h. The report takes its voltage histogram and its
 * voltages against export from here. */
#ifndef METERBOOK_SUPPLY_READ_H
#define METERBOOK_SUPPLY_READ_H

#include "inquiry.h"
#include "supply.h"
#include "supply_lost.h"

enum { SUPPLY_SOURCES = 64 };

/* When the supply or phases of it were out, as the record knows. */
struct supply_flag {
    int64_t from_s, to_s;
    unsigned phases; /* one bit each */
};

/* Production, or one part of it. */
struct supply_source {
    char name[CONFIG_NAME_SIZE]; /* "production" for all of it */
    bool by_peers;               /* else against its own best days */
    struct lost_sum lost;
};

/* Large: for the heap. */
struct supply_answer {
    struct arranged_meter meter;
    char accuracy_class[8]; /* "" unknown */
    bool at_grid;           /* it is the grid meter */
    int32_t grid_meters;
    bool own_throttle;                 /* the level where inverters throttle is the site's own */
    struct supply_row *weeks, *months; /* heap; those that the record reaches, or parts of them */
    int32_t week_count, month_count;
    int64_t coarse;   /* intervals that ten minutes are no multiple of */
    int32_t coarse_s; /* the length of one */
    struct supply_source sources[SUPPLY_SOURCES];
    int32_t source_count; /* 0: the voltage never stood at the level, or nothing is made here */
    struct supply supply;
    /* while it is read */
    struct supply_flag *flags; /* heap; by from_s */
    int32_t flag_count;
    int32_t hint; /* into the history */
};

enum supply_result {
    SUPPLY_READY,
    SUPPLY_NO_VOLTAGE, /* was measured in the span */
    SUPPLY_TOO_COARSE, /* every interval is */
    SUPPLY_FAILED,     /* query_error() says it, or memory is out */
};

/* `meter` is a number, 0: the grid meter, else the first that has voltages. Give the
 * answer to supply_answer_free() whatever the result. */
enum supply_result supply_read(struct supply_answer *answer, const struct inquiry *inquiry, int32_t meter);
void supply_answer_free(struct supply_answer *answer);

/* supply_read_lost.c: fills in the sources. False where reading failed or memory was out. */
bool supply_read_lost(struct supply_answer *answer, const struct inquiry *inquiry);

/* supply_feed.c: feeds `supply` with the meter's intervals of [from, to), in a read
 * transaction of its own. False where reading failed. */
bool supply_feed(struct supply_answer *answer, struct supply *supply, const struct inquiry *inquiry,
                 int64_t from_s, int64_t to_s);

#endif
