#include "reckoning.h"

#include <stdlib.h>

static enum exit_code answer(const struct reckoning_command *command, struct reckoning *reckoning)
{
    if (command->views) {
        reckoning->view = options_view(reckoning->options, command->views);
        if (reckoning->view < 0)
            return EXIT_USAGE;
    }
    enum exit_code code = EXIT_ANSWERED;
    if (command->needs_bills)
        code = bills_open(&reckoning->bills, &reckoning->inquiry, reckoning->options);
    return code == EXIT_ANSWERED ? command->answer(reckoning) : code;
}

enum exit_code reckoning_run(const struct reckoning_command *command, const struct options *options,
                             const char *const *arguments)
{
    struct reckoning *reckoning = calloc(1, command->size);
    if (!reckoning)
        return EXIT_RECORD;
    reckoning->options = options;
    enum exit_code code = inquiry_open(&reckoning->inquiry, options, arguments[0], "all");
    if (code == EXIT_ANSWERED)
        code = answer(command, reckoning);
    if (command->release)
        command->release(reckoning);
    bills_close(&reckoning->bills);
    sheet_free(&reckoning->sheet);
    inquiry_close(&reckoning->inquiry);
    free(reckoning);
    return code;
}

enum exit_code reckoning_print(struct reckoning *reckoning)
{
    return sheet_print(&reckoning->sheet, reckoning->options) ? EXIT_ANSWERED : EXIT_RECORD;
}
