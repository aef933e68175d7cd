#include <stdlib.h>

#include "report_folder.h"
#include "whole_file.h"

static bool write_page(struct inquiry *inquiry, const struct options *options, FILE *out)
{
    struct report *report = calloc(1, sizeof(*report));
    if (!report)
        return report_out_of_memory();
    bool good = report_read(report, inquiry, options) && report_write(report, out);
    report_free(report);
    free(report);
    return good;
}

enum exit_code report_write_out(struct inquiry *inquiry, const struct options *options)
{
    return write_page(inquiry, options, stdout) ? EXIT_ANSWERED : EXIT_RECORD;
}

struct page {
    struct inquiry *inquiry;
    const struct options *options;
};

static bool write_whole(void *self, FILE *out)
{
    const struct page *page = self;
    return write_page(page->inquiry, page->options, out);
}

enum exit_code report_write_file(struct inquiry *inquiry, const struct options *options, const char *path)
{
    struct page page = { inquiry, options };
    return whole_file_write(path, write_whole, &page);
}
