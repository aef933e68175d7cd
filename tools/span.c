#include "span.h"

#include <stdio.h>

#include "output.h"
#include "session.h"

static enum exit_code print(const struct answer *answer, const struct options *options)
{
    output_of(options)->answer(stdout, answer, options);
    /* a list of plain rows has no place for them */
    for (int32_t i = 0; options->format == FORMAT_CSV && i < answer->note_count; i++)
        fprintf(stderr, "meterbook: %s\n", answer->notes[i]);
    return EXIT_ANSWERED;
}

enum exit_code span_answer(const struct options *options, const char *name, const char *argument,
                           period_function *read_period, enum row_unit unit)
{
    struct session session;
    struct answer answer = { 0 };
    struct period period;
    enum exit_code code = session_open(&session, options);
    const char *allowed = code == EXIT_ANSWERED ? read_period(&period, argument, session.today) : NULL;
    if (allowed) {
        fprintf(stderr, "meterbook: '%s': %s\n", argument, allowed);
        code = EXIT_USAGE;
    } else if (code == EXIT_ANSWERED) {
        switch (answer_build(&answer, session.query, session.civil, period, unit)) {
        case ANSWER_READY:
            answer.name = name;
            code = print(&answer, options);
            break;
        case ANSWER_NO_DATA:
            fprintf(stderr, "meterbook: %s\n", answer.notes[0]);
            code = EXIT_NO_DATA;
            break;
        case ANSWER_FAILED:
            code = session_failed(&session);
            break;
        }
    }
    answer_free(&answer);
    session_close(&session);
    return code;
}
