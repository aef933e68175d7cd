#include "report_folder.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "html.h"
#include "page.h"

enum { WORD_SIZE = 16, MOST_WORDS = 5, MOST_PAGES = 2000, FRESH_S = 20 * 3600 };

/* Which pages: named by the words of their spans, those that the record reaches into. */
struct words {
    int32_t count;
    char word[MOST_WORDS][WORD_SIZE];
    char month[WORD_SIZE]; /* this one */
    char site[CONFIG_NAME_SIZE];
};

static void add_word(struct words *words, const struct period *reach, const char *word)
{
    struct period period;
    if (period_any(&period, word, reach->from_day, reach) || period.to_day <= reach->from_day ||
        period.from_day >= reach->to_day)
        return;
    snprintf(words->word[words->count++], WORD_SIZE, "%s", word);
}

static void choose_words(struct words *words, struct session *session)
{
    char word[WORD_SIZE];
    int32_t year, month, day;
    struct site site;
    struct period reach = inquiry_reach(session);
    civil_date(session->today, &year, &month, &day);
    add_word(words, &reach, "all");
    for (int32_t y = year; y > year - 2; y--) {
        snprintf(word, sizeof(word), "%04d", y % 10000);
        add_word(words, &reach, word);
    }
    for (int32_t i = 0; i < 2; i++) {
        snprintf(word, sizeof(word), "%04d-%02d", year % 10000, month % 100);
        add_word(words, &reach, word);
        if (i == 0)
            snprintf(words->month, sizeof(words->month), "%s", word);
        year -= month == 1;
        month = month == 1 ? 12 : month - 1;
    }
    query_begin(session->query);
    if (query_site(session->query, &site))
        snprintf(words->site, sizeof(words->site), "%s", site.name);
    query_end(session->query);
}

/* Was it written within the day? Of a page over years one is enough, and it takes a while. */
static bool is_fresh(const char *path)
{
    struct stat page;
    time_t now = time(NULL);
    return stat(path, &page) == 0 && page.st_mtime <= now && now - page.st_mtime < FRESH_S;
}

static enum exit_code write_one(const struct options *options, const char *folder, const char *word,
                                bool always)
{
    char path[REPORT_PATH_SIZE];
    struct inquiry inquiry;
    snprintf(path, sizeof(path), "%.*s/%s.html", REPORT_PATH_SIZE - 32, folder, word);
    if (!always && is_fresh(path))
        return EXIT_ANSWERED;
    enum exit_code code = inquiry_open(&inquiry, options, word, word);
    if (code == EXIT_ANSWERED)
        code = report_write_file(&inquiry, options, path);
    inquiry_close(&inquiry);
    return code == EXIT_NO_DATA ? EXIT_ANSWERED : code;
}

/* ---- the list of pages ---- */

/* Is it a page of ours: a span's word and ".html"? Returns the length of the word. */
static size_t page_word(const char *name)
{
    struct period period, reach = { 0, 1 };
    char word[WORD_SIZE];
    const char *dot = strrchr(name, '.');
    size_t length = dot && strcmp(dot, ".html") == 0 ? (size_t)(dot - name) : 0;
    if (length == 0 || length >= WORD_SIZE)
        return 0;
    memcpy(word, name, length);
    word[length] = '\0';
    bool relative = strcmp(word, "today") == 0 || strcmp(word, "yesterday") == 0;
    return relative || period_any(&period, word, 0, &reach) ? 0 : length;
}

/* All time, then years and, under each, its months. */
static int compare_names(const void *a, const void *b)
{
    const char *first = a, *second = b;
    bool first_all = strncmp(first, "all", 3) == 0, second_all = strncmp(second, "all", 3) == 0;
    if (first_all != second_all)
        return first_all ? -1 : 1;
    return strcmp(first, second);
}

static int32_t list_pages(const char *folder, char (*names)[WORD_SIZE])
{
    int32_t count = 0;
    DIR *directory = opendir(folder);
    for (struct dirent *entry; directory && count < MOST_PAGES && (entry = readdir(directory));) {
        size_t length = page_word(entry->d_name);
        if (length > 0)
            snprintf(names[count++], WORD_SIZE, "%.*s", (int)length, entry->d_name);
    }
    if (directory)
        closedir(directory);
    qsort(names, (size_t)count, sizeof(*names), compare_names);
    return count;
}

static void print_index(FILE *out, const char *site, int32_t count, char (*names)[WORD_SIZE])
{
    struct period period, reach = { 0, 1 };
    char span[WORDS_SIZE];
    page_open(out, site);
    fputs("<header><h1>", out);
    html_text(out, site);
    fputs("</h1></header>\n<main><ul class=\"pages\">\n", out);
    for (int32_t i = 0; i < count; i++) {
        period_any(&period, names[i], 0, &reach);
        fprintf(out, "<li><a href=\"%s.html\">%s</a></li>\n", names[i],
                strcmp(names[i], "all") == 0 ? "all time" : words_period(span, &period));
    }
    fputs("</ul></main>\n", out);
    page_close(out);
}

static enum exit_code write_index(const char *folder, const char *site)
{
    char part[REPORT_PATH_SIZE], path[REPORT_PATH_SIZE];
    char(*names)[WORD_SIZE] = calloc(MOST_PAGES, sizeof(*names));
    snprintf(path, sizeof(path), "%.*s/index.html", REPORT_PATH_SIZE - 32, folder);
    snprintf(part, sizeof(part), "%.*s/index.html.part", REPORT_PATH_SIZE - 32, folder);
    FILE *out = names ? fopen(part, "w") : NULL;
    if (out)
        print_index(out, site, list_pages(folder, names), names);
    bool good = out && !ferror(out) && fflush(out) == 0 && fsync(fileno(out)) == 0;
    good = out && fclose(out) == 0 && good && rename(part, path) == 0;
    free(names);
    if (good)
        return EXIT_ANSWERED;
    fprintf(stderr, "meterbook: cannot write '%s': %s\n", path, strerror(errno));
    return EXIT_OUTPUT;
}

enum exit_code report_write_folder(const struct options *options, const char *folder)
{
    struct session session;
    struct words words = { 0 };
    enum exit_code code = session_open(&session, options);
    if (code == EXIT_ANSWERED)
        choose_words(&words, &session);
    session_close(&session);
    for (int32_t i = 0; i < words.count && code == EXIT_ANSWERED; i++)
        code = write_one(options, folder, words.word[i], strcmp(words.word[i], words.month) == 0);
    return code == EXIT_ANSWERED ? write_index(folder, words.site) : code;
}
