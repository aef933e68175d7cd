/* What every command needs before it can answer: the record, its site's
 * calendar and the present. */
#ifndef METERBOOK_SESSION_H
#define METERBOOK_SESSION_H

#include <stdint.h>

#include "civil.h"
#include "command.h"
#include "logbook.h"
#include "query.h"

struct session {
    struct query *query;
    struct civil *civil;
    struct config *config;   /* NULL where only a record was named */
    struct logbook *logbook; /* after session_logbook(), sorted; NULL before, and where there is none */
    int32_t logbook_errors;  /* lines left out */
    char database[CONFIG_PATH_SIZE];
    char runtime[CONFIG_PATH_SIZE]; /* "" where nothing names it */
    int64_t now_ms, today;          /* today as a civil day of the site */
};

/* Opens the record that the options name. Returns EXIT_ANSWERED, else the code to
 * end with, said on stderr. session_close() takes it in any case. */
enum exit_code session_open(struct session *session, const struct options *options);
void session_close(struct session *session);

/* Reads the logbook that the configuration names. False, said on stderr, where it cannot be read. */
bool session_logbook(struct session *session);
/* Does this word stand anywhere in the one that is configured? True where that cannot be read. */
bool session_logbook_has(const struct session *session, const char *word);

/* Says the query's error; returns EXIT_RECORD. */
enum exit_code session_failed(const struct session *session);

#endif
