#include "allocation.h"

#include <sqlite3.h>
#include <stdlib.h>

#include "disk.h"

static int64_t counted;
static bool counting;

void allocation_count(bool on)
{
    counting = on;
}

int64_t allocation_counted(void)
{
    return counted;
}

#if defined __SANITIZE_ADDRESS__ || defined __SANITIZE_THREAD__ || !defined __GLIBC__
#define PLAIN_MALLOC 0
#elif !defined __has_feature
#define PLAIN_MALLOC 1
#elif __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define PLAIN_MALLOC 0
#else
#define PLAIN_MALLOC 1
#endif

#if PLAIN_MALLOC
static int of_others;

/* The linker lets these stand before the library's, for every caller in the process. */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static void note(void)
{
    counted += counting && of_others == 0 && !disk_is_growing();
}

void *malloc(size_t size)
{
    note();
    return __libc_malloc(size);
}

void *calloc(size_t count, size_t size)
{
    note();
    return __libc_calloc(count, size);
}

void *realloc(void *old, size_t size)
{
    note();
    return __libc_realloc(old, size);
}

/* ---- SQLite's own ---- */

static sqlite3_mem_methods below;

static void *sqlite_malloc(int size)
{
    of_others++;
    void *memory = below.xMalloc(size);
    of_others--;
    return memory;
}

static void *sqlite_realloc(void *old, int size)
{
    of_others++;
    void *memory = below.xRealloc(old, size);
    of_others--;
    return memory;
}

bool allocation_install(void)
{
    sqlite3_mem_methods ours;
    if (sqlite3_config(SQLITE_CONFIG_GETMALLOC, &below) != SQLITE_OK)
        return false;
    ours = below;
    ours.xMalloc = sqlite_malloc;
    ours.xRealloc = sqlite_realloc;
    return sqlite3_config(SQLITE_CONFIG_MALLOC, &ours) == SQLITE_OK;
}
#else
bool allocation_install(void)
{
    return false;
}
#endif
