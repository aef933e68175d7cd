#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "report_folder.h"

enum { BUFFER_SIZE = 1 << 16 };

static bool write_page(struct inquiry *inquiry, FILE *out)
{
    struct report *report = calloc(1, sizeof(*report));
    if (!report)
        return report_out_of_memory();
    setvbuf(out, NULL, _IOFBF, BUFFER_SIZE);
    bool good = report_read(report, inquiry) && report_write(report, out);
    report_free(report);
    free(report);
    return good;
}

enum exit_code report_write_out(struct inquiry *inquiry)
{
    return write_page(inquiry, stdout) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code report_write_file(struct inquiry *inquiry, const char *path)
{
    char part[REPORT_PATH_SIZE];
    FILE *out = snprintf(part, sizeof(part), "%s.part", path) < REPORT_PATH_SIZE ? fopen(part, "w") : NULL;
    if (!out) {
        fprintf(stderr, "meterbook: cannot make '%s.part': %s\n", path, strerror(errno));
        return EXIT_OUTPUT;
    }
    errno = 0;
    bool read = write_page(inquiry, out);
    bool written = !ferror(out) && fflush(out) == 0 && fsync(fileno(out)) == 0;
    int code = errno;
    written = fclose(out) == 0 && written;
    if (read && written && rename(part, path) == 0)
        return EXIT_ANSWERED;
    if (read)
        fprintf(stderr, "meterbook: cannot write '%s': %s\n", path, strerror(code ? code : errno));
    unlink(part);
    return read ? EXIT_OUTPUT : EXIT_RECORD;
}
