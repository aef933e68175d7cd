/* Data from elsewhere into the record: a trial run over the whole file finds
 * everything that would be refused before anything is written. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "arrangement.h"
#include "command.h"
#include "enter_file.h"
#include "number.h"
#include "progress.h"
#include "refine.h"
#include "session.h"
#include "stamp.h"

enum { MAX_GRID = 64, EVENT_TEXT = 200 };

struct entering {
    struct session session;
    struct store *store;
    struct store_enter *enter;
    struct enter_batch *batch;
    FILE *stream;
    const char *path;
    int64_t size; /* of the file, bytes; 0 unknown */
    struct progress progress;
    int64_t from_s[MAX_GRID], length_s[MAX_GRID];
    struct enter_setup setup;
    struct enter_form form;
    struct enter_file file;
    int64_t placed; /* long spans */
};

static enum exit_code refused(const char *why)
{
    fprintf(stderr, "meterbook: %s\n", why);
    return EXIT_REFUSED;
}

static enum exit_code record_failed(const struct entering *entering, const char *why)
{
    fprintf(stderr, "meterbook: cannot write the record '%s': %s\n", entering->session.database, why);
    return EXIT_RECORD;
}

/* ---- opening ---- */

static enum exit_code read_form(struct entering *entering, const struct options *options)
{
    static const char separators[] = { ',', ';', '\t' };
    struct enter_form *form = &entering->form;
    *form = (struct enter_form){ .separator = separators[options->separator],
                                 .decimal = options->decimal == DECIMAL_COMMA ? ',' : '.',
                                 .stamp_end = options->stamp == STAMP_OF_END,
                                 .same_register = options->same_register,
                                 .order = (enum date_order)options->date_order,
                                 .has_length = options->length != NULL };
    if (!options->length || enter_length_read(&form->length, options->length))
        return EXIT_ANSWERED;
    fprintf(stderr,
            "meterbook: '--length %s': allowed are a number of s, min or h up to a day, as in 15min, and "
            "day, month\n",
            options->length);
    return EXIT_USAGE;
}

static enum exit_code open_stream(struct entering *entering)
{
    struct stat about;
    entering->stream = fopen(entering->path, "r");
    if (entering->stream && fstat(fileno(entering->stream), &about) == 0) {
        if (S_ISREG(about.st_mode)) {
            entering->size = about.st_size;
            return EXIT_ANSWERED;
        }
        errno = S_ISDIR(about.st_mode) ? EISDIR : ESPIPE; /* it is read twice */
    }
    fprintf(stderr, "meterbook: cannot read '%s': %s\n", entering->path, strerror(errno));
    return EXIT_REFUSED;
}

static enum exit_code open_record(struct entering *entering)
{
    char why[256];
    if (store_open(&entering->store, entering->session.database, why) != STORE_OK)
        return record_failed(entering, why);
    if (store_enter_open(&entering->enter, entering->store) != STORE_OK)
        return record_failed(entering, store_why(entering->store));
    int32_t count = store_enter_grid(entering->enter, entering->from_s, entering->length_s, MAX_GRID);
    entering->setup = (struct enter_setup){ .store = entering->store,
                                            .enter = entering->enter,
                                            .civil = entering->session.civil,
                                            .grid = { count, entering->from_s, entering->length_s },
                                            .name = entering->path };
    return count > 0 ? EXIT_ANSWERED : record_failed(entering, "it holds no settings");
}

/* ---- one run over the file ---- */

static int begin_file(struct entering *entering)
{
    clearerr(entering->stream);
    rewind(entering->stream);
    return enter_file_begin(&entering->file, entering->stream, entering->path, &entering->form,
                            entering->session.civil, entering->enter);
}

static enum exit_code failure(struct entering *entering, enum enter_result result)
{
    if (result == ENTER_FAILED)
        return record_failed(entering, store_why(entering->store));
    return refused(enter_batch_why(entering->batch));
}

