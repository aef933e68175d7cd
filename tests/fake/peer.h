/* A small hand-written Modbus device on a pseudo-terminal or a TCP port of the
 * loopback, on a thread of its own, that misbehaves as told. It shares no code
 * with the product. Register n of it holds n. */
#ifndef METERBOOK_PEER_H
#define METERBOOK_PEER_H

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum peer_kind { PEER_SERIAL, PEER_TCP, PEER_SERIAL_OVER_TCP };

struct peer {
    enum peer_kind kind;
    pthread_t thread;
    int fd, keep_fd, listen_fd, stop_fd;
    int port;       /* TCP */
    char path[128]; /* serial */
    /* Called for each request with its bytes; NULL: peer_answer(). */
    void (*talk)(struct peer *peer, const uint8_t *request, size_t length);
    atomic_int requests, connections;
    atomic_int functions[256]; /* how often each function code was asked for */
    _Atomic size_t bytes;      /* all bytes ever heard */
};

/* Set kind and talk before. The path is a name of its own in `directory` (serial). */
void peer_start(struct peer *peer, const char *directory);
void peer_stop(struct peer *peer);

/* For talk functions. */
void peer_send(struct peer *peer, const void *bytes, size_t length);
void peer_answer(struct peer *peer, const uint8_t *request, size_t length);
void peer_exception(struct peer *peer, const uint8_t *request, uint8_t code);
void peer_pause(int milliseconds);
/* Builds the right answer, returns its length. */
size_t peer_build(const struct peer *peer, const uint8_t *request, uint8_t *answer);
/* Appends a CRC (serial kinds), returns the new length. */
size_t peer_seal(const struct peer *peer, uint8_t *answer, size_t length);
/* Serial: the line is cut, as when an adapter is pulled out. TCP: the connection is. */
void peer_hang_up(struct peer *peer);

#endif
