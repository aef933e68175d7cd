#include "pages.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "config.h"

enum {
    HEADER_SIZE = 100,
    LOG_HEADER = 32,
    FRAME_HEADER = 24,
    LOG_MAGIC = 0x377f0682, /* or'ed with 1: checksums of big-endian words */
    LOG_VERSION = 3007000,
    LARGEST_FILE = 1 << 26, /* pages: far beyond a record, and no memory is lost on a lying header */
};

uint32_t pages_number(const unsigned char *bytes)
{
    return (uint32_t)bytes[0] << 24 | (uint32_t)bytes[1] << 16 | (uint32_t)bytes[2] << 8 | bytes[3];
}

static bool is_page_size(uint32_t size)
{
    return size >= 512 && size <= PAGE_MOST && (size & (size - 1)) == 0;
}

static bool read_at(int32_t file, int64_t offset, unsigned char *bytes, int32_t size)
{
    for (int32_t done = 0; done < size;) {
        ssize_t got = pread(file, bytes + done, (size_t)(size - done), offset + done);
        if (got < 0 && errno == EINTR)
            continue;
        if (got <= 0)
            return false;
        done += (int32_t)got;
    }
    return true;
}

bool pages_read(const struct pages *pages, uint32_t number, unsigned char *page)
{
    if (number < 1 || number > pages->count)
        return false;
    if (pages->in_log[number])
        return read_at(pages->log, pages->in_log[number], page, pages->size);
    return read_at(pages->file, (int64_t)(number - 1) * pages->size, page, pages->size);
}

/* ---- the log ---- */

struct sums {
    uint32_t a, b;
};

static uint32_t word(const unsigned char *bytes, bool big)
{
    return big ? pages_number(bytes)
               : (uint32_t)bytes[3] << 24 | (uint32_t)bytes[2] << 16 | (uint32_t)bytes[1] << 8 | bytes[0];
}

static struct sums add(struct sums sums, const unsigned char *bytes, int32_t size, bool big)
{
    for (int32_t i = 0; i + 8 <= size; i += 8) {
        sums.a += word(bytes + i, big) + sums.b;
        sums.b += word(bytes + i + 4, big) + sums.a;
    }
    return sums;
}

struct log {
    int32_t file, size; /* of a page */
    bool big;
    unsigned char salt[8];
    struct sums sums; /* running */
    int64_t next;     /* offset of the next frame */
};

/* Page size of a log whose header is whole; 0 otherwise. */
static int32_t log_begin(struct log *log, int32_t file)
{
    unsigned char header[LOG_HEADER];
    *log = (struct log){ .file = file, .next = LOG_HEADER };
    if (file < 0 || !read_at(file, 0, header, LOG_HEADER))
        return 0;
    uint32_t magic = pages_number(header), size = pages_number(header + 8);
    log->big = magic & 1;
    log->sums = add((struct sums){ 0, 0 }, header, 24, log->big);
    if ((magic & ~UINT32_C(1)) != LOG_MAGIC || pages_number(header + 4) != LOG_VERSION ||
        !is_page_size(size) || log->sums.a != pages_number(header + 24) ||
        log->sums.b != pages_number(header + 28))
        return 0;
    memcpy(log->salt, header + 16, sizeof(log->salt));
    log->size = (int32_t)size;
    return log->size;
}

/* The next frame, as long as all is whole: its page, and *committed > 0 with
 * the pages of the file where it ends a transaction. 0 at the end. */
static uint32_t log_next(struct log *log, unsigned char *page, uint32_t *committed)
{
    unsigned char header[FRAME_HEADER];
    if (!read_at(log->file, log->next, header, FRAME_HEADER) ||
        memcmp(header + 8, log->salt, sizeof(log->salt)) != 0 ||
        !read_at(log->file, log->next + FRAME_HEADER, page, log->size))
        return 0;
    log->sums = add(log->sums, header, 8, log->big);
    log->sums = add(log->sums, page, log->size, log->big);
    if (log->sums.a != pages_number(header + 16) || log->sums.b != pages_number(header + 20))
        return 0;
    log->next += FRAME_HEADER + log->size;
    *committed = pages_number(header + 4);
    return pages_number(header);
}

/* Frames of this log's generation behind the one at which it breaks off. */
static int32_t count_lost(const struct log *log)
{
    unsigned char header[FRAME_HEADER];
    int32_t lost = 0;
    for (int64_t at = log->next; read_at(log->file, at, header, FRAME_HEADER); at += FRAME_HEADER + log->size)
        lost += memcmp(header + 8, log->salt, sizeof(log->salt)) == 0;
    return lost;
}

/* End of the last whole transaction; *count becomes its size of the file. */
static int64_t last_commit(struct log *log, unsigned char *page, uint32_t *count)
{
    uint32_t committed;
    int64_t end = 0;
    while (log_next(log, page, &committed) != 0) {
        if (committed == 0 || committed > LARGEST_FILE)
            continue;
        end = log->next;
        *count = committed;
    }
    return end;
}

