/* Dating anew, all of it: rows and what hangs on them, then clocks, events, settings. */
#include "redate_private.h"

int redate_run(struct store *store, const struct redate_clock *clock, struct redated *done)
{
    struct redate redate;
    int64_t stays_s;
    int result = redate_begin(&redate, store, clock);
    if (result == STORE_OK)
        result = redate_look_back(&redate, &stays_s);
    *done = (struct redated){ .clock_from_ms = clock->boot_ms, .from_s = redate.from_s };
    if (result == STORE_OK && redate.any)
        result = redate_rows(&redate, done);
    if (result == STORE_OK && redate.any)
        result = redate_clocks(&redate, done);
    redate_end(&redate);
    return result == STORE_OK ? redate.any : result;
}
