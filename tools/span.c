#include "span.h"

#include <stdio.h>

#include "doubt.h"
#include "inquiry.h"
#include "output.h"

void span_print(const struct answer *answer, struct walk *walk, const struct options *options)
{
    output_of(options)->answer(stdout, answer, walk, options);
    /* a list of plain rows has no place for them */
    for (int32_t i = 0; options->format == FORMAT_CSV && i < answer->mark_count; i++)
        fprintf(stderr, "%s%s%s", i ? ", " : "meterbook: ", answer->marks[i],
                i + 1 < answer->mark_count ? "" : "\n");
    for (int32_t i = 0; options->format == FORMAT_CSV && i < answer->note_count; i++)
        fprintf(stderr, "meterbook: %s\n", answer->notes[i]);
}

/* One state of the record for all that the answer is made of. */
static enum exit_code read_answer(struct session *session, struct answer *answer, struct sources *own,
                                  const struct options *options, struct period period, enum row_unit unit)
{
    const struct sources *sources = NULL;
    const struct answer_what what = { .measured_only = options->measured_only };
    if (!what.measured_only && !inquiry_read_sources(session, &period, own, &sources))
        return EXIT_RECORD;
    switch (answer_build_of(answer, session->query, session->civil, sources, period, unit, what)) {
    case ANSWER_READY:
        return doubt_add(answer, session->query) == 0 && !query_error(session->query)
                   ? EXIT_ANSWERED
                   : session_failed(session);
    case ANSWER_NO_DATA:
        fprintf(stderr, "meterbook: %s\n", answer->notes[0]);
        return EXIT_NO_DATA;
    case ANSWER_FAILED:
        break;
    }
    return session_failed(session);
}

static enum exit_code build(struct session *session, const char *name, const struct options *options,
                            struct period period, enum row_unit unit)
{
    struct answer answer = { 0 };
    struct sources own = { 0 };
    query_begin(session->query);
    enum exit_code code = read_answer(session, &answer, &own, options, period, unit);
    query_end(session->query);
    answer.name = name;
    if (code == EXIT_ANSWERED)
        span_print(&answer, NULL, options);
    answer_free(&answer);
    sources_free(&own);
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