static void place_frames(struct pages *pages, unsigned char *page, int64_t end)
{
    struct log log;
    uint32_t number, committed;
    log_begin(&log, pages->log);
    while (log.next < end && (number = log_next(&log, page, &committed)) != 0)
        if (number <= pages->count)
            pages->in_log[number] = log.next - pages->size;
}

/* ---- the file ---- */

static bool header_is_whole(const unsigned char *header)
{
    static const char magic[16] = "SQLite format 3";
    uint32_t size = (uint32_t)header[16] << 8 | header[17];
    return memcmp(header, magic, sizeof(magic)) == 0 && is_page_size(size == 1 ? PAGE_MOST : size) &&
           header[20] <= 32;
}

/* Marks the pages of the list; false where it breaks off. */
static bool follow_free_list(struct pages *pages, unsigned char *page)
{
    if (!pages->headed || !pages_read(pages, 1, page))
        return false;
    uint32_t trunk = pages_number(page + 32), stated = pages_number(page + 36), found = 0, steps = 0;
    while (trunk >= 1 && trunk <= pages->count && steps++ < pages->count && pages_read(pages, trunk, page)) {
        uint32_t leaves = pages_number(page + 4);
        pages->is_free[trunk] = true;
        found += 1 + leaves;
        if (leaves > (uint32_t)pages->usable / 4 - 2)
            return false;
        for (uint32_t i = 0; i < leaves; i++) {
            uint32_t leaf = pages_number(page + 8 + 4 * i);
            if (leaf < 1 || leaf > pages->count)
                return false;
            pages->is_free[leaf] = true;
        }
        trunk = pages_number(page);
    }
    return trunk == 0 && found == stated;
}

/* A list that breaks off proves nothing about any page. */
static void read_free_list(struct pages *pages, unsigned char *page)
{
    pages->free_known = follow_free_list(pages, page);
    if (!pages->free_known)
        memset(pages->is_free, 0, ((size_t)pages->count + 1) * sizeof(pages->is_free[0]));
}

static const char *measure(struct pages *pages, unsigned char *page)
{
    struct stat about;
    struct log log;
    if (fstat(pages->file, &about) != 0)
        return strerror(errno);
    if (!S_ISREG(about.st_mode))
        return "it is not a file";
    bool whole = read_at(pages->file, 0, page, HEADER_SIZE) && header_is_whole(page);
    uint32_t stated = whole ? (uint32_t)page[16] << 8 | page[17] : 0;
    int32_t reserved = whole ? page[20] : 0;
    int32_t log_size = log_begin(&log, pages->log);
    /* a log that is whole says the size of a page where the file does not */
    pages->size = whole ? (int32_t)(stated == 1 ? PAGE_MOST : stated) : log_size ? log_size : PAGE_USUAL;
    pages->usable = pages->size - reserved;
    pages->cut = about.st_size % pages->size;
    if (about.st_size / pages->size > LARGEST_FILE)
        return "it is too large for a record";
    pages->count = (uint32_t)(about.st_size / pages->size);
    int64_t end = log_size == pages->size ? last_commit(&log, page, &pages->count) : 0;
    pages->log_lost = log_size == pages->size ? count_lost(&log) : 0;
    pages->is_free = calloc((size_t)pages->count + 1, sizeof(pages->is_free[0]));
    pages->in_log = calloc((size_t)pages->count + 1, sizeof(pages->in_log[0]));
    if (!pages->is_free || !pages->in_log)
        return "out of memory";
    place_frames(pages, page, end);
    pages->headed = pages_read(pages, 1, page) && header_is_whole(page);
    pages->stated = pages->headed ? pages_number(page + 28) : 0;
    pages->stated =
        pages->stated > pages->count && pages->stated <= LARGEST_FILE ? pages->stated : pages->count;
    read_free_list(pages, page);
    return pages->count == 0 ? "it holds no page" : NULL;
}

const char *pages_open(struct pages *pages, const char *path)
{
    char log[CONFIG_PATH_SIZE + 8];
    *pages = (struct pages){ .file = -1, .log = -1 };
    pages->file = open(path, O_RDONLY | O_CLOEXEC);
    if (pages->file < 0)
        return strerror(errno);
    if ((size_t)snprintf(log, sizeof(log), "%s-wal", path) >= sizeof(log))
        return "the path is too long";
    pages->log = open(log, O_RDONLY | O_CLOEXEC);
    unsigned char *page = malloc(PAGE_MOST);
    const char *problem = page ? measure(pages, page) : "out of memory";
    free(page);
    return problem;
}

void pages_close(struct pages *pages)
{
    if (pages->file >= 0)
        close(pages->file);
    if (pages->log >= 0)
        close(pages->log);
    free(pages->is_free);
    free(pages->in_log);
    *pages = (struct pages){ .file = -1, .log = -1 };
}
