#include "boot.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <time.h>
#include <unistd.h>

static int64_t boot_seconds(void)
{
    struct timespec t;
    clock_gettime(CLOCK_BOOTTIME, &t);
    return t.tv_sec;
}

static int read_kernel(char id[BOOT_TEXT_SIZE])
{
    FILE *file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file)
        return -1;
    int fields = fscanf(file, "%36s", id);
    fclose(file);
    return fields == 1 ? 0 : -1;
}

/* A file that says a later boot time than now is from a boot before. */
static int read_kept(const char *path, char id[BOOT_TEXT_SIZE])
{
    long long at;
    FILE *file = fopen(path, "re");
    if (!file)
        return -1;
    int fields = fscanf(file, "%36s %lld", id, &at);
    fclose(file);
    return fields == 2 && at <= boot_seconds() ? 0 : -1;
}

static int keep(const char *path, const char *id)
{
    FILE *file = fopen(path, "we");
    if (!file)
        return -1;
    int failed = fprintf(file, "%s %lld\n", id, (long long)boot_seconds()) < 0;
    return fclose(file) != 0 || failed ? -1 : 0;
}

static int make(const char *path, char id[BOOT_TEXT_SIZE])
{
    unsigned char bytes[16];
    if (getrandom(bytes, sizeof bytes, 0) != sizeof bytes)
        return -1;
    for (size_t i = 0; i < sizeof bytes; i++)
        snprintf(id + 2 * i, BOOT_TEXT_SIZE - 2 * i, "%02x", bytes[i]);
    return keep(path, id);
}

int boot_id(const char *runtime, char id[BOOT_TEXT_SIZE])
{
    char path[512];
    snprintf(path, sizeof path, "%s/boot", runtime);
    if (read_kernel(id) == 0) {
        keep(path, id); /* for those who note something: no harm where it cannot be */
        return 0;
    }
    return read_kept(path, id) == 0 ? 0 : make(path, id);
}

int boot_lock(const char *path)
{
    int fd = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0640);
    if (fd < 0 || flock(fd, LOCK_EX | LOCK_NB) == 0)
        return fd;
    int reason = errno;
    close(fd);
    errno = reason;
    return -1;
}
