#include "terminal.h"

#include <langinfo.h>
#include <locale.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

enum { USUAL_COLUMNS = 80, MOST_COLUMNS = 1000 };

static int32_t columns_of(bool terminal)
{
    const char *text = getenv("COLUMNS");
    long columns = text ? strtol(text, NULL, 10) : 0;
    if (columns > 0 && columns < MOST_COLUMNS)
        return (int32_t)columns;
    struct winsize size;
    if (terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col > 0)
        return size.ws_col;
    return terminal ? USUAL_COLUMNS : 0;
}

/* Only the character set is taken from the locale, and only where bars are drawn: numbers never follow it. */
static bool shows_utf8(void)
{
    setlocale(LC_CTYPE, "");
    return strcmp(nl_langinfo(CODESET), "UTF-8") == 0;
}

struct terminal terminal_of(const struct options *options)
{
    bool is_terminal = isatty(STDOUT_FILENO) == 1;
    const char *no_colour = getenv("NO_COLOR"), *kind = getenv("TERM");
    bool dumb = !kind || strcmp(kind, "dumb") == 0;
    bool bars = options->bars == BARS_ALWAYS || (options->bars == BARS_AUTO && is_terminal);
    return (struct terminal){
        .columns = is_terminal || options->bars == BARS_ALWAYS ? columns_of(is_terminal) : 0,
        .bars = bars,
        .colour = is_terminal && !dumb && !(no_colour && no_colour[0]),
        .utf8 = bars && shows_utf8(),
    };
}
