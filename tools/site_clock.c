#include "site_clock.h"

#include <errno.h>
#include <stdio.h>
#include <time.h>

#include "clock_real.h"
#include "query_dating.h"

int64_t site_boot_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_BOOTTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

bool site_boot(const char *runtime, char boot[SITE_BOOT_SIZE])
{
    char path[CONFIG_PATH_SIZE + 8];
    long long at_s = 0;
    /* The collector may not see the kernel's name. */
    snprintf(path, sizeof(path), "%s/boot", runtime);
    FILE *file = fopen(path, "re");
    if (!file && errno == ENOENT)
        file = fopen("/proc/sys/kernel/random/boot_id", "re");
    if (!file)
        return false;
    int fields = fscanf(file, "%36s %lld", boot, &at_s);
    fclose(file);
    errno = EINVAL;
    /* what says a later boot time than now was left by a boot before */
    return fields >= 1 && at_s * 1000 <= site_boot_ms();
}

int64_t site_now_ms(struct query *query, const char *runtime)
{
    char boot[SITE_BOOT_SIZE];
    struct instant now;
    int64_t offset_ms;
    clock_real.read(clock_real.self, &now);
    if (!query || now.synchronised || !site_boot(runtime, boot) ||
        !query_clock_offset(query, boot, &offset_ms))
        return now.wall_us / 1000;
    return now.boot_us / 1000 + offset_ms;
}
