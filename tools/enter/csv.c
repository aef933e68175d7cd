#include "csv.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>

void csv_init(struct csv *csv, FILE *file, const char *name, char separator)
{
    csv->file = file;
    csv->name = name;
    csv->separator = separator;
    csv->line = csv->read = 0;
    csv->next_line = 1;
    csv->count = 0;
    csv->at = csv->size = csv->length = 0;
    csv->why[0] = '\0';
}

int csv_refuse(struct csv *csv, const char *format, ...)
{
    int n = snprintf(csv->why, sizeof(csv->why), "%s:%lld: ", csv->name, (long long)csv->line);
    va_list arguments;
    va_start(arguments, format);
    if (n > 0 && (size_t)n < sizeof(csv->why))
        vsnprintf(csv->why + n, sizeof(csv->why) - (size_t)n, format, arguments);
    va_end(arguments);
    return -1;
}

static int fill(struct csv *csv)
{
    csv->size = fread(csv->buffer, 1, sizeof(csv->buffer), csv->file);
    csv->at = 0;
    return csv->size > 0 ? 0 : EOF;
}

static int peek(struct csv *csv)
{
    if (csv->at == csv->size && fill(csv) == EOF)
        return EOF;
    return csv->buffer[csv->at];
}

static void take(struct csv *csv)
{
    csv->at++;
    csv->read++;
}

static bool put(struct csv *csv, int byte)
{
    if (csv->length == sizeof(csv->text))
        return false;
    csv->text[csv->length++] = (char)byte;
    return true;
}

static int too_long(struct csv *csv)
{
    return csv_refuse(csv, "the line is too long, up to %d bytes are allowed", CSV_MAX_RECORD - 1);
}

/* After the opening quote, up to and with the closing one. */
static int read_quoted(struct csv *csv)
{
    for (;;) {
        int byte = peek(csv);
        if (byte == EOF)
            return csv_refuse(csv, "a quoted field does not end, a closing \" is missing");
        take(csv);
        if (byte == '\n')
            csv->next_line++;
        if (byte == '"') {
            if (peek(csv) != '"')
                return 0;
            take(csv);
        }
        if (byte == '\0')
            return csv_refuse(csv, "a zero byte in the text, is it a text file?");
        if (!put(csv, byte))
            return too_long(csv);
    }
}

static bool ends_field(const struct csv *csv, int byte)
{
    return byte == EOF || byte == '\n' || byte == '\r' || byte == csv->separator;
}

static int read_field(struct csv *csv)
{
    if (peek(csv) == '"') {
        take(csv);
        if (read_quoted(csv) != 0)
            return -1;
        return ends_field(csv, peek(csv)) ? 0 : csv_refuse(csv, "text after a closing quote");
    }
    for (int byte = peek(csv); !ends_field(csv, byte); byte = peek(csv)) {
        take(csv);
        if (byte == '"')
            return csv_refuse(csv, "a quote inside a field that does not begin with one");
        if (byte == '\0')
            return csv_refuse(csv, "a zero byte in the text, is it a text file?");
        if (!put(csv, byte))
            return too_long(csv);
    }
    return 0;
}

static int end_line(struct csv *csv)
{
    if (peek(csv) == '\r') {
        take(csv);
        if (peek(csv) != '\n' && peek(csv) != EOF)
            return csv_refuse(csv, "a carriage return inside the line, lines end with LF or CR LF");
    }
    if (peek(csv) == '\n')
        take(csv);
    csv->next_line++;
    return 0;
}

static void skip_mark(struct csv *csv)
{
    if (csv->read == 0 && peek(csv) == 0xef && csv->size >= 3 && csv->buffer[1] == 0xbb &&
        csv->buffer[2] == 0xbf)
        for (int i = 0; i < 3; i++)
            take(csv);
}

/* Returns 1 for a record, 0 for an empty line, -1. */
static int read_record(struct csv *csv)
{
    csv->line = csv->next_line;
    csv->count = 0;
    csv->length = 0;
    if (peek(csv) == '\n' || peek(csv) == '\r')
        return end_line(csv);
    for (;;) {
        if (csv->count == CSV_MAX_FIELDS)
            return csv_refuse(csv, "too many fields, up to %d are allowed", CSV_MAX_FIELDS);
        csv->fields[csv->count++] = csv->text + csv->length;
        if (read_field(csv) != 0)
            return -1;
        if (!put(csv, '\0'))
            return too_long(csv);
        if (peek(csv) != csv->separator)
            break;
        take(csv);
    }
    return end_line(csv) == 0 ? 1 : -1;
}

int csv_next(struct csv *csv)
{
    skip_mark(csv);
    while (peek(csv) != EOF) {
        int result = read_record(csv);
        if (result != 0)
            return result;
    }
    csv->count = 0;
    if (csv->line == 0)
        csv->line = 1;
    if (ferror(csv->file)) {
        csv->line = csv->next_line;
        return csv_refuse(csv, "cannot be read: %s", strerror(errno));
    }
    return 0;
}
