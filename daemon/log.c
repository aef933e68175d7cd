#include "log.h"

#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>

static atomic_int highest = LOG_INFO;
static atomic_int prefixed;

void log_set_level(enum log_level level)
{
    highest = level;
}

void log_set_prefix(int on)
{
    prefixed = on;
}

/* One write per line, so that lines of several threads do not mix. */
void log_write(enum log_level level, const char *format, ...)
{
    char line[512];
    va_list arguments;
    if ((int)level > highest)
        return;
    int start = prefixed ? snprintf(line, sizeof line, "<%d>", (int)level) : 0;
    va_start(arguments, format);
    int length = vsnprintf(line + start, sizeof line - (size_t)start - 1, format, arguments);
    va_end(arguments);
    size_t end = (size_t)start + (length > 0 ? (size_t)length : 0);
    if (end > sizeof line - 2)
        end = sizeof line - 2;
    line[end] = '\n';
    line[end + 1] = '\0';
    fputs(line, stderr);
}
