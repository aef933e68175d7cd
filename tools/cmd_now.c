#include <stdio.h>

#include "command.h"
#include "output.h"
#include "session.h"

enum exit_code cmd_now(const struct options *options, const char *argument)
{
    struct session session;
    struct present present;
    (void)argument;
    enum exit_code code = session_open(&session, options);
    if (code == EXIT_ANSWERED) {
        const char *runtime = session.runtime[0] ? session.runtime : NULL;
        switch (present_build(&present, session.query, session.civil, runtime, session.now_ms)) {
        case ANSWER_READY:
            output_of(options)->present(stdout, &present, options);
            for (int32_t i = 0; options->format == FORMAT_CSV && i < present.note_count; i++)
                fprintf(stderr, "meterbook: %s\n", present.notes[i]);
            break;
        case ANSWER_NO_DATA:
            fputs("meterbook: the record is empty\n", stderr);
            code = EXIT_NO_DATA;
            break;
        case ANSWER_FAILED:
            code = session_failed(&session);
            break;
        }
    }
    session_close(&session);
    return code;
}
