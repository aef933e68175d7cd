#include "whole_file.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

enum { PATH_SIZE = 1024, BUFFER_SIZE = 1 << 16 };

enum exit_code whole_file_write(const char *path, bool (*write)(void *self, FILE *out), void *self)
{
    char part[PATH_SIZE];
    FILE *out = snprintf(part, sizeof(part), "%s.part", path) < PATH_SIZE ? fopen(part, "w") : NULL;
    if (!out) {
        fprintf(stderr, "meterbook: cannot make '%s.part': %s\n", path, strerror(errno));
        return EXIT_OUTPUT;
    }
    setvbuf(out, NULL, _IOFBF, BUFFER_SIZE);
    errno = 0;
    bool read = write(self, out);
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
