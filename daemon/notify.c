#include "notify.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

void notify_send(const char *state)
{
    const char *path = getenv("NOTIFY_SOCKET");
    struct sockaddr_un address = { .sun_family = AF_UNIX };
    if (!path || (path[0] != '/' && path[0] != '@') || strlen(path) >= sizeof address.sun_path)
        return;
    memcpy(address.sun_path, path, strlen(path));
    if (path[0] == '@')
        address.sun_path[0] = '\0'; /* an abstract name */
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    if (fd < 0)
        return;
    socklen_t length = (socklen_t)(offsetof(struct sockaddr_un, sun_path) + strlen(path));
    (void)sendto(fd, state, strlen(state), MSG_NOSIGNAL, (const struct sockaddr *)&address, length);
    close(fd);
}

int64_t notify_watchdog_us(void)
{
    const char *text = getenv("WATCHDOG_USEC");
    return text ? strtoll(text, NULL, 10) / 2 : 0;
}