static enum exit_code run(struct entering *entering, bool trial)
{
    enum enter_result result = ENTER_OK;
    enter_batch_destroy(entering->batch);
    entering->setup.trial = trial;
    entering->batch = enter_batch_create(&entering->setup);
    if (!entering->batch)
        return record_failed(entering, "out of memory");
    int code = begin_file(entering);
    if (code == 0)
        code = enter_file_attach(&entering->file, entering->batch) == 0 ? 1 : -1;
    while (code == 1) {
        code = enter_file_line(&entering->file, entering->batch, &result);
        progress_show(&entering->progress, trial ? "checking" : "entering", entering->file.csv.read,
                      entering->size);
    }
    if (code == 0)
        result = (enum enter_result)enter_batch_finish(entering->batch);
    progress_end(&entering->progress);
    if (code == -1)
        return refused(entering->file.csv.why);
    if (result != ENTER_OK)
        return failure(entering, result);
    return EXIT_ANSWERED;
}

/* ---- what is said ---- */

static const char *const verdict_names[ENTER_VERDICT_COUNT] = {
    [ENTER_NEW] = "new",
    [ENTER_COMPLETED] = "completed",
    [ENTER_REPLACED] = "replaced",
    [ENTER_EQUAL] = "as they stand",
    [ENTER_LOWER] = "lower than what stands, left out",
    [ENTER_DIFFERS] = "as good as what stands but different",
};

static void say_count(int64_t count, const char *what)
{
    char number[NUMBER_SIZE];
    if (count > 0)
        printf("  %12s %s\n", number_print(number, count, 0, 0, ' '), what);
}

static void say_group(const struct entering *entering, const struct enter_group *group)
{
    const struct enter_counts *counts = enter_batch_counts(entering->batch, group->series);
    char number[NUMBER_SIZE];
    printf("\n%s (meter %d), %s\n", group->meter.name, (int)group->meter.number,
           group->energies ? "interval energies" : "counters");
    for (int32_t i = 0; i < group->series->count; i++) {
        const struct quantity_info *info = quantity_info((enum quantity)group->series->counters[i]);
        printf("  %12s %s %s\n", number_print(number, group->series->energy[i], ENERGY_SCALE, 3, ' '),
               info->unit, info->name);
    }
    for (int v = 0; v < ENTER_VERDICT_COUNT; v++)
        say_count(counts->rows[v], verdict_names[v]);
    say_count(counts->spread, "beside them in a gap, spread anew");
    say_count(counts->beyond, "at or after the collector's frontier, left to it");
    say_count(counts->absent, "where the collector's account has no interval, left out");
    say_count(group->series->rejected, "readings out of line, left out");
    say_count(counts->days, "days summed anew");
}

static void report(const struct entering *entering, bool dry)
{
    char from[STAMP_SIZE], to[STAMP_SIZE];
    const struct enter_file *file = &entering->file;
    if (file->lines == 0) {
        printf("%s: no lines of data\n", entering->path);
        return;
    }
    printf("%s: %lld lines, %s to %s\n", entering->path, (long long)file->lines,
           stamp_rfc3339(from, entering->session.civil, file->first_ms / 1000),
           stamp_rfc3339(to, entering->session.civil, file->last_ms / 1000));
    if (enter_file_has_energies(file) && file->form.length.seconds > 0)
        printf("intervals of %lld s%s\n", (long long)file->form.length.seconds,
               file->form.has_length ? "" : ", as between the first two lines");
    say_count(file->repeated, "lines that repeat the one before, left out");
    for (int32_t i = 0; i < file->group_count; i++)
        say_group(entering, &file->groups[i]);
    if (entering->placed > 0)
        putchar('\n');
    say_count(entering->placed, "spans of over two hours placed along a shape");
    if (dry)
        puts("\ndry run: nothing was written");
    if (enter_batch_rejected(entering->batch)[0])
        fprintf(stderr, "meterbook: %s\n", enter_batch_rejected(entering->batch));
}

static int64_t changes(const struct entering *entering, const struct enter_group *group)
{
    const struct enter_counts *counts = enter_batch_counts(entering->batch, group->series);
    return counts->rows[ENTER_NEW] + counts->rows[ENTER_COMPLETED] + counts->rows[ENTER_REPLACED];
}

/* What came from where, for whoever reads the record later. */
static enum exit_code note_events(struct entering *entering)
{
    const char *name = strrchr(entering->path, '/');
    int result = store_begin(entering->store);
    for (int32_t i = 0; i < entering->file.group_count && result == STORE_OK; i++) {
        const struct enter_group *group = &entering->file.groups[i];
        char text[EVENT_TEXT];
        snprintf(text, sizeof(text), "%s from '%.100s'", group->energies ? "interval energies" : "counters",
                 name ? name + 1 : entering->path);
        if (changes(entering, group) > 0)
            result = store_add_event(entering->store, entering->session.now_ms, "", 0, "entered",
                                     group->meter.number, NULL, changes(entering, group), text);
    }
    if (result == STORE_OK)
        result = store_commit(entering->store);
    else
        store_rollback(entering->store);
    return result == STORE_OK ? EXIT_ANSWERED : record_failed(entering, store_why(entering->store));
}

