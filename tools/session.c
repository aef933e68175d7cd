#include "session.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "query_names.h"
#include "site_clock.h"
#include "stamp.h"

static const char default_config[] = "/etc/meterbook/meterbook.conf";

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    if (error)
        fprintf(stderr, "meterbook: %s\n", line);
}

/* The configuration names the record and the runtime directory. */
static enum exit_code read_config(struct session *session, const struct options *options)
{
    const char *path = options->config ? options->config : default_config;
    struct problems problems = { .say = say_problem };
    session->config = config_load_site(path, &problems);
    if (!session->config) {
        fprintf(stderr,
                "meterbook: cannot use the configuration '%s'; --database names a record without one\n",
                path);
        return EXIT_RECORD;
    }
    snprintf(session->database, CONFIG_PATH_SIZE, "%s", session->config->database);
    snprintf(session->runtime, CONFIG_PATH_SIZE, "%s", session->config->runtime);
    return EXIT_ANSWERED;
}

static enum exit_code find_paths(struct session *session, const struct options *options)
{
    if (!options->database || options->config) {
        enum exit_code code = read_config(session, options);
        if (code != EXIT_ANSWERED)
            return code;
    }
    if (options->database)
        snprintf(session->database, sizeof(session->database), "%s", options->database);
    if (options->runtime)
        snprintf(session->runtime, sizeof(session->runtime), "%s", options->runtime);
    return EXIT_ANSWERED;
}

static enum exit_code read_clock(struct session *session, const struct options *options)
{
    struct timespec now;
    int64_t now_s;
    if (options->now && !stamp_read(options->now, &now_s)) {
        fprintf(stderr,
                "meterbook: '--now %s': an instant is 2026-03-05T14:05:00Z or ends in an offset as +01:00\n",
                options->now);
        return EXIT_USAGE;
    }
    clock_gettime(CLOCK_REALTIME, &now);
    session->now_ms = options->now ? now_s * 1000 : (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
    return EXIT_ANSWERED;
}

enum exit_code session_failed(const struct session *session)
{
    const char *error = query_error(session->query);
    fprintf(stderr, "meterbook: %s\n", error ? error : "out of memory");
    return EXIT_RECORD;
}

/* Without settings there is no zone, and nothing to answer either. */
static enum exit_code open_calendar(struct session *session)
{
    struct site site;
    bool settings = query_site(session->query, &site);
    if (query_error(session->query))
        return session_failed(session);
    if (!settings) {
        fputs("meterbook: the record is empty: the collector has not loaded a configuration yet\n", stderr);
        return EXIT_NO_DATA;
    }
    struct config *config = session->config;
    if (config && config->civil && strcmp(config->site.time_zone, site.zone) == 0) {
        session->civil = config->civil;
        config->civil = NULL;
    } else {
        session->civil = civil_open(site.zone);
    }
    if (!session->civil) {
        fprintf(stderr, "meterbook: this computer's zone data has no '%s', the site's time zone\n",
                site.zone);
        return EXIT_RECORD;
    }
    session->today = civil_day_of(session->civil, session->now_ms / 1000);
    return EXIT_ANSWERED;
}

enum exit_code session_open(struct session *session, const struct options *options)
{
    *session = (struct session){ 0 };
    enum exit_code code = read_clock(session, options);
    if (code == EXIT_ANSWERED)
        code = find_paths(session, options);
    if (code != EXIT_ANSWERED)
        return code;
    session->query = query_open(session->database);
    if (query_error(session->query))
        return session_failed(session);
    if (!options->now && session->runtime[0])
        session->now_ms = site_now_ms(session->query, session->runtime);
    return open_calendar(session);
}

/* `meterbook logbook` says what is wrong with its lines; here they are only counted. */
static void count_problem(void *self, bool error, const char *line)
{
    (void)self, (void)error, (void)line;
}

bool session_logbook(struct session *session)
{
    struct problems problems = { .say = count_problem };
    if (!session->config || !session->config->logbook[0])
        return true;
    struct meter_names *names = query_meter_names(session->query);
    if (!names) {
        session_failed(session);
        return false;
    }
    const struct logbook_site site = { session->civil, session->config, names };
    session->logbook = logbook_load(session->config->logbook, &site, &problems);
    meter_names_free(names);
    if (!session->logbook) {
        fprintf(stderr, "meterbook: the logbook '%s' cannot be read\n", session->config->logbook);
        return false;
    }
    session->logbook_errors = problems.errors;
    logbook_sort(session->logbook);
    return true;
}

bool session_logbook_has(const struct session *session, const char *word)
{
    struct problems problems = { .say = count_problem };
    size_t size;
    char *text = logbook_text(session->config->logbook, &size, &problems);
    bool has = !text || memmem(text, size, word, strlen(word)) != NULL;
    free(text);
    return has;
}

void session_close(struct session *session)
{
    query_close(session->query);
    civil_close(session->civil);
    logbook_free(session->logbook);
    config_free(session->config);
}
