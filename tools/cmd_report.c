/* A page of pictures over a span. */
#include <string.h>

#include "report_folder.h"

enum exit_code cmd_report(const struct options *options, const char *const *arguments)
{
    struct inquiry inquiry;
    if (options->format != FORMAT_TABLE) {
        fputs("meterbook: '--format' of report: a page has one form, other commands have its figures as csv "
              "and json\n",
              stderr);
        return EXIT_USAGE;
    }
    if (options->folder && (arguments[0] || options->output)) {
        fputs("meterbook: '--folder' writes pages of its own: it takes no span and no --output\n", stderr);
        return EXIT_USAGE;
    }
    if (options->folder)
        return report_write_folder(options, options->folder);
    enum exit_code code = inquiry_open(&inquiry, options, arguments[0], "all");
    if (code == EXIT_ANSWERED)
        code = options->output && strcmp(options->output, "-") != 0
                   ? report_write_file(&inquiry, options, options->output)
                   : report_write_out(&inquiry, options);
    inquiry_close(&inquiry);
    return code;
}
