/* Keys of the logbook and how their values are read: shared by logbook*.c and the command that writes an
 * entry. */
#ifndef METERBOOK_LOGBOOK_VALUE_H
#define METERBOOK_LOGBOOK_VALUE_H

#include "logbook.h"

/* How a kind is formed. */
enum logbook_subject {
    SUBJECT_NONE,
    SUBJECT_ANY,
    SUBJECT_SEALED,
    SUBJECT_METER,
    SUBJECT_BOTH,
    SUBJECT_BALANCE
};

struct logbook_form {
    enum logbook_subject subject;
    bool subject_optional, text_needed;
    uint64_t keys, needed; /* 1 << enum logbook_key */
    uint64_t one_of;       /* at least one of these; 0 without */
};
extern const struct logbook_form logbook_forms[LOGBOOK_KINDS];

/* Index of the key, LOGBOOK_KEYS where there is none. */
int32_t logbook_key_of(const char *name, size_t size);

/* Reads a value into the entry; NULL, or what is allowed (a static text). */
const char *logbook_take(struct logbook_entry *entry, enum logbook_key which, const char *value,
                         const struct civil *civil);

/* Whom a whole entry is about: sets its meters, holds names and registers against the site. 0, or -1 with
 * `why` filled in. */
int logbook_names(const struct logbook_site *site, struct logbook_entry *entry, uint64_t given,
                  char why[LOGBOOK_WHY_SIZE]);

/* Refuses corrections of a day beyond LOGBOOK_MOST_CORRECTIONS, and says each. False without memory. */
bool logbook_refuse_most(struct logbook *logbook, void (*say)(void *self, const struct logbook_entry *entry),
                         void *self);

/* Joins the names of a set of keys, for messages. */
enum { LOGBOOK_LIST_SIZE = 560 }; /* of all keys that a kind may have */
void logbook_key_list(uint64_t set, char *out, size_t size);

#endif
