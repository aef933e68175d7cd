/* Tells the service manager how we are: one datagram, no library. */
#ifndef METERBOOK_NOTIFY_H
#define METERBOOK_NOTIFY_H

#include <stdint.h>

/* Sends a state such as "READY=1" to $NOTIFY_SOCKET; nothing where there is none. */
void notify_send(const char *state);

/* How often the manager wants WATCHDOG=1, in us; 0 = never. Half of $WATCHDOG_USEC. */
int64_t notify_watchdog_us(void);

#endif
