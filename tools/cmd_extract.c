/* Interval data of a span as files for other programs. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "command.h"
#include "extract.h"
#include "history.h"
#include "inquiry.h"
#include "stamp.h"
#include "whole_file.h"

enum { BUFFER_SIZE = 1 << 16 };

struct work {
    const struct options *options;
    struct session session;
    struct site site;
    struct extract extract;
};

static enum exit_code find_meter(struct work *work)
{
    struct extract *extract = &work->extract;
    struct history history;
    const char *wanted = work->options->meter;
    if (!wanted)
        return EXIT_ANSWERED;
    query_begin(extract->query);
    int code = history_read(&history, extract->query, INT64_MIN / 2, INT64_MAX / 2);
    query_end(extract->query);
    for (int32_t a = 0; code == 0 && a < history.count; a++)
        for (int32_t m = 0; m < history.arrangements[a].meter_count; m++) {
            const struct arranged_meter *meter = &history.arrangements[a].meters[m];
            char number[16];
            snprintf(number, sizeof(number), "%d", meter->number);
            if (strcmp(meter->name, wanted) == 0 || strcmp(number, wanted) == 0)
                extract->meter = meter->number;
        }
    history_free(&history);
    if (code != 0)
        return session_failed(&work->session);
    if (extract->meter)
        return EXIT_ANSWERED;
    fprintf(stderr, "meterbook: '--meter %s': no meter of the record has that name or number\n", wanted);
    return EXIT_USAGE;
}

static enum exit_code read_span(struct work *work, const char *word)
{
    struct extract *extract = &work->extract;
    struct period reach = inquiry_reach(&work->session);
    const char *allowed = period_any(&extract->period, word, work->session.today, &reach);
    if (allowed) {
        fprintf(stderr, "meterbook: '%s': %s\n", word, allowed);
        return EXIT_USAGE;
    }
    extract->from_s = civil_day_start(extract->civil, extract->period.from_day);
    extract->to_s = civil_day_start(extract->civil, extract->period.to_day);
    return EXIT_ANSWERED;
}

static bool write_form(struct work *work, FILE *out)
{
    progress_begin(&work->extract.progress);
    bool good = work->options->as == EXTRACT_ESPI ? extract_espi(&work->extract, out)
                                                  : extract_csv(&work->extract, out);
    progress_end(&work->extract.progress);
    return good;
}

static bool write_whole(void *self, FILE *out)
{
    struct work *work = self;
    return write_form(work, out) || (session_failed(&work->session), false);
}

static enum exit_code write_package(struct work *work)
{
    char why[EXTRACT_WHY_SIZE];
    if (!work->options->output) {
        fputs("meterbook: a package is a folder: name it with --output\n", stderr);
        return EXIT_USAGE;
    }
    progress_begin(&work->extract.progress);
    bool good = extract_package(&work->extract, work->options->output, why);
    progress_end(&work->extract.progress);
    if (good)
        return EXIT_ANSWERED;
    fprintf(stderr, "meterbook: %s\n", why);
    return query_error(work->extract.query) ? EXIT_RECORD : EXIT_OUTPUT;
}

static enum exit_code write_answer(struct work *work)
{
    if (work->options->as == EXTRACT_PACKAGE)
        return write_package(work);
    if (work->options->output && strcmp(work->options->output, "-") != 0)
        return whole_file_write(work->options->output, write_whole, work);
    setvbuf(stdout, NULL, _IOFBF, BUFFER_SIZE);
    return write_form(work, stdout) ? EXIT_ANSWERED : session_failed(&work->session);
}

/* What not everybody will see who reads the figures alone. */
static void say_marked(const struct extract *extract)
{
    const struct {
        int64_t count;
        const char *what;
    } marked[] = { { extract->estimated, "hold estimated energy" },
                   { extract->entered, "were entered from elsewhere" },
                   { extract->corrected, "were corrected by the logbook" } };
    for (size_t i = 0; i < sizeof(marked) / sizeof(marked[0]); i++)
        if (marked[i].count > 0)
            fprintf(stderr, "meterbook: %" PRId64 " of %" PRId64 " values %s, and are marked so\n",
                    marked[i].count, extract->rows, marked[i].what);
}

static enum exit_code run(struct work *work, const char *word)
{
    struct extract *extract = &work->extract;
    *extract = (struct extract){ .query = work->session.query,
                                 .civil = work->session.civil,
                                 .now_s = work->session.now_ms / 1000 };
    query_begin(extract->query);
    query_site(extract->query, &work->site);
    query_end(extract->query);
    if (query_error(extract->query))
        return session_failed(&work->session);
    extract->site = work->site.name;
    extract->zone = work->site.zone;
    enum exit_code code = read_span(work, word ? word : "all");
    if (code == EXIT_ANSWERED)
        code = find_meter(work);
    if (code != EXIT_ANSWERED)
        return code;
    code = write_answer(work);
    say_marked(extract);
    if (code == EXIT_ANSWERED && extract->rows == 0) {
        fputs("meterbook: the record holds nothing of that span\n", stderr);
        return EXIT_NO_DATA;
    }
    return code;
}

enum exit_code cmd_extract(const struct options *options, const char *const *arguments)
{
    if (options->format == FORMAT_JSON) {
        fputs("meterbook: 'extract' has no json: '--as' csv, espi or package\n", stderr);
        return EXIT_USAGE;
    }
    struct work *work = calloc(1, sizeof(*work));
    if (!work)
        return EXIT_RECORD;
    work->options = options;
    enum exit_code code = session_open(&work->session, options);
    if (code == EXIT_ANSWERED)
        code = run(work, arguments[0]);
    session_close(&work->session);
    free(work);
    return code;
}
