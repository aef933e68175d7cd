#include "source.h"

#include <errno.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scan.h"

#define FNV_START UINT64_C(0xcbf29ce484222325)
#define FNV_PRIME UINT64_C(0x100000001b3)

/* Room for one more element; false, noted, when memory is out. */
static bool make_room(struct source *source, void **array, size_t *room, size_t need, size_t each)
{
    if (need <= *room)
        return true;
    size_t wanted = need * 2 < 16 ? 16 : need * 2;
    void *larger = realloc(*array, wanted * each);
    if (!larger) {
        source->memory_out = true;
        return false;
    }
    *array = larger;
    *room = wanted;
    return true;
}

void source_complain(struct source *source, int32_t line, bool error, const char *format, ...)
{
    va_list arguments;
    if (source->complaint_count == COMPLAINT_LIMIT)
        return; /* enough to repair; the errors among them stand */
    char position[CONFIG_PATH_SIZE + 16], what[1600], whole[sizeof position + sizeof what + 2];
    void *array = source->complaints;
    bool room = make_room(source, &array, &source->complaint_room, source->complaint_count + 1,
                          sizeof *source->complaints);
    source->complaints = array;
    if (!room)
        return;
    va_start(arguments, format);
    vsnprintf(what, sizeof what, format, arguments);
    va_end(arguments);
    if (line > 0 && source->line_count > 0) {
        if ((size_t)line > source->line_count) /* found at the end of the text */
            line = (int32_t)source->line_count;
        const struct source_line *origin = &source->lines[line - 1];
        snprintf(position, sizeof position, "%s:%d", source->files[origin->file], (int)origin->line);
    } else {
        snprintf(position, sizeof position, "%s", source->file_count ? source->files[0] : "");
    }
    snprintf(whole, sizeof whole, "%s%s%s", line < 0 ? "" : position, line < 0 ? "" : ": ", what);
    char *text = strdup(whole);
    if (!text) {
        source->memory_out = true;
        return;
    }
    int32_t order = (int32_t)source->complaint_count;
    source->complaints[source->complaint_count++] = (struct complaint){ line, order, error, text };
}

static void complain_here(void *self, const char *what)
{
    struct source *source = self;
    source_complain(source, (int32_t)source->line_count, true, "%s", what);
}

static void add_line(struct source *source, int32_t file, int32_t line, const char *bytes, size_t size)
{
    void *lines = source->lines, *text = source->text;
    bool room = make_room(source, &lines, &source->line_room, source->line_count + 1, sizeof *source->lines);
    source->lines = lines;
    room = room && make_room(source, &text, &source->room, source->size + size + 2, 1);
    source->text = text;
    if (!room)
        return;
    source->lines[source->line_count++] = (struct source_line){ file, line };
    memcpy(source->text + source->size, bytes, size);
    source->size += size;
    source->text[source->size++] = '\n';
    source->text[source->size] = '\0';
}

/* The comment line that opens a file's part. */
static void add_heading(struct source *source, int32_t file)
{
    char heading[CONFIG_PATH_SIZE + 16];
    int length = snprintf(heading, sizeof heading, "# file: %s", source->files[file]);
    add_line(source, file, 1, heading, (size_t)length);
}

static int32_t add_file(struct source *source, const char *path)
{
    void *files = source->files;
    bool room = make_room(source, &files, &source->file_room, source->file_count + 1, sizeof *source->files);
    source->files = files;
    if (!room)
        return -1;
    snprintf(source->files[source->file_count], CONFIG_PATH_SIZE, "%s", path);
    return (int32_t)source->file_count++;
}

/* The whole file, heap, or NULL with a complaint at the last line so far. */
static char *read_bytes(struct source *source, const char *path, size_t *size)
{
    int32_t line = source->line_count > 0 ? (int32_t)source->line_count : -1;
    FILE *file = fopen(path, "rb");
    if (!file) {
        source_complain(source, line, true, "cannot open '%s': %s", path, strerror(errno));
        return NULL;
    }
    char *bytes = malloc(SOURCE_LIMIT + 1);
    if (bytes) {
        *size = fread(bytes, 1, SOURCE_LIMIT + 1, file);
        int error = ferror(file) ? errno : 0;
        const char *why = error                        ? strerror(error)
                          : *size > SOURCE_LIMIT       ? "larger than 1 MiB"
                          : memchr(bytes, '\0', *size) ? "holds a NUL byte, only text is allowed"
                                                       : NULL;
        if (why) {
            source_complain(source, line, true, "cannot read '%s': %s", path, why);
            free(bytes);
            bytes = NULL;
        }
    } else {
        source->memory_out = true;
    }
    fclose(file);
    return bytes;
}

static void add_text(struct source *source, const char *path, int depth);

