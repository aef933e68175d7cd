/* The text of a settings file, with every @include put in its place, and what
 * there is to complain about in it.
 *
 * libconfig's own @include looks in the working directory and its errors lack
 * a file name, it cuts whole numbers to 32 bits without a word, and reads 010
 * as ten in one version and as eight in the next. So the files are read and
 * looked through here; libconfig gets one text, and `lines` says where each of
 * its lines stands. */
#ifndef METERBOOK_SOURCE_H
#define METERBOOK_SOURCE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "config.h"

enum { SOURCE_LIMIT = 1024 * 1024, SOURCE_DEPTH = 8, COMPLAINT_LIMIT = 500 };

struct source_line {
    int32_t file, line; /* index in files; from 1 */
};

struct complaint {
    int32_t line;  /* of the text, from 1; 0 = the file as a whole; -1 = the file cannot be read */
    int32_t order; /* among complaints */
    bool error;
    char *text;
};

struct source {
    char *text; /* NUL-terminated; each file's part begins with a comment that names it */
    size_t size, room;
    uint64_t hash;
    struct source_line *lines;
    size_t line_count, line_room;
    char (*files)[CONFIG_PATH_SIZE];
    size_t file_count, file_room;
    struct complaint *complaints;
    size_t complaint_count, complaint_room;
    size_t scan_count; /* complaints of source_read() itself: numbers and includes */
    bool open_end;     /* a text or comment does not end: there is no sense in parsing */
    bool memory_out;
};

/* Reads the file and what it includes; included paths are relative to the
 * directory of the file that names them. Problems become complaints. `source`
 * is overwritten; give it to source_close() whatever happens. */
void source_read(struct source *source, const char *path);
void source_close(struct source *source);

/* Notes a problem at a line of the text. */
void source_complain(struct source *source, int32_t line, bool error, const char *format, ...)
    __attribute__((format(printf, 4, 5)));
/* Did source_read() complain of this line? Then a number in it is not what it seems. */
bool source_scan_refused(const struct source *source, int32_t line);
bool source_has_error(const struct source *source);

/* Says all complaints in the order of the text. Returns false where one of
 * them is an error or memory was out. */
bool source_say(struct source *source, struct problems *problems);

/* FNV-1a, 64 bit, of all bytes read, as 16 hex digits. */
void source_hash(const struct source *source, char hash[17]);

/* The path, or, where it is relative, the path beside `file`. False where it is too long. */
bool path_beside(const char *file, const char *path, char out[CONFIG_PATH_SIZE]);

#endif
