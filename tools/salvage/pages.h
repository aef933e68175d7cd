/* The pages of an SQLite file and of its write-ahead log, read without SQLite:
 * it refuses a damaged file, or gives up at the first bad page on its way.
 * Read only; nothing of the file is changed.
 *
 * File format: https://www.sqlite.org/fileformat2.html */
#ifndef METERBOOK_PAGES_H
#define METERBOOK_PAGES_H

#include <stdbool.h>
#include <stdint.h>

enum { PAGE_MOST = 65536, PAGE_USUAL = 4096 };

struct pages {
    int32_t file, log; /* descriptors; -1 without a log */
    int32_t size;      /* bytes of a page */
    int32_t usable;    /* of them for rows */
    uint32_t count;
    uint32_t stated;  /* how many there should be; not below count */
    bool headed;      /* page 1 begins as it should */
    bool free_known;  /* the list of free pages was read to its end */
    bool *is_free;    /* by page number, 1..count */
    int64_t *in_log;  /* offset of a page's newest committed state in the log; 0: see the file */
    int32_t log_lost; /* frames of the log behind its first damaged one */
    int64_t cut;      /* bytes at the end that are no whole page */
};

/* Opens both files. Returns NULL, or why not; give `pages` to pages_close() in any case. */
const char *pages_open(struct pages *pages, const char *path);
void pages_close(struct pages *pages);

/* Reads a page, 1..count, into `size` bytes; false where it cannot be read. */
bool pages_read(const struct pages *pages, uint32_t number, unsigned char *page);

/* Big-endian, as everywhere in such a file. */
uint32_t pages_number(const unsigned char *bytes);

#endif
