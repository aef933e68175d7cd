#include "port.h"

#include <errno.h>
#include <fcntl.h>
#include <linux/serial.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/ioctl.h>
#include <sys/select.h>
#include <sys/stat.h>
#include <sys/sysmacros.h>
#include <termios.h>
#include <unistd.h>

static const struct {
    int32_t baud;
    speed_t speed;
} speeds[] = {
    { 1200, B1200 },   { 2400, B2400 },   { 4800, B4800 },     { 9600, B9600 },     { 19200, B19200 },
    { 38400, B38400 }, { 57600, B57600 }, { 115200, B115200 }, { 230400, B230400 },
};

static bool speed_of(int32_t baud, speed_t *speed)
{
    for (size_t i = 0; i < sizeof speeds / sizeof speeds[0]; i++)
        if (speeds[i].baud == baud) {
            *speed = speeds[i].speed;
            return true;
        }
    return false;
}

static enum wire_result refuse(enum wire_result result, char *why, const char *what, const char *name)
{
    snprintf(why, WIRE_WHY_SIZE, "cannot %s '%.80s': %.40s", what, name, strerror(errno));
    return result;
}

/* ---- serial ---- */

/* flock() keeps out those who ask for it, TIOCEXCL those who do not; neither
 * alone does both, and the second does not stop root. */
static enum wire_result lock_serial(int fd, const char *name, char *why)
{
    if (flock(fd, LOCK_EX | LOCK_NB) != 0) {
        if (errno != EWOULDBLOCK)
            return refuse(WIRE_GONE, why, "lock", name);
        snprintf(why, WIRE_WHY_SIZE, "'%.80s' is in use by another program", name);
        return WIRE_BUSY;
    }
    if (ioctl(fd, TIOCEXCL) != 0)
        return refuse(WIRE_GONE, why, "lock", name);
    return WIRE_OK;
}

static bool is_pseudo_terminal(int fd)
{
    enum { FIRST_MAJOR = 136, LAST_MAJOR = 143 }; /* UNIX98 slaves */
    struct stat status;
    return fstat(fd, &status) == 0 && major(status.st_rdev) >= FIRST_MAJOR &&
           major(status.st_rdev) <= LAST_MAJOR;
}

static enum wire_result set_terminal(int fd, const struct config_bus *bus, char *why)
{
    speed_t speed = B9600;
    struct termios wanted, got;
    if (!speed_of(bus->baud, &speed)) {
        snprintf(why, WIRE_WHY_SIZE, "no serial port runs at %d bit/s", (int)bus->baud);
        return WIRE_GONE;
    }
    if (tcgetattr(fd, &wanted) != 0)
        return refuse(WIRE_GONE, why, "set", bus->device);
    cfmakeraw(&wanted);
    wanted.c_cflag &= ~(tcflag_t)(PARENB | PARODD | CSTOPB | CRTSCTS);
    wanted.c_cflag |= CLOCAL | CREAD;
    if (bus->parity != PARITY_NONE)
        wanted.c_cflag |= PARENB;
    if (bus->parity == PARITY_ODD)
        wanted.c_cflag |= PARODD;
    if (bus->stop_bits == 2)
        wanted.c_cflag |= CSTOPB;
    wanted.c_cc[VMIN] = 1;
    wanted.c_cc[VTIME] = 0;
    cfsetispeed(&wanted, speed);
    cfsetospeed(&wanted, speed);
    if (tcsetattr(fd, TCSANOW, &wanted) != 0 && !(errno == EINVAL && is_pseudo_terminal(fd)))
        return refuse(WIRE_GONE, why, "set", bus->device);
    if (tcgetattr(fd, &got) != 0 || cfgetospeed(&got) != speed) {
        snprintf(why, WIRE_WHY_SIZE, "'%.80s' does not run at %d bit/s", bus->device, (int)bus->baud);
        return WIRE_GONE;
    }
    tcflush(fd, TCIOFLUSH);
    return WIRE_OK;
}

static enum wire_result set_rs485(int fd, const struct config_bus *bus, char *why)
{
    if (!bus->rs485)
        return WIRE_OK;
    struct serial_rs485 mode = { .flags = SER_RS485_ENABLED | SER_RS485_RTS_ON_SEND };
    if (ioctl(fd, TIOCSRS485, &mode) != 0)
        return refuse(WIRE_GONE, why, "set the RS-485 mode of", bus->device);
    return WIRE_OK;
}

static void warn_of_unstable_name(const char *device, char *why)
{
    if (strncmp(device, "/dev/ttyUSB", 11) == 0 || strncmp(device, "/dev/ttyACM", 11) == 0)
        snprintf(why, WIRE_WHY_SIZE,
                 "'%.60s' may name another adapter after a restart; use its name in /dev/serial/by-id",
                 device);
}

