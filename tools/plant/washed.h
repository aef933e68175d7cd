/* The cleanings that the logbook notes, each with what it brought. Days are set beside each other by, the
 * surest first:
 *
 *   peers  a part that was cleaned, by the middle of at least two others in its plane that were not
 *   light  the plant's performance ratio (at 25 degC where the coefficient is stated)
 *   clear  its clear days beside those of the same season outside the weeks around
 *
 * A window ends where the logbook notes another cleaning, a repair or an exchange. */
#ifndef METERBOOK_WASHED_H
#define METERBOOK_WASHED_H

#include "cleaning.h"
#include "yield.h"

enum washed_way { WASHED_PEERS, WASHED_LIGHT, WASHED_CLEAR, WASHED_WAYS };

struct washed {
    const struct logbook_entry *entry; /* of the session's logbook */
    enum washed_way way;               /* that told most; WASHED_WAYS: none told anything */
    struct cleaning_gain gain;
};

/* Of the cleanings in the inquiry's span, at most `room`; their number, or -1, said on stderr, where reading
 * failed. `yield` is for its plants: a yield_read() of any span. */
int32_t washed_read(const struct inquiry *inquiry, const struct yield *yield, struct washed *list,
                    int32_t room);

#endif
