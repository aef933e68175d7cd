/* A look through libconfig's syntax, a line at a time, for what the library
 * itself gets wrong: numbers that it would cut, and @include. Pure. */
#ifndef METERBOOK_SCAN_H
#define METERBOOK_SCAN_H

#include <stdbool.h>
#include <stddef.h>

#include "config.h"

/* In what a line begins. */
enum scan_state { SCAN_CODE, SCAN_COMMENT, SCAN_STRING };

/* Looks through a line of `size` bytes, without its line feed; `complain` is
 * called with each problem. Returns the state at the line's end. */
enum scan_state scan_line(enum scan_state state, const char *line, size_t size,
                          void (*complain)(void *self, const char *what), void *self);

/* Is the line an @include? Then its path is in `path`; "" where it is not
 * written as it should be. */
bool scan_include(const char *line, size_t size, char path[CONFIG_PATH_SIZE]);

#endif
