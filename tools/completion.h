/* What may stand where a command line is being typed: for the shells. */
#ifndef METERBOOK_COMPLETION_H
#define METERBOOK_COMPLETION_H

#include <stdint.h>
#include <stdio.h>

struct completion_command {
    const char *name, *arguments; /* as the help shows them */
};

/* Prints, a line each, what may stand for the last of `words` (ends with NULL): all words of a command line
 * after the program's name, the last one not yet whole. Nothing where a file or free text is due. Names of
 * meters are those of the record that the words before it name. */
void completion_print(FILE *out, const struct completion_command *commands, int32_t count,
                      const char *const *words);

#endif