enum wire_result port_open_serial(const struct config_bus *bus, int *fd, char why[WIRE_WHY_SIZE])
{
    int opened = open(bus->device, O_RDWR | O_NOCTTY | O_CLOEXEC | O_NONBLOCK);
    if (opened < 0)
        return refuse(errno == EBUSY ? WIRE_BUSY : WIRE_GONE, why, "open", bus->device);
    if (opened >= FD_SETSIZE) { /* libmodbus waits with select() */
        errno = EMFILE;
        refuse(WIRE_GONE, why, "open", bus->device);
        close(opened);
        return WIRE_GONE;
    }
    enum wire_result result = lock_serial(opened, bus->device, why);
    if (result == WIRE_OK)
        result = set_terminal(opened, bus, why);
    if (result == WIRE_OK)
        result = set_rs485(opened, bus, why);
    if (result != WIRE_OK) {
        close(opened);
        return result;
    }
    warn_of_unstable_name(bus->device, why);
    *fd = opened;
    return WIRE_OK;
}

/* ---- network ---- */

/* Waits for a connection under way. Returns an errno, 0 when it stands. */
static int finish_connect(int fd, int stop_fd, int64_t until_us)
{
    int64_t left_us = until_us - port_now_us();
    struct timespec left = { .tv_sec = (time_t)(left_us / 1000000),
                             .tv_nsec = (long)(left_us % 1000000) * 1000 };
    struct pollfd poll_fds[2] = { { .fd = fd, .events = POLLOUT }, { .fd = stop_fd, .events = POLLIN } };
    int error = 0;
    socklen_t size = sizeof error;
    if (left_us <= 0 || ppoll(poll_fds, 2, &left, NULL) <= 0 || poll_fds[0].revents == 0)
        return ETIMEDOUT;
    return getsockopt(fd, SOL_SOCKET, SO_ERROR, &error, &size) == 0 ? error : errno;
}

/* Returns the descriptor, or -1 with errno. */
static int connect_one(const struct resolve_address *address, int stop_fd, int64_t until_us)
{
    int fd = socket(address->storage.ss_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return -1;
    int one = 1, error = 0;
    setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    if (fd >= FD_SETSIZE)
        error = EMFILE;
    else if (connect(fd, (const struct sockaddr *)&address->storage, address->size) != 0)
        error = errno == EINPROGRESS ? finish_connect(fd, stop_fd, until_us) : errno;
    if (error == 0)
        return fd;
    close(fd);
    errno = error;
    return -1;
}

enum wire_result port_connect(const struct resolve_address *addresses, int count, int64_t timeout_us,
                              int stop_fd, int *fd, char why[WIRE_WHY_SIZE])
{
    int64_t until_us = port_now_us() + timeout_us;
    for (int i = 0; i < count; i++) {
        int64_t now_us = port_now_us();
        int connected = connect_one(&addresses[i], stop_fd, now_us + (until_us - now_us) / (count - i));
        if (connected >= 0) {
            *fd = connected;
            return WIRE_OK;
        }
    }
    snprintf(why, WIRE_WHY_SIZE, "%s", strerror(errno));
    return WIRE_GONE;
}

/* ---- both ---- */

void port_close(int fd)
{
    if (isatty(fd))
        ioctl(fd, TIOCNXCL); /* outlives us while somebody else has the port open */
    close(fd);
}

enum port_event port_wait(int fd, int stop_fd, int64_t until_us)
{
    struct pollfd poll_fds[2] = { { .fd = stop_fd, .events = POLLIN }, { .fd = fd, .events = POLLIN } };
    int64_t left_us = until_us - port_now_us();
    if (left_us < 0)
        left_us = 0;
    struct timespec left = { .tv_sec = (time_t)(left_us / 1000000),
                             .tv_nsec = (long)(left_us % 1000000) * 1000 };
    if (ppoll(poll_fds, fd < 0 ? 1 : 2, &left, NULL) <= 0)
        return PORT_TIME;
    return poll_fds[0].revents ? PORT_STOP : PORT_INPUT;
}

enum port_event port_wait_exactly(int stop_fd, int64_t until_us)
{
    enum port_event event = port_wait(-1, stop_fd, until_us - PORT_WAKE_US);
    while (event == PORT_TIME && port_now_us() < until_us)
        continue;
    return event;
}

ssize_t port_read(int fd, void *buffer, size_t size)
{
    ssize_t length = read(fd, buffer, size);
    if (length > 0)
        return length;
    return length < 0 && (errno == EAGAIN || errno == EINTR) ? 0 : -1;
}
