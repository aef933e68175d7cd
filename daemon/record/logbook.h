/* The logbook: what people write about a site. Text, one dated line per
 * entry, appended; it can be kept in git and outlives the record.
 *
 *     # a comment
 *     2026-03-05T14:05 reading "utility meter" import=8124.3 export=301.9 "read by eye"
 *     DATE             KIND    SUBJECT         KEY=VALUE ...               TEXT
 *
 * DATE is 2026-03-05, 2026-03-05T14:05 or 2026-03-05T14:05:30, a blank in place
 * of the T; with Z or an offset as +01:00, or else in local time of the site (of
 * an hour that comes twice, the first). meterbook-logbook(5) has the kinds.
 *
 * Reading is pure and never gives up: every line that is right is an entry,
 * every other a problem. */
#ifndef METERBOOK_LOGBOOK_H
#define METERBOOK_LOGBOOK_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "civil.h"
#include "config.h"
#include "meter_names.h"

enum logbook_kind {
    LOGBOOK_READING,  /* of a sealed meter */
    LOGBOOK_EXCHANGE, /* of a meter for another: old final and new first readings */
    LOGBOOK_START,    /* what a register stood at before it was first read */
    LOGBOOK_CLEANING,
    LOGBOOK_REPAIR,
    LOGBOOK_NOTE,
    LOGBOOK_CLOCK,      /* "it is 14:05 now" */
    LOGBOOK_CORRECT,    /* what was wrong with a meter, from when to when */
    LOGBOOK_REVOKE,     /* takes an earlier entry back */
    LOGBOOK_PRECEDENCE, /* which source speaks for the balance from here on */
    LOGBOOK_CREDIT,     /* opening credit of a settlement */
    LOGBOOK_KINDS
};

/* What a key's value is kept as. The registers come first, in the order of
 * enum sealed_register; then those of the old and the new meter of an exchange. */
enum logbook_key {
    LOGBOOK_REGISTER = 0, /* as shown, in 10^-6 of the register's unit, before any factor */
    LOGBOOK_OLD = LOGBOOK_REGISTER + SEALED_REGISTERS,
    LOGBOOK_NEW = LOGBOOK_OLD + SEALED_REGISTERS,
    LOGBOOK_HOW = LOGBOOK_NEW + SEALED_REGISTERS, /* 0 read, 1 estimated */
    LOGBOOK_DIGITS,                               /* of the new meter */
    LOGBOOK_DECIMALS,
    LOGBOOK_FACTOR,    /* thousandths */
    LOGBOOK_WHAT,      /* enum logbook_what */
    LOGBOOK_RATIO_OLD, /* primary << 32 | secondary */
    LOGBOOK_RATIO_NEW,
    LOGBOOK_FROM, /* UTC s */
    LOGBOOK_TO,
    LOGBOOK_OF,      /* UTC s: date of the entry taken back */
    LOGBOOK_OF_KIND, /* enum logbook_kind */
    LOGBOOK_SOURCE,  /* 0 sealed, 1 record */
    LOGBOOK_KWH,     /* mWh */
    LOGBOOK_MONEY,   /* 10^-6 of the currency's unit */
    LOGBOOK_BOOT_MS, /* boot time at which a person said what time it is */
    LOGBOOK_DOUBT,   /* s */
    LOGBOOK_NUMBERS,
    LOGBOOK_SERIAL = LOGBOOK_NUMBERS, /* texts */
    LOGBOOK_WITH,
    LOGBOOK_BOOT,
    LOGBOOK_KEYS
};

enum logbook_what { CORRECT_RATIO, CORRECT_EXCHANGED, CORRECT_SWAPPED };

/* Corrections and exchanges of our meters that touch one UTC day. */
enum { LOGBOOK_MOST_CORRECTIONS = 128 };

#define LOGBOOK_NOTHING INT64_MIN

enum { LOGBOOK_TEXT_SIZE = 240, LOGBOOK_LINE_SIZE = 1024 };

struct logbook_entry {
    int32_t line;
    enum logbook_kind kind;
    int64_t at_s;  /* UTC */
    bool day_only; /* no time of day was given: at_s is noon for a reading or an exchange, else the day's
                      start */
    bool refused;  /* it says what cannot be, see the problems */
    bool revoked;  /* by a later entry */
    char subject[CONFIG_NAME_SIZE]; /* "" where the kind allows none; as written */
    int32_t meter, with; /* numbers of the configured meters of ours that the subject and LOGBOOK_WITH mean,
                            by whatever name they had; 0: none */
    int64_t number[LOGBOOK_NUMBERS]; /* LOGBOOK_NOTHING: not given */
    char word[LOGBOOK_KEYS - LOGBOOK_NUMBERS][CONFIG_NAME_SIZE];
    char text[LOGBOOK_TEXT_SIZE];
};

struct logbook {
    int32_t count, room;
    struct logbook_entry *entries; /* heap, in the order of the file */
    bool memory_out;
};

/* What names and local times are checked against; config NULL: any name. */
struct logbook_site {
    const struct civil *civil;
    const struct config *config;
    const struct meter_names *names; /* that meters had before; NULL: none */
};

/* Reads the file; an absent one is an empty logbook. Returns NULL where it cannot be
 * read or memory is out, said as a problem. Give it to logbook_free(). */
struct logbook *logbook_load(const char *path, const struct logbook_site *site, struct problems *problems);
/* The bytes of the file, heap, "" for an absent one; NULL after a problem was said. */
char *logbook_text(const char *path, size_t *size, struct problems *problems);
/* The same from text of `size` bytes; `name` is the file's in messages. */
struct logbook *logbook_read(const char *text, size_t size, const char *name, const struct logbook_site *site,
                             struct problems *problems);
/* By date, then by line. */
void logbook_sort(struct logbook *logbook);
void logbook_free(struct logbook *logbook);

/* The opening credit of a settlement that holds at an instant for a sealed meter: the newest one
 * dated at or before it, of that meter or of none; NULL without. Its LOGBOOK_KWH and LOGBOOK_MONEY may
 * be LOGBOOK_NOTHING, not both; its text says where it is from. `logbook` must be sorted. */
const struct logbook_entry *logbook_credit(const struct logbook *logbook, const char *meter, int64_t at_s);

/* Reads one line, without its line feed. Returns 1 for an entry, 0 for a blank line or a
 * comment, -1 with `why` filled in. */
enum { LOGBOOK_WHY_SIZE = 700 };
int logbook_line(const char *line, size_t size, const struct logbook_site *site, struct logbook_entry *entry,
                 char why[LOGBOOK_WHY_SIZE]);

extern const char *const logbook_kind_words[LOGBOOK_KINDS + 1];

/* "import", "old.import", "how" ...: as written. */
const char *logbook_key_name(enum logbook_key key);
/* A value as it is written, into `out`; false where the entry has none. */
bool logbook_value(const struct logbook_entry *entry, enum logbook_key which, const struct civil *civil,
                   char *out, size_t size);

/* Reads "2026-03-05", "2026-03-05T14:05" ...; NULL, or what is allowed. */
const char *logbook_date(const char *text, const struct civil *civil, int64_t *at_s, bool *day_only);

#endif
