#include "peer.h"

#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

static void must(bool good, const char *what)
{
    if (good)
        return;
    perror(what);
    abort();
}

void peer_pause(int milliseconds)
{
    struct timespec pause = { .tv_sec = milliseconds / 1000, .tv_nsec = milliseconds % 1000 * 1000000L };
    nanosleep(&pause, NULL);
}

void peer_send(struct peer *peer, const void *bytes, size_t length)
{
    if (peer->kind == PEER_SERIAL)
        (void)!write(peer->fd, bytes, length);
    else
        send(peer->fd, bytes, length, MSG_NOSIGNAL);
}

size_t peer_seal(const struct peer *peer, uint8_t *answer, size_t length)
{
    uint32_t crc = 0xFFFF;
    if (peer->kind == PEER_TCP)
        return length;
    for (size_t i = 0; i < length; i++)
        for (int bit = 0; bit < 8; bit++) {
            uint32_t in = (crc ^ (uint32_t)answer[i] >> bit) & 1;
            crc = in ? crc >> 1 ^ 0xA001 : crc >> 1;
        }
    answer[length] = (uint8_t)(crc & 0xFF);
    answer[length + 1] = (uint8_t)(crc >> 8);
    return length + 2;
}

size_t peer_build(const struct peer *peer, const uint8_t *request, uint8_t *answer)
{
    size_t head = peer->kind == PEER_TCP ? 6 : 0;
    const uint8_t *body = request + head;
    int address = body[2] * 256 + body[3], count = body[4] * 256 + body[5];
    memcpy(answer, request, head + 2);
    answer[head + 2] = (uint8_t)(2 * count);
    for (int i = 0; i < count; i++) {
        answer[head + 3 + 2 * (size_t)i] = (uint8_t)((address + i) / 256);
        answer[head + 4 + 2 * (size_t)i] = (uint8_t)(address + i);
    }
    if (head > 0) {
        answer[4] = 0;
        answer[5] = (uint8_t)(3 + 2 * count);
    }
    return peer_seal(peer, answer, head + 3 + 2 * (size_t)count);
}

void peer_answer(struct peer *peer, const uint8_t *request, size_t length)
{
    uint8_t answer[300];
    (void)length;
    peer_send(peer, answer, peer_build(peer, request, answer));
}

void peer_exception(struct peer *peer, const uint8_t *request, uint8_t code)
{
    uint8_t answer[16];
    size_t head = peer->kind == PEER_TCP ? 6 : 0;
    memcpy(answer, request, head + 2);
    answer[head + 1] |= 0x80;
    answer[head + 2] = code;
    if (head > 0) {
        answer[4] = 0;
        answer[5] = 3;
    }
    peer_send(peer, answer, peer_seal(peer, answer, head + 3));
}

void peer_hang_up(struct peer *peer)
{
    if (peer->keep_fd >= 0)
        close(peer->keep_fd);
    peer->keep_fd = -1;
    if (peer->fd >= 0)
        close(peer->fd);
    peer->fd = -1;
}

/* Input on fd, or false when told to stop. */
static bool wait_for(const struct peer *peer, int fd)
{
    struct pollfd fds[2] = { { .fd = peer->stop_fd, .events = POLLIN }, { .fd = fd, .events = POLLIN } };
    must(poll(fds, 2, -1) > 0, "poll");
    return fds[0].revents == 0;
}

/* One request, false at the end of the connection. */
static bool serve(struct peer *peer)
{
    uint8_t request[12];
    size_t whole = peer->kind == PEER_TCP ? 12 : 8, have = 0;
    while (have < whole) {
        if (!wait_for(peer, peer->fd))
            return false;
        ssize_t got = read(peer->fd, request + have, whole - have);
        if (got <= 0)
            return false;
        have += (size_t)got;
        peer->bytes += (size_t)got;
    }
    peer->functions[request[peer->kind == PEER_TCP ? 7 : 1]]++;
    peer->requests++;
    if (peer->talk)
        peer->talk(peer, request, whole);
    else
        peer_answer(peer, request, whole);
    return peer->fd >= 0;
}

static void *run(void *argument)
{
    struct peer *peer = argument;
    if (peer->kind == PEER_SERIAL) {
        while (serve(peer))
            continue;
        return NULL;
    }
    while (wait_for(peer, peer->listen_fd)) {
        peer->fd = accept4(peer->listen_fd, NULL, NULL, SOCK_CLOEXEC);
        if (peer->fd < 0)
            continue;
        peer->connections++;
        while (serve(peer))
            continue;
        peer_hang_up(peer);
    }
    return NULL;
}

static void open_serial(struct peer *peer, const char *directory)
{
    char name[64];
    struct termios settings;
    peer->fd = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
    must(peer->fd >= 0 && grantpt(peer->fd) == 0 && unlockpt(peer->fd) == 0 &&
             ptsname_r(peer->fd, name, sizeof name) == 0,
         "pty");
    /* without somebody on the other side the master reads an error */
    peer->keep_fd = open(name, O_RDWR | O_NOCTTY | O_CLOEXEC);
    must(peer->keep_fd >= 0 && tcgetattr(peer->keep_fd, &settings) == 0, name);
    cfmakeraw(&settings);
    must(tcsetattr(peer->keep_fd, TCSANOW, &settings) == 0, "tcsetattr");
    snprintf(peer->path, sizeof peer->path, "%s/line", directory);
    unlink(peer->path);
    must(symlink(name, peer->path) == 0, peer->path);
}

static void open_network(struct peer *peer)
{
    struct sockaddr_in address = { .sin_family = AF_INET, .sin_addr = { htonl(INADDR_LOOPBACK) } };
    socklen_t size = sizeof address;
    peer->listen_fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    must(peer->listen_fd >= 0 && bind(peer->listen_fd, (struct sockaddr *)&address, size) == 0 &&
             listen(peer->listen_fd, 4) == 0 &&
             getsockname(peer->listen_fd, (struct sockaddr *)&address, &size) == 0,
         "listen");
    peer->port = ntohs(address.sin_port);
}

void peer_start(struct peer *peer, const char *directory)
{
    peer->fd = peer->keep_fd = peer->listen_fd = -1;
    peer->stop_fd = eventfd(0, EFD_CLOEXEC);
    must(peer->stop_fd >= 0, "eventfd");
    if (peer->kind == PEER_SERIAL)
        open_serial(peer, directory);
    else
        open_network(peer);
    must(pthread_create(&peer->thread, NULL, run, peer) == 0, "thread");
}

void peer_stop(struct peer *peer)
{
    eventfd_write(peer->stop_fd, 1);
    pthread_join(peer->thread, NULL);
    peer_hang_up(peer);
    if (peer->listen_fd >= 0)
        close(peer->listen_fd);
    close(peer->stop_fd);
    if (peer->kind == PEER_SERIAL)
        unlink(peer->path);
}
