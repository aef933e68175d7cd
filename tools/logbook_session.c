#include "logbook_session.h"

#include <stdio.h>

#include "query_names.h"
#include "site_clock.h"
#include "stamp.h"

static const char default_config[] = "/etc/meterbook/meterbook.conf";

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    fprintf(stderr, "meterbook: %s%s\n", error ? "" : "warning: ", line);
}

static void say_error(void *self, bool error, const char *line)
{
    if (error)
        say_problem(self, error, line);
}

static void ask_record(struct logbook_session *session)
{
    struct query *query = query_open(session->config->database);
    if (session->now_s == 0)
        session->now_s = site_now_ms(query, session->config->runtime) / 1000;
    if (!query_error(query))
        session->names = query_meter_names(query);
    query_close(query);
}

enum exit_code logbook_session_open(struct logbook_session *session, const struct options *options)
{
    *session = (struct logbook_session){ .problems = { .say = say_problem } };
    if (options->now && !stamp_read(options->now, &session->now_s)) {
        fprintf(stderr,
                "meterbook: '--now %s': an instant is 2026-03-05T14:05:00Z or ends in an offset as +01:00\n",
                options->now);
        return EXIT_USAGE;
    }
    const char *path = options->config ? options->config : default_config;
    struct problems problems = { .say = say_error };
    session->config = config_load_site(path, &problems);
    if (!session->config) {
        fprintf(stderr, "meterbook: cannot use the configuration '%s'\n", path);
        return EXIT_RECORD;
    }
    if (!session->config->logbook[0]) {
        fprintf(stderr,
                "meterbook: the configuration '%s' names no logbook: 'logbook' in the group 'record'\n",
                path);
        return EXIT_RECORD;
    }
    session->civil = civil_open(session->config->site.time_zone);
    if (!session->civil) {
        fprintf(stderr, "meterbook: this computer's zone data has no '%s', the site's time zone\n",
                session->config->site.time_zone);
        return EXIT_RECORD;
    }
    ask_record(session);
    session->site = (struct logbook_site){ session->civil, session->config, session->names };
    return EXIT_ANSWERED;
}

void logbook_session_close(struct logbook_session *session)
{
    meter_names_free(session->names);
    civil_close(session->civil);
    config_free(session->config);
}
