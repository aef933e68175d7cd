/* A file that gets its name when all of it is there: what is cut short never looks whole. */
#ifndef METERBOOK_WHOLE_FILE_H
#define METERBOOK_WHOLE_FILE_H

#include <stdbool.h>
#include <stdio.h>

#include "command.h"

/* Writes to PATH.part by `write` and renames it to PATH. EXIT_ANSWERED; EXIT_OUTPUT, said on stderr, where it
 * cannot be written; EXIT_RECORD where `write` returned false, having said why. Then nothing is left of it.
 */
enum exit_code whole_file_write(const char *path, bool (*write)(void *self, FILE *out), void *self);

#endif
