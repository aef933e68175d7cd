#include "link.h"

#include <arpa/inet.h>
#include <errno.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

static bool fill(struct link *link, enum link_kind kind, int fd)
{
    if (fd < 0)
        return false;
    memset(link, 0, sizeof *link);
    link->kind = kind;
    link->fd = fd;
    return fcntl(fd, F_SETFL, O_NONBLOCK) == 0 && fcntl(fd, F_SETFD, FD_CLOEXEC) == 0;
}

static bool bind_and_listen(int fd, struct scenario_bus *bus)
{
    int yes = 1;
    struct sockaddr_in address = { .sin_family = AF_INET, .sin_port = htons((uint16_t)bus->port) };
    socklen_t size = sizeof address;
    if (inet_pton(AF_INET, bus->address, &address.sin_addr) != 1) {
        errno = EADDRNOTAVAIL;
        return false;
    }
    setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    if (bind(fd, (struct sockaddr *)&address, sizeof address) != 0 || listen(fd, 16) != 0 ||
        getsockname(fd, (struct sockaddr *)&address, &size) != 0)
        return false;
    bus->port = ntohs(address.sin_port); /* an unplugged bus comes back on the same port */
    return true;
}

bool link_listen(struct link *link, struct scenario_bus *bus)
{
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    if (fill(link, LINK_LISTENER, fd) && bind_and_listen(fd, bus))
        return true;
    int why = errno;
    link_close(link, bus);
    errno = why;
    return false;
}

bool link_accept(struct link *link, const struct link *listener)
{
    int yes = 1;
    if (!fill(link, LINK_STREAM, accept(listener->fd, NULL, NULL)))
        return false;
    link->bus = listener->bus;
    setsockopt(link->fd, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    return true;
}

/* Raw from the beginning, so that nothing is echoed before the collector sets it up. */
static bool make_raw(int master)
{
    struct termios settings;
    int other = open(ptsname(master), O_RDWR | O_NOCTTY | O_CLOEXEC);
    if (other < 0)
        return false;
    bool good = tcgetattr(other, &settings) == 0;
    cfmakeraw(&settings);
    good = good && tcsetattr(other, TCSANOW, &settings) == 0;
    close(other);
    return good;
}

/* A symbolic link is replaced, anything else is left alone. */
static bool make_name(const char *path, const char *target)
{
    char old[SCENARIO_PATH_SIZE];
    if (path[0] == '\0')
        return true;
    if (readlink(path, old, sizeof old) >= 0)
        unlink(path);
    return symlink(target, path) == 0;
}

bool link_open_terminal(struct link *link, const struct scenario_bus *bus)
{
    int fd = posix_openpt(O_RDWR | O_NOCTTY);
    if (fill(link, LINK_TERMINAL, fd) && grantpt(fd) == 0 && unlockpt(fd) == 0 && make_raw(fd) &&
        make_name(bus->link, ptsname(fd)))
        return true;
    int why = errno;
    link_close(link, NULL);
    errno = why;
    return false;
}

const char *link_terminal_path(const struct link *link)
{
    return ptsname(link->fd);
}

void link_close(struct link *link, const struct scenario_bus *bus)
{
    if (link->kind == LINK_NONE)
        return;
    if (link->kind == LINK_TERMINAL && bus != NULL && bus->link[0] != '\0')
        unlink(bus->link);
    close(link->fd);
    link->kind = LINK_NONE;
}

bool link_send(struct link *link, const uint8_t *bytes, size_t size, int64_t due_us, int64_t drip_us)
{
    for (struct link_output *output = link->outputs; output < link->outputs + LINK_MAX_ANSWERS; output++) {
        if (output->size > 0)
            continue;
        memcpy(output->bytes, bytes, size);
        output->size = size;
        output->sent = 0;
        output->due_us = due_us;
        output->drip_us = drip_us;
        return true;
    }
    return false;
}

static bool flush_one(struct link *link, struct link_output *output, int64_t now_us)
{
    size_t most = output->drip_us > 0 ? 1 : output->size - output->sent;
    ssize_t written = write(link->fd, output->bytes + output->sent, most);
    if (written < 0 && errno != EAGAIN && errno != EINTR)
        return false;
    if (written > 0)
        output->sent += (size_t)written;
    output->due_us = now_us + (output->drip_us > 0 ? output->drip_us : 1000);
    if (output->sent == output->size)
        output->size = 0;
    return true;
}

bool link_flush(struct link *link, int64_t now_us)
{
    for (struct link_output *output = link->outputs; output < link->outputs + LINK_MAX_ANSWERS; output++)
        if (output->size > 0 && output->due_us <= now_us && !flush_one(link, output, now_us))
            return false;
    return true;
}

int64_t link_next(const struct link *link)
{
    int64_t next = INT64_MAX;
    for (const struct link_output *output = link->outputs; output < link->outputs + LINK_MAX_ANSWERS;
         output++)
        if (output->size > 0 && output->due_us < next)
            next = output->due_us;
    return next;
}
