#include "progress.h"

#include <stdio.h>
#include <unistd.h>

enum { BAR_COLUMNS = 40, WORD_COLUMNS = 10, REST_COLUMNS = 8 };

void progress_begin(struct progress *progress)
{
    progress->shown = isatty(STDERR_FILENO) ? 0 : -1;
}

void progress_show(struct progress *progress, const char *what, int64_t done, int64_t whole)
{
    char bar[BAR_COLUMNS + 1];
    if (progress->shown < 0 || whole <= 0)
        return;
    int32_t percent = (int32_t)(done * 100 / whole);
    if (percent == progress->shown)
        return;
    progress->shown = percent;
    for (int32_t i = 0; i < BAR_COLUMNS; i++)
        bar[i] = i * 100 < percent * BAR_COLUMNS ? '=' : ' ';
    bar[BAR_COLUMNS] = '\0';
    fprintf(stderr, "\r%-*s|%s| %3d %%", WORD_COLUMNS, what, bar, percent);
}

void progress_end(struct progress *progress)
{
    if (progress->shown >= 0)
        fprintf(stderr, "\r%*s\r", WORD_COLUMNS + BAR_COLUMNS + REST_COLUMNS, "");
}
