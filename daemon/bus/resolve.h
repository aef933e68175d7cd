/* Host names to addresses without waiting: a numeric address needs nobody, a
 * name is asked for by a helper thread while the bus says WIRE_PENDING. */
#ifndef METERBOOK_RESOLVE_H
#define METERBOOK_RESOLVE_H

#include <stdint.h>
#include <sys/socket.h>

#include "wire.h"

enum { RESOLVE_MAX_ADDRESSES = 4 };

struct resolve_address {
    struct sockaddr_storage storage;
    socklen_t size;
};

struct resolve;

/* Heap; NULL when memory is out. `host` must outlive it. */
struct resolve *resolve_create(const char *host, int32_t port);

/* Never waits: a question still under way is left to end by itself. */
void resolve_destroy(struct resolve *resolve);

/* Addresses to try: their number, 0 while a first question is under way, or -1 with a text in `why` when it
 * failed (the next call asks again). The last good ones stay until newer ones are there. */
int resolve_addresses(struct resolve *resolve, const struct resolve_address **addresses,
                      char why[WIRE_WHY_SIZE]);

/* None of the addresses answered: asks anew behind the scenes. */
void resolve_refresh(struct resolve *resolve);

#endif
