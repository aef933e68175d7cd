/* The account of one counter: our best figure of what went through it.
 *
 * A register shows energy in steps (100 Wh, 1 Wh, the spacing of a float). The
 * account A follows the register's value V and, between two of its steps, the
 * power read beside it, but never leaves the register's last step:
 *
 *     V <= A < V + step
 *
 * so it is as exact as the register over any span, and finer inside. It never
 * runs back: where a register shows less than before, A waits for it. Pure;
 * energies in mWh, power in mW, time in ms of boot time. */
#ifndef METERBOOK_ACCOUNT_H
#define METERBOOK_ACCOUNT_H

#include <stdint.h>

struct account {
    int64_t value;   /* V: the register's last accepted value */
    int64_t step;    /* of the register at V, at least 1 */
    int64_t account; /* A */
    int64_t work;    /* power not yet a whole mWh, in mW ms: 0 .. 3 599 999 */
};

/* First reading of a register run: A = V. */
void account_begin(struct account *account, int64_t value, int64_t step);

/* Takes up an account left at `at` (the boundary account of the last stored
 * interval); the register's own value is not known until the next reading. */
void account_resume(struct account *account, int64_t at, int64_t step);

/* The next reading of the same run. `power` is what flows in this counter's
 * direction, at least 0, `span_ms` how long it flowed; give 0 for a gap or
 * where there is no power. */
void account_read(struct account *account, int64_t value, int64_t step, int64_t power, int64_t span_ms);

#endif
