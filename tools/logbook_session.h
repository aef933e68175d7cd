/* What the commands on the logbook need: the configuration that names it, the
 * site's calendar and the present. Nobody needs a record to note something; where there is one, its clock
 * counts, and it knows what meters were named. */
#ifndef METERBOOK_LOGBOOK_SESSION_H
#define METERBOOK_LOGBOOK_SESSION_H

#include "command.h"
#include "logbook.h"

struct logbook_session {
    struct config *config;
    struct civil *civil;
    struct meter_names *names; /* NULL without a record */
    struct logbook_site site;
    struct problems problems; /* said on stderr */
    int64_t now_s;
};

/* Returns EXIT_ANSWERED, else the code to end with, said on stderr; logbook_session_close() takes
 * it in any case. */
enum exit_code logbook_session_open(struct logbook_session *session, const struct options *options);
void logbook_session_close(struct logbook_session *session);

#endif