static void add_include(struct source *source, const char *path, const char *name, int depth)
{
    char beside[CONFIG_PATH_SIZE];
    if (name[0] == '\0')
        source_complain(source, (int32_t)source->line_count, true,
                        "this @include is not understood, allowed: a line of its own, @include \"path\"");
    else if (depth + 1 >= SOURCE_DEPTH)
        source_complain(source, (int32_t)source->line_count, true,
                        "'%s' is included too deeply, up to %d files may include one another", name,
                        (int)SOURCE_DEPTH);
    else if (!path_beside(path, name, beside))
        source_complain(source, (int32_t)source->line_count, true,
                        "the path '%s' is too long, up to %d bytes", name, CONFIG_PATH_SIZE - 1);
    else
        add_text(source, beside, depth + 1);
}

static void add_text(struct source *source, const char *path, int depth)
{
    size_t size = 0;
    if (source->size > SOURCE_LIMIT) {
        source_complain(source, (int32_t)source->line_count, true,
                        "'%s' is too much, allowed: 1 MiB with all includes", path);
        return;
    }
    char *bytes = read_bytes(source, path, &size);
    if (!bytes)
        return;
    int32_t file = depth == 0 ? 0 : add_file(source, path);
    if (file < 0) {
        free(bytes);
        return;
    }
    for (size_t i = 0; i < size; i++)
        source->hash = (source->hash ^ (unsigned char)bytes[i]) * FNV_PRIME;
    add_heading(source, file);
    enum scan_state state = SCAN_CODE;
    int32_t line = 1, opened = 0; /* the line of the text in which a string or comment begins */
    for (size_t at = 0; at < size && !source->memory_out; line++) {
        const char *end = memchr(bytes + at, '\n', size - at);
        size_t length = end ? (size_t)(end - bytes) - at : size - at;
        char name[CONFIG_PATH_SIZE];
        if (state == SCAN_CODE && scan_include(bytes + at, length, name)) {
            add_line(source, file, line, "", 0);
            add_include(source, path, name, depth);
        } else {
            add_line(source, file, line, bytes + at, length);
            if (state == SCAN_CODE)
                opened = (int32_t)source->line_count;
            state = scan_line(state, bytes + at, length, complain_here, source);
        }
        at += length + 1;
    }
    if (state != SCAN_CODE)
        source_complain(source, opened, true, "the %s that begins here does not end, allowed: a closing %s",
                        state == SCAN_STRING ? "text" : "comment", state == SCAN_STRING ? "quote" : "*/");
    source->open_end = source->open_end || state != SCAN_CODE;
    free(bytes);
}

void source_read(struct source *source, const char *path)
{
    *source = (struct source){ .hash = FNV_START };
    if (add_file(source, path) == 0)
        add_text(source, path, 0);
    source->scan_count = source->complaint_count;
}

void source_close(struct source *source)
{
    for (size_t i = 0; i < source->complaint_count; i++)
        free(source->complaints[i].text);
    free(source->complaints);
    free(source->files);
    free(source->lines);
    free(source->text);
    *source = (struct source){ 0 };
}

bool source_scan_refused(const struct source *source, int32_t line)
{
    for (size_t i = 0; i < source->scan_count; i++)
        if (source->complaints[i].line == line)
            return true;
    return false;
}

bool source_has_error(const struct source *source)
{
    for (size_t i = 0; i < source->complaint_count; i++)
        if (source->complaints[i].error)
            return true;
    return source->memory_out;
}

static int compare(const void *a, const void *b)
{
    const struct complaint *left = a, *right = b;
    if (left->line != right->line)
        return left->line < right->line ? -1 : 1;
    return left->order < right->order ? -1 : 1;
}

bool source_say(struct source *source, struct problems *problems)
{
    if (source->complaint_count)
        qsort(source->complaints, source->complaint_count, sizeof *source->complaints, compare);
    for (size_t i = 0; i < source->complaint_count; i++) {
        const struct complaint *complaint = &source->complaints[i];
        problems->errors += complaint->error;
        problems->warnings += !complaint->error;
        problems->say(problems->self, complaint->error, complaint->text);
    }
    if (source->memory_out) {
        problems->errors++;
        problems->say(problems->self, true, "out of memory while reading the configuration");
    }
    return !source_has_error(source);
}

void source_hash(const struct source *source, char hash[17])
{
    snprintf(hash, 17, "%016llx", (unsigned long long)source->hash);
}

bool path_beside(const char *file, const char *path, char out[CONFIG_PATH_SIZE])
{
    const char *slash = strrchr(file, '/');
    int directory = path[0] == '/' || !slash ? 0 : (int)(slash - file) + 1;
    return snprintf(out, CONFIG_PATH_SIZE, "%.*s%s", directory, file, path) < CONFIG_PATH_SIZE;
}
