/* What the commands about money have in common: a span, the bills over it, a sheet. Opened, answered and
 * closed in one place. */
#ifndef METERBOOK_RECKONING_H
#define METERBOOK_RECKONING_H

#include "bills.h"
#include "command.h"

/* The first member of each such command's own work. */
struct reckoning {
    const struct options *options;
    struct inquiry inquiry; /* of the span that was asked for, by default all of the record */
    int32_t view;           /* index of the view that was asked for */
    struct bills bills;     /* open where the command needs them */
    struct sheet sheet;     /* the answer's to fill in and print */
};

struct reckoning_command {
    size_t size;              /* of its work, which begins as zeros */
    const char *const *views; /* of '--view', ends with NULL; NULL: it has none */
    bool needs_bills;
    enum exit_code (*answer)(void *work);
    void (*release)(void *work); /* what the answer took beside these; NULL: nothing */
};

/* Runs it from a command_function's arguments. */
enum exit_code reckoning_run(const struct reckoning_command *command, const struct options *options,
                             const char *const *arguments);

/* Prints the sheet; the code to end with. */
enum exit_code reckoning_print(struct reckoning *reckoning);

#endif
