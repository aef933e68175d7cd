#include <stdio.h>

#include "command.h"
#include "output.h"
#include "session.h"

static void print(const struct present *present, const struct options *options)
{
    output_of(options)->present(stdout, present, options);
    /* a list of plain rows has no place for them */
    for (int32_t i = 0; options->format == FORMAT_CSV && i < present->note_count; i++)
        fprintf(stderr, "meterbook: %s\n", present->notes[i]);
}

enum exit_code cmd_now(const struct options *options, const char *const *arguments)
{
    struct session session;
    struct present present;
    (void)arguments;
    enum exit_code code = session_open(&session, options);
    if (code == EXIT_ANSWERED) {
        const char *runtime = session.runtime[0] ? session.runtime : NULL;
        if (present_build(&present, session.query, session.civil, runtime, session.now_ms))
            print(&present, options);
        else
            code = session_failed(&session);
    }
    session_close(&session);
    return code;
}
