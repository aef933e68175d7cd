/* What a bus stands on: a serial port or a connection, opened by us rather than
 * by libmodbus so that it can be locked, checked and given up cleanly. */
#ifndef METERBOOK_PORT_H
#define METERBOOK_PORT_H

#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>
#include <time.h>

#include "config.h"
#include "resolve.h"
#include "wire.h"

enum port_event { PORT_TIME, PORT_INPUT, PORT_STOP };

/* Boot time in us. */
static inline int64_t port_now_us(void)
{
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

/* Opens and locks a serial port: not blocking, raw, closed on exec. The path is looked up anew each time, so
 * that a name in /dev/serial/by-id finds the adapter again. WIRE_OK with *fd (`why` may hold a warning),
 * WIRE_BUSY, or WIRE_GONE. */
enum wire_result port_open_serial(const struct config_bus *bus, int *fd, char why[WIRE_WHY_SIZE]);

/* Connects to the first address that answers, within timeout_us for all of them together. WIRE_OK with *fd
 * (not blocking), or WIRE_GONE. */
enum wire_result port_connect(const struct resolve_address *addresses, int count, int64_t timeout_us,
                              int stop_fd, int *fd, char why[WIRE_WHY_SIZE]);

/* Lets go of what port_open_serial() or port_connect() gave. */
void port_close(int fd);

/* Sleeps until `until_us`, until `fd` (-1: none) has input or an end, or until stop_fd is readable. */
enum port_event port_wait(int fd, int stop_fd, int64_t until_us);

/* The same without a descriptor, to the microsecond: sleeps most of the time and watches the clock for the
 * rest, at most PORT_WAKE_US, because being woken takes about that long. */
enum { PORT_WAKE_US = 100 };
enum port_event port_wait_exactly(int stop_fd, int64_t until_us);

/* Reads what is there without waiting: bytes read, 0 when there is nothing, -1 when the port is gone. */
ssize_t port_read(int fd, void *buffer, size_t size);

#endif