/* ---- long spans ---- */

/* Those of meters that produce, or of the others: what a grid meter counts follows from production. */
static int place_spans(struct entering *entering, struct refine *refine, bool producing)
{
    const struct config *config = entering->session.config;
    int32_t count;
    int result = 0;
    const struct enter_span *spans = enter_batch_spans(entering->batch, &count);
    for (int32_t i = 0; i < count && result >= 0; i++)
        for (int32_t m = 0; m < config->meter_count && result >= 0; m++)
            if (config->meters[m].number == spans[i].meter &&
                arrangement_produces(config, &config->meters[m]) == producing) {
                result = refine_entered(refine, m, spans[i].from_s, spans[i].to_s);
                entering->placed += result == 1;
            }
    return result;
}

/* What is known over more than two hours by its sum only gets the shape of a
 * gap. The configuration says what shape a meter has. */
static enum exit_code place(struct entering *entering)
{
    struct refine *refine = calloc(1, sizeof(*refine));
    const struct config *config = entering->session.config;
    if (!refine || !config) {
        free(refine);
        return EXIT_ANSWERED;
    }
    int result = refine_init(refine, entering->store, config, entering->session.civil);
    if (result == STORE_OK)
        result = place_spans(entering, refine, true);
    if (result >= 0)
        result = place_spans(entering, refine, false);
    refine_finish(refine);
    free(refine);
    return result < 0 ? record_failed(entering, store_why(entering->store)) : EXIT_ANSWERED;
}

/* ---- the command ---- */

static enum exit_code measure(struct entering *entering)
{
    if (begin_file(entering) != 0 || enter_file_measure(&entering->file) != 0)
        return refused(entering->file.csv.why);
    entering->form.length = entering->file.form.length;
    return EXIT_ANSWERED;
}

static enum exit_code enter(struct entering *entering, const struct options *options)
{
    entering->setup.replace = options->replace;
    entering->setup.fit = options->fit;
    enum exit_code code = measure(entering);
    if (code == EXIT_ANSWERED)
        code = run(entering, true);
    if (code != EXIT_ANSWERED)
        return code;
    bool differs = enter_batch_differing(entering->batch) > 0;
    if (differs || options->dry_run) {
        report(entering, options->dry_run);
        if (!differs)
            return EXIT_ANSWERED;
        refused(enter_batch_why(entering->batch));
        fputs("meterbook: nothing was written\n", stderr);
        return EXIT_REFUSED;
    }
    code = run(entering, false);
    if (code == EXIT_ANSWERED)
        code = place(entering);
    if (code == EXIT_ANSWERED)
        code = note_events(entering);
    if (code == EXIT_ANSWERED)
        report(entering, false);
    return code;
}

static void finish(struct entering *entering)
{
    enter_batch_destroy(entering->batch);
    store_enter_close(entering->enter);
    store_close(entering->store);
    session_close(&entering->session);
    if (entering->stream)
        fclose(entering->stream);
    free(entering);
}

enum exit_code cmd_enter(const struct options *options, const char *const *arguments)
{
    struct entering *entering = calloc(1, sizeof(*entering));
    if (!arguments[0] || options->format != FORMAT_TABLE) {
        fputs(arguments[0] ? "meterbook: enter has no other form than a table\n"
                           : "meterbook: enter needs a FILE.csv, see 'meterbook enter --help'\n",
              stderr);
        free(entering);
        return EXIT_USAGE;
    }
    if (!entering) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    entering->path = arguments[0];
    progress_begin(&entering->progress);
    enum exit_code code = read_form(entering, options);
    if (code == EXIT_ANSWERED)
        code = session_open(&entering->session, options);
    if (code == EXIT_ANSWERED)
        code = open_stream(entering);
    if (code == EXIT_ANSWERED)
        code = open_record(entering);
    if (code == EXIT_ANSWERED)
        code = enter(entering, options);
    finish(entering);
    return code;
}
