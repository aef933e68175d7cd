#include "span.h"

#include <stdio.h>

#include "doubt.h"
#include "output.h"
#include "session.h"

static enum exit_code print(const struct answer *answer, const struct options *options)
{
    output_of(options)->answer(stdout, answer, options);
    /* a list of plain rows has no place for them */
    for (int32_t i = 0; options->format == FORMAT_CSV && i < answer->mark_count; i++)
        fprintf(stderr, "%s%s%s", i ? ", " : "meterbook: ", answer->marks[i],
                i + 1 < answer->mark_count ? "" : "\n");
    for (int32_t i = 0; options->format == FORMAT_CSV && i < answer->note_count; i++)
        fprintf(stderr, "meterbook: %s\n", answer->notes[i]);
    return EXIT_ANSWERED;
}

/* What sealed meters say, where the configuration has any. False without memory or a logbook; what the
 * record refuses, the answer says. */
static bool read_sources(struct session *session, const struct period *period, struct sources *sources)
{
    if (!session->config || session->config->sealed_count == 0)
        return true;
    if (!session_logbook(session))
        return false;
    if (!session->logbook)
        return true;
    int64_t from_s = civil_day_start(session->civil, period->from_day);
    int64_t to_s = civil_day_start(session->civil, period->to_day);
    sources_read(sources, session->query, session->civil, session->config, session->logbook, from_s, to_s);
    sources->logbook_errors = session->logbook_errors;
    if (sources->memory_out)
        session_failed(session);
    return !sources->memory_out;
}

static enum exit_code build(struct session *session, const char *name, const struct options *options,
                            struct period period, enum row_unit unit)
{
    struct answer answer = { 0 };
    struct sources sources = { 0 };
    enum exit_code code = EXIT_RECORD;
    if (read_sources(session, &period, &sources))
        switch (answer_build(&answer, session->query, session->civil, sources.config ? &sources : NULL,
                             period, unit)) {
        case ANSWER_READY:
            answer.name = name;
            code = doubt_add(&answer, session->query) == 0 && !query_error(session->query)
                       ? print(&answer, options)
                       : session_failed(session);
            break;
        case ANSWER_NO_DATA:
            fprintf(stderr, "meterbook: %s\n", answer.notes[0]);
            code = EXIT_NO_DATA;
            break;
        case ANSWER_FAILED:
            code = session_failed(session);
            break;
        }
    answer_free(&answer);
    sources_free(&sources);
    return code;
}

enum exit_code span_answer(const struct options *options, const char *name, const char *argument,
                           period_function *read_period, enum row_unit unit)
{
    struct session session;
    struct period period;
    enum exit_code code = session_open(&session, options);
    const char *allowed = code == EXIT_ANSWERED ? read_period(&period, argument, session.today) : NULL;
    if (allowed) {
        fprintf(stderr, "meterbook: '%s': %s\n", argument, allowed);
        code = EXIT_USAGE;
    } else if (code == EXIT_ANSWERED) {
        code = build(&session, name, options, period, unit);
    }
    session_close(&session);
    return code;
}
