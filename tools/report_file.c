#include <stdlib.h>

#include "report_folder.h"
#include "whole_file.h"

static bool write_page(struct inquiry *inquiry, FILE *out)
{
    struct report *report = calloc(1, sizeof(*report));
    if (!report)
        return report_out_of_memory();
    bool good = report_read(report, inquiry) && report_write(report, out);
    report_free(report);
    free(report);
    return good;
}

enum exit_code report_write_out(struct inquiry *inquiry)
{
    return write_page(inquiry, stdout) ? EXIT_ANSWERED : EXIT_RECORD;
}

static bool write_whole(void *self, FILE *out)
{
    return write_page(self, out);
}

enum exit_code report_write_file(struct inquiry *inquiry, const char *path)
{
    return whole_file_write(path, write_whole, inquiry);
}
