/* Tables of data as text: RFC 4180, one record at a time, in constant memory.
 *
 * A byte-order mark is skipped, records end with LF or CR LF, empty lines are
 * passed over. Which sign parts the fields is declared, never guessed. A
 * quoted field may hold the separator, line ends and doubled quotes. */
#ifndef METERBOOK_CSV_H
#define METERBOOK_CSV_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum {
    CSV_MAX_FIELDS = 256,
    CSV_MAX_RECORD = 16384, /* bytes, quotes taken off */
    CSV_BUFFER = 65536,
};

struct csv {
    FILE *file; /* the caller's */
    const char *name;
    char separator;
    int64_t line;  /* at which the last record began, counted from 1 */
    int32_t count; /* its fields */
    const char *fields[CSV_MAX_FIELDS];
    int64_t read;  /* bytes taken so far */
    char why[320]; /* after a failure: "file:line: what, what is allowed" */
    /* private */
    int64_t next_line;
    size_t at, size;
    size_t length;
    char text[CSV_MAX_RECORD];
    unsigned char buffer[CSV_BUFFER];
};

/* Begins at the file's first byte. `file` and `name` must outlive the reader. */
void csv_init(struct csv *csv, FILE *file, const char *name, char separator);

/* The next record. Returns 1, 0 at the end, -1 with a text in `why`. */
int csv_next(struct csv *csv);

/* Puts "file:line: ..." about the last record into `why`. Returns -1. */
int csv_refuse(struct csv *csv, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
