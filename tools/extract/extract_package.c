/* A folder of tables and its descriptor: Data Package and Table Schema, Frictionless open standard,
 * version 1. */
#include <errno.h>
#include <stdarg.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "extract_tables.h"
#include "stamp.h"
#include "text.h"

enum { PATH_SIZE = 512, NAME_SIZE = 64, BUFFER_SIZE = 1 << 16 };

static bool fail(char why[EXTRACT_WHY_SIZE], const char *format, ...) __attribute__((format(printf, 2, 3)));

static bool fail(char why[EXTRACT_WHY_SIZE], const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(why, EXTRACT_WHY_SIZE, format, arguments);
    va_end(arguments);
    return false;
}

/* Writes a file and says how long it came to be; what a full disk did not take is an error here. */
static bool finish(FILE *file, const char *path, long *size, char why[EXTRACT_WHY_SIZE])
{
    bool good = !ferror(file) && fflush(file) == 0 && fsync(fileno(file)) == 0;
    int code = errno;
    *size = ftell(file);
    if (fclose(file) != 0 && good) {
        good = false;
        code = errno;
    }
    return good || fail(why, "cannot write '%s': %s", path, strerror(code));
}

static FILE *create(char path[PATH_SIZE], const char *folder, const char *name, char why[EXTRACT_WHY_SIZE])
{
    int length = snprintf(path, PATH_SIZE, "%s/%s", folder, name);
    FILE *file = length < PATH_SIZE ? fopen(path, "wx") : NULL;
    if (!file)
        fail(why, "cannot make '%s/%s': %s", folder, name,
             length < PATH_SIZE ? strerror(errno) : "its name is too long");
    return file;
}

static bool write_table(struct extract *extract, const struct extract_table *table, const char *folder,
                        long *size, char why[EXTRACT_WHY_SIZE])
{
    char path[PATH_SIZE], name[NAME_SIZE];
    snprintf(name, sizeof(name), "%s.csv", table->name);
    FILE *file = create(path, folder, name, why);
    if (!file)
        return false;
    field_heads(file, table->fields, *table->field_count);
    bool read = table->write(extract, file);
    bool written = finish(file, path, size, why);
    if (!read) {
        const char *error = query_error(extract->query);
        return fail(why, "%s", error ? error : "out of memory");
    }
    return written;
}

/* ---- the descriptor ---- */

/* Names are of a to z, digits, '-', '_' and '.'. */
static void put_name(FILE *out, const char *site)
{
    bool any = false;
    fputs("\"meterbook-", out);
    for (; *site; site++) {
        bool letter = (*site >= 'a' && *site <= 'z') || (*site >= '0' && *site <= '9');
        bool upper = *site >= 'A' && *site <= 'Z';
        if (letter || upper)
            putc(upper ? *site - 'A' + 'a' : *site, out);
        else if (any && site[1])
            putc('-', out);
        any = true;
    }
    putc('"', out);
}

static void put_pair(FILE *out, const char *indent, const char *key, const char *text, const char *end)
{
    fprintf(out, "%s\"%s\": ", indent, key);
    text_json(out, text);
    fputs(end, out);
}

static void put_field(FILE *out, const struct field *field)
{
    static const char *const types[] = { [FIELD_DATETIME] = "datetime",
                                         [FIELD_DATE] = "date",
                                         [FIELD_INTEGER] = "integer",
                                         [FIELD_NUMBER] = "number",
                                         [FIELD_TEXT] = "string" };
    fprintf(out, "            { \"name\": \"%s\", \"type\": \"%s\"", field->name, types[field->type]);
    if (field->type == FIELD_DATETIME)
        fputs(", \"format\": \"%Y-%m-%dT%H:%M:%S%z\"", out);
    if (*field->unit)
        fprintf(out, ", \"unit\": \"%s\"", field->unit);
    if (field->quantity < QUANTITY_COUNT && *quantity_info(field->quantity)->obis)
        fprintf(out, ", \"obis\": \"1-0:%s\"", quantity_info(field->quantity)->obis);
    put_pair(out, ", ", "description", field->description, " }");
}

