#include "field.h"

#include "number.h"
#include "stamp.h"
#include "text.h"

static void next(struct line *line)
{
    if (line->cells++ > 0)
        putc(',', line->out);
}

void field_heads(FILE *out, const struct field *fields, int32_t count)
{
    struct line line = { out, 0 };
    for (int32_t i = 0; i < count; i++)
        line_text(&line, fields[i].name);
    line_end(&line);
}

void line_number(struct line *line, int64_t value, int32_t scale)
{
    char digits[NUMBER_SIZE];
    next(line);
    if (value != UNKNOWN)
        fputs(number_print(digits, value, scale, scale, 0), line->out);
}

void line_text(struct line *line, const char *text)
{
    next(line);
    if (text)
        text_csv(line->out, text);
}

void line_stamp(struct line *line, const struct civil *civil, int64_t utc_s)
{
    char stamp[STAMP_SIZE];
    next(line);
    if (utc_s != UNKNOWN)
        fputs(stamp_rfc3339(stamp, civil, utc_s), line->out);
}

void line_end(struct line *line)
{
    fputs("\r\n", line->out);
    line->cells = 0;
}
