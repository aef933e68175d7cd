/* A bar on stderr while something long runs; nothing where stderr is no terminal. */
#ifndef METERBOOK_PROGRESS_H
#define METERBOOK_PROGRESS_H

#include <stdbool.h>
#include <stdint.h>

struct progress {
    int32_t shown; /* per cent; -1: no terminal */
};

void progress_begin(struct progress *progress);
/* `what` is a word, shown before the bar. */
void progress_show(struct progress *progress, const char *what, int64_t done, int64_t whole);
/* Takes the bar away. */
void progress_end(struct progress *progress);

#endif
