/* links: */
/* Meters for the bench: one TCP port per meter, any unit id, 20 floats in the
 * holding registers 0..39 that move with time; 3 and 4 are energies in Wh. One
 * thread. Plain sockets, so that it costs as little as it can.
 *
 *     meters FIRST_PORT COUNT [ARRIVALS]
 *
 * On SIGTERM it writes to ARRIVALS when each request reached the kernel:
 * "port unit seconds.microseconds" (UTC), and prints how many there were. */
#include <arpa/inet.h>
#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum {
    MAX_METERS = 64,
    MAX_LINKS = 256,
    REGISTERS = 40,
    MBAP = 7,
    REQUEST = MBAP + 5,
    MAX_ARRIVALS = 1000000
};

static volatile sig_atomic_t stop;

struct arrival {
    int64_t at_us;
    uint16_t port, unit;
};

struct server {
    int first_port, count, links;
    struct pollfd polls[MAX_LINKS];
    int meter[MAX_LINKS];
    int64_t start_us, requests;
    struct arrival *arrivals;
};

static void on_signal(int number)
{
    (void)number;
    stop = 1;
}

static int64_t now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_REALTIME, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

static int listen_on(int port)
{
    struct sockaddr_in address = { .sin_family = AF_INET,
                                   .sin_port = htons((uint16_t)port),
                                   .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    int on = 1, fd = socket(AF_INET, SOCK_STREAM, 0);
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0 ||
        bind(fd, (struct sockaddr *)&address, sizeof address) != 0 || listen(fd, 16) != 0) {
        fprintf(stderr, "port %d: %s\n", port, strerror(errno));
        return -1;
    }
    return fd;
}

static void add_link(struct server *server, int fd, int meter)
{
    int on = 1;
    if (server->links == MAX_LINKS) {
        close(fd);
        return;
    }
    setsockopt(fd, SOL_SOCKET, SO_TIMESTAMPNS, &on, sizeof on);
    server->polls[server->links] = (struct pollfd){ .fd = fd, .events = POLLIN };
    server->meter[server->links++] = meter;
}

static void put_float(uint8_t *to, float value)
{
    uint32_t bits;
    memcpy(&bits, &value, sizeof bits);
    for (int i = 0; i < 4; i++)
        to[i] = (uint8_t)(bits >> (24 - 8 * i));
}

static void fill(const struct server *server, int meter, uint8_t image[2 * REGISTERS])
{
    double s = (double)(now_us() - server->start_us) / 1e6;
    double power = 300 + 50 * meter;
    for (int i = 0; i < REGISTERS / 2; i++)
        put_float(image + 4 * i, (float)(i + 0.001 * (double)((int64_t)s % 100)));
    put_float(image, (float)power);
    put_float(image + 4, (float)(230 + 0.01 * (double)((int64_t)s % 50)));
    put_float(image + 8, 50.0F);
    put_float(image + 12, (float)(1e5 * (meter + 1) + power * s / 3600));
    put_float(image + 16, 0.0F);
}

/* The kernel's stamp of the bytes just read; now where it gives none. */
static int64_t stamp_of(struct msghdr *message)
{
    for (struct cmsghdr *c = CMSG_FIRSTHDR(message); c; c = CMSG_NXTHDR(message, c))
        if (c->cmsg_level == SOL_SOCKET && c->cmsg_type == SCM_TIMESTAMPNS) {
            struct timespec t;
            memcpy(&t, CMSG_DATA(c), sizeof t);
            return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
        }
    return now_us();
}

static bool answer(struct server *server, int link)
{
    uint8_t request[256], control[64], reply[MBAP + 2 + 2 * REGISTERS], image[2 * REGISTERS];
    struct iovec part = { request, sizeof request };
    struct msghdr message = {
        .msg_iov = &part, .msg_iovlen = 1, .msg_control = control, .msg_controllen = sizeof control
    };
    ssize_t size = recvmsg(server->polls[link].fd, &message, 0);
    if (size != REQUEST) /* the bench's clients send whole requests, one at a time */
        return false;
    int64_t at_us = stamp_of(&message);
    int first = request[8] << 8 | request[9], count = request[10] << 8 | request[11];
    if (request[7] != 3 || count < 1 || first + count > REGISTERS)
        return false;
    if (server->arrivals && server->requests < MAX_ARRIVALS)
        server->arrivals[server->requests] =
            (struct arrival){ at_us, (uint16_t)(server->first_port + server->meter[link]), request[6] };
    server->requests++;
    fill(server, server->meter[link], image);
    memcpy(reply, request, MBAP + 1);
    reply[4] = 0;
    reply[5] = (uint8_t)(3 + 2 * count);
    reply[8] = (uint8_t)(2 * count);
    memcpy(reply + 9, image + 2 * first, 2 * (size_t)count);
    return send(server->polls[link].fd, reply, 9 + 2 * (size_t)count, MSG_NOSIGNAL) > 0;
}

static void serve(struct server *server)
{
    while (!stop) {
        if (poll(server->polls, (nfds_t)server->links, 1000) <= 0)
            continue;
        for (int i = server->links - 1; i >= 0; i--) {
            if (!server->polls[i].revents)
                continue;
            if (i < server->count) {
                int fd = accept(server->polls[i].fd, NULL, NULL);
                if (fd >= 0)
                    add_link(server, fd, server->meter[i]);
            } else if (!answer(server, i)) {
                close(server->polls[i].fd);
                server->links--;
                server->polls[i] = server->polls[server->links];
                server->meter[i] = server->meter[server->links];
            }
        }
    }
}

int main(int argc, char **argv)
{
    static struct server server;
    if (argc < 3)
        return 2;
    server.first_port = (int)strtol(argv[1], NULL, 10);
    server.count = (int)strtol(argv[2], NULL, 10);
    server.start_us = now_us();
    if (server.count < 1 || server.count > MAX_METERS)
        return 2;
    for (int i = 0; i < server.count; i++) {
        int fd = listen_on(server.first_port + i);
        if (fd < 0)
            return 1;
        add_link(&server, fd, i);
    }
    if (argc > 3 && !(server.arrivals = calloc(MAX_ARRIVALS, sizeof *server.arrivals)))
        return 1;
    struct sigaction action = { .sa_handler = on_signal };
    sigaction(SIGTERM, &action, NULL);
    printf("ready\n");
    fflush(stdout);
    serve(&server);
    FILE *file = argc > 3 ? fopen(argv[3], "w") : NULL;
    for (int64_t i = 0; file && i < server.requests && i < MAX_ARRIVALS; i++)
        fprintf(file, "%d %d %lld.%06d\n", server.arrivals[i].port, server.arrivals[i].unit,
                (long long)(server.arrivals[i].at_us / 1000000), (int)(server.arrivals[i].at_us % 1000000));
    if (file)
        fclose(file);
    free(server.arrivals);
    printf("requests=%lld\n", (long long)server.requests);
    return 0;
}
