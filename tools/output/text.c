#include "text.h"

#include <stdbool.h>
#include <string.h>

/* Length of the UTF-8 sequence at `text`, 0 where there is none (RFC 3629:
 * no overlong form, no surrogate, nothing above U+10FFFF). */
static int32_t sequence(const unsigned char *text)
{
    if (text[0] < 0x80)
        return 1;
    if (text[0] < 0xc2 || text[0] > 0xf4)
        return 0;
    int32_t length = text[0] >= 0xf0 ? 4 : text[0] >= 0xe0 ? 3 : 2;
    for (int32_t i = 1; i < length; i++)
        if ((text[i] & 0xc0) != 0x80)
            return 0;
    bool overlong = (text[0] == 0xe0 && text[1] < 0xa0) || (text[0] == 0xf0 && text[1] < 0x90);
    bool beyond = (text[0] == 0xed && text[1] > 0x9f) || (text[0] == 0xf4 && text[1] > 0x8f);
    return overlong || beyond ? 0 : length;
}

bool text_is_valid(const char *text, size_t size)
{
    const unsigned char *at = (const unsigned char *)text;
    for (size_t i = 0; i < size;) {
        unsigned char part[5] = { 0 }; /* what ends inside a sequence is none */
        memcpy(part, at + i, size - i < 4 ? size - i : 4);
        int32_t length = part[0] ? sequence(part) : 0;
        if (length == 0)
            return false;
        i += (size_t)length;
    }
    return true;
}

void text_json(FILE *out, const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    putc('"', out);
    while (*at) {
        int32_t length = sequence(at);
        if (length == 0)
            fputs("\xef\xbf\xbd", out);
        else if (*at == '"' || *at == '\\')
            fprintf(out, "\\%c", *at);
        else if (*at < 0x20 || *at == 0x7f)
            fprintf(out, "\\u%04x", *at);
        else
            fwrite(at, 1, (size_t)length, out);
        at += length ? length : 1;
    }
    putc('"', out);
}

void text_csv(FILE *out, const char *text)
{
    if (!text[strcspn(text, "\",\r\n")]) {
        fputs(text, out);
        return;
    }
    putc('"', out);
    for (; *text; text++) {
        if (*text == '"')
            putc('"', out);
        putc(*text, out);
    }
    putc('"', out);
}

void text_xml(FILE *out, const char *text)
{
    for (const unsigned char *at = (const unsigned char *)text; *at;) {
        int32_t length = sequence(at);
        if (length == 0 || (*at < 0x20 && *at != '\t' && *at != '\n') || *at == 0x7f)
            fputs("\xef\xbf\xbd", out);
        else if (strchr("&<>\"'", *at))
            fprintf(out, "&#%d;", *at);
        else
            fwrite(at, 1, (size_t)length, out);
        at += length ? length : 1;
    }
}

int32_t text_columns(const char *text)
{
    int32_t columns = 0;
    for (const unsigned char *at = (const unsigned char *)text; *at; columns++) {
        int32_t length = sequence(at);
        at += length ? length : 1;
    }
    return columns;
}

void text_plain(FILE *out, const char *text, int32_t width)
{
    for (const unsigned char *at = (const unsigned char *)text; *at;) {
        int32_t length = sequence(at);
        if (length == 0 || *at < 0x20 || *at == 0x7f)
            putc('?', out);
        else
            fwrite(at, 1, (size_t)length, out);
        at += length ? length : 1;
    }
    for (int32_t i = text_columns(text); i < width; i++)
        putc(' ', out);
}