static void put_key(FILE *out, const char *const *names)
{
    if (!names[0])
        return;
    fputs(",\n          \"primaryKey\": [", out);
    for (int32_t i = 0; names[i]; i++)
        fprintf(out, "%s\"%s\"", i ? ", " : "", names[i]);
    fputs("]", out);
}

static void put_table(FILE *out, const struct extract_table *table, long size)
{
    fprintf(out, "    {\n      \"name\": \"%s\",\n      \"path\": \"%s.csv\",\n", table->name, table->name);
    fputs("      \"profile\": \"tabular-data-resource\",\n", out);
    put_pair(out, "      ", "title", table->title, ",\n");
    put_pair(out, "      ", "description", table->description, ",\n");
    fprintf(out,
            "      \"format\": \"csv\",\n      \"mediatype\": \"text/csv\",\n      \"encoding\": \"utf-8\",\n"
            "      \"bytes\": %ld,\n",
            size);
    fputs(
        "      \"dialect\": { \"delimiter\": \",\", \"lineTerminator\": \"\\r\\n\", \"quoteChar\": \"\\\"\", "
        "\"doubleQuote\": true, \"header\": true },\n      \"schema\": {\n          \"fields\": [\n",
        out);
    for (int32_t i = 0; i < *table->field_count; i++) {
        put_field(out, &table->fields[i]);
        fputs(i + 1 < *table->field_count ? ",\n" : "\n", out);
    }
    fputs("          ],\n          \"missingValues\": [\"\"]", out);
    put_key(out, table->primary_key);
    fputs("\n      }\n    }", out);
}

static void put_descriptor(struct extract *extract, FILE *out, const long *sizes)
{
    char from[STAMP_SIZE], to[STAMP_SIZE], made[STAMP_SIZE];
    stamp_rfc3339(from, extract->civil, extract->from_s);
    stamp_rfc3339(to, extract->civil, extract->to_s);
    stamp_rfc3339(made, extract->civil, extract->now_s);
    fputs("{\n  \"profile\": \"tabular-data-package\",\n  \"name\": ", out);
    put_name(out, extract->site);
    fputs(",\n", out);
    put_pair(out, "  ", "title", extract->site, ",\n");
    put_pair(out, "  ", "created", made, ",\n");
    put_pair(out, "  ", "description",
             "Energy account of a site by meter and interval. Energies are differences of the meters' own "
             "counters; import is energy from the grid to the site. Intervals are named by their start.",
             ",\n");
    put_pair(out, "  ", "time_zone", extract->zone, ",\n");
    put_pair(out, "  ", "from", from, ",\n");
    put_pair(out, "  ", "to", to, ",\n");
    fputs("  \"sources\": [ { \"title\": \"record of meterbookd, extracted by meterbook " METERBOOK_VERSION
          "\" } ],\n  \"resources\": [\n",
          out);
    for (int32_t i = 0; i < extract_table_count; i++) {
        put_table(out, &extract_tables[i], sizes[i]);
        fputs(i + 1 < extract_table_count ? ",\n" : "\n", out);
    }
    fputs("  ]\n}\n", out);
}

bool extract_package(struct extract *extract, const char *folder, char why[EXTRACT_WHY_SIZE])
{
    long sizes[16], size;
    char path[PATH_SIZE];
    _Static_assert(sizeof(sizes) / sizeof(sizes[0]) >= 5, "a size for each table");
    if (mkdir(folder, 0755) != 0)
        return fail(why, "cannot make the folder '%s': %s", folder, strerror(errno));
    for (int32_t i = 0; i < extract_table_count; i++)
        if (!write_table(extract, &extract_tables[i], folder, &sizes[i], why))
            return false;
    /* last: a folder without it was not finished */
    FILE *file = create(path, folder, "datapackage.json", why);
    if (!file)
        return false;
    put_descriptor(extract, file, sizes);
    return finish(file, path, &size, why);
}
