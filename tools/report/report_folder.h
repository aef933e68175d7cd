/* Pages for a web server: this month and year, those before them, all time, and a list of what is there. */
#ifndef METERBOOK_REPORT_FOLDER_H
#define METERBOOK_REPORT_FOLDER_H

#include "command.h"
#include "inquiry.h"
#include "report.h"

enum { REPORT_PATH_SIZE = 4096 };

/* Reads the span of an open inquiry and writes its page to a file: under a name beside it, and onto it when
 * all is there, so that who reads it never sees half of one. What fails is said on stderr. */
enum exit_code report_write_file(struct inquiry *inquiry, const struct options *options, const char *path);

/* The same on stdout. */
enum exit_code report_write_out(struct inquiry *inquiry, const struct options *options);

/* Writes the pages that the record reaches into a folder that exists, that of this month each time, the
 * others where theirs is 20 hours old; then index.html over all pages in it: pages of older months stay. */
enum exit_code report_write_folder(const struct options *options, const char *folder);

#endif
