/* What can go wrong on the wire and in a meter, when, and how often.
 *
 * A fault hangs on a bus or on a meter. It is active in a stretch of time
 * (from, to), in a pattern (every, for), and may take only every nth request
 * or stop after so many. Times are wall time since the panel was ready. Pure.
 */
#ifndef METERBOOK_PANEL_FAULT_H
#define METERBOOK_PANEL_FAULT_H

#include <stdbool.h>
#include <stdint.h>

/* Where a fault may hang, and what it touches. */
enum {
    FAULT_ON_METER = 1,
    FAULT_ON_BUS = 2,
    FAULT_ANYWHERE = FAULT_ON_METER | FAULT_ON_BUS,
    FAULT_RTU_ONLY = 4,
    FAULT_MBAP_ONLY = 8,
    FAULT_OF_COUNTER = 16, /* changes the register itself, at one instant, whatever is asked */
};

/* clang-format off */
/* symbol, name, where, name of its number, usual number, least, most */
#define FAULT_TABLE(X) \
    X(SILENT,            "silent",            FAULT_ANYWHERE,                    "",             0,    0, 0) \
    X(LATE,              "late",              FAULT_ANYWHERE,                    "ms",        1500,    1, 600000) \
    X(DRIP,              "drip",              FAULT_ANYWHERE,                    "ms",         400,    1, 60000) \
    X(EXCEPTION,         "exception",         FAULT_ANYWHERE,                    "code",         6,    1, 255) \
    X(WRONG_UNIT,        "wrong_unit",        FAULT_ANYWHERE,                    "unit",        99,    0, 255) \
    X(WRONG_FUNCTION,    "wrong_function",    FAULT_ANYWHERE,                    "code",         4,    1, 127) \
    X(SHORT_COUNT,       "short_count",       FAULT_ANYWHERE,                    "registers",    1,    1, 124) \
    X(CUT,               "cut",               FAULT_ANYWHERE,                    "bytes",        3,    1, 255) \
    X(SURPLUS,           "surplus",           FAULT_ANYWHERE,                    "bytes",        3,    1, 64) \
    X(NOISE,             "noise",             FAULT_ANYWHERE,                    "bytes",        5,    1, 64) \
    X(ECHO,              "echo",              FAULT_ANYWHERE,                    "",             0,    0, 0) \
    X(BAD_CRC,           "bad_crc",           FAULT_ANYWHERE | FAULT_RTU_ONLY,   "",             0,    0, 0) \
    X(WRONG_TRANSACTION, "wrong_transaction", FAULT_ANYWHERE | FAULT_MBAP_ONLY,  "add",          1,    1, 65535) \
    X(WRONG_PROTOCOL,    "wrong_protocol",    FAULT_ANYWHERE | FAULT_MBAP_ONLY,  "add",          1,    1, 65535) \
    X(WRONG_LENGTH,      "wrong_length",      FAULT_ANYWHERE | FAULT_MBAP_ONLY,  "add",          2, -200, 200) \
    X(CLOSE,             "close",             FAULT_ANYWHERE,                    "",             0,    0, 0) \
    X(UNPLUG,            "unplug",            FAULT_ON_BUS,                      "",             0,    0, 0) \
    X(FOREIGN_MASTER,    "foreign_master",    FAULT_ON_BUS | FAULT_RTU_ONLY,     "ms",         250,   10, 60000) \
    X(TORN,              "torn",              FAULT_ON_METER,                    "units",        1,    1, 1000000000) \
    X(ZERO,              "zero",              FAULT_ON_METER,                    "",             0,    0, 0) \
    X(STEP_BACK,         "step_back",         FAULT_ON_METER,                    "steps",        1,    1, 1000) \
    X(ABSENT,            "absent",            FAULT_ON_METER,                    "",             0,    0, 0) \
    X(RESET,             "reset",             FAULT_ON_METER | FAULT_OF_COUNTER, "",             0,    0, 0) \
    X(EXCHANGE,          "exchange",          FAULT_ON_METER | FAULT_OF_COUNTER, "",             0,    0, 0)
/* clang-format on */

enum fault_kind {
#define X(symbol, name, where, number, default_value, min, max) FAULT_##symbol,
    FAULT_TABLE(X)
#undef X
        FAULT_KIND_COUNT
};

struct fault_info {
    const char *name;
    int where;
    const char *number; /* name of its one number in the scenario file, "" = none */
    int32_t default_value, least, most;
};

enum { FAULT_MAX = 12, FAULT_SERIAL_SIZE = 33 };

struct fault {
    int32_t kind;                   /* enum fault_kind */
    double from, to;                /* s since the panel was ready; to < 0: for ever */
    double every, lasting;          /* s; every 0: all the time between from and to */
    int32_t nth;                    /* only each nth request of the meter (or bus), 0 = all */
    int32_t times;                  /* at most so many requests, 0 = no limit */
    int32_t number;                 /* what the kind says */
    char serial[FAULT_SERIAL_SIZE]; /* FAULT_EXCHANGE: serial number of the new meter */
    double import_wh, export_wh;    /* FAULT_EXCHANGE: what its register shows */
    int32_t used;                   /* requests that it took */
};

extern const struct fault_info fault_infos[FAULT_KIND_COUNT];

/* Is it the fault's time? Says nothing about nth and times. */
bool fault_due(const struct fault *fault, int64_t elapsed_ms);

/* The next instant (ms since ready) after elapsed_ms at which fault_due() may change; INT64_MAX = never. */
int64_t fault_next_change(const struct fault *fault, int64_t elapsed_ms);

/* Finds an active fault of that kind for request number `request` (from 1) and counts it; NULL = none. */
const struct fault *fault_take(struct fault *faults, int count, enum fault_kind kind, int64_t elapsed_ms,
                               int64_t request);

#endif
