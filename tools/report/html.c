#include "html.h"

#include <stdarg.h>
#include <stdbool.h>
#include <string.h>

#include "text.h"

enum { PRINT_SIZE = 600 };

/* Whether the word here is a unit, which is not parted from its number. */
static bool is_unit(const char *text)
{
    static const char *const units[] = { "%", "h", "kVA", "kW", "kWh", "kWp", "V", "W" };
    size_t length = strspn(text, "%ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz");
    for (size_t i = 0; i < sizeof(units) / sizeof(units[0]); i++)
        if (strlen(units[i]) == length && !memcmp(text, units[i], length))
            return true;
    return false;
}

void html_text(FILE *out, const char *text)
{
    for (bool digit = false; *text; digit = text[-1] >= '0' && text[-1] <= '9') {
        char part[5] = { 0 };
        size_t length = 1;
        memcpy(part, text, 1);
        while (length < 4 && (text[length] & 0xc0) == 0x80) {
            part[length] = text[length];
            length++;
        }
        if (*text == '&')
            fputs("&amp;", out);
        else if (*text == '<')
            fputs("&lt;", out);
        else if (*text == '>')
            fputs("&gt;", out);
        else if (*text == '"')
            fputs("&quot;", out);
        else if (*text == ' ' && digit && is_unit(text + 1))
            fputs("\xc2\xa0", out);
        else if ((unsigned char)*text < 0x20 || *text == 0x7f)
            putc('?', out);
        else
            fputs(text_is_valid(part, length) ? part : "\xef\xbf\xbd", out);
        text += length;
    }
}

void html_print(FILE *out, const char *format, ...)
{
    char text[PRINT_SIZE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    html_text(out, text);
}

void html_table_open(FILE *out, const char *summary)
{
    fputs("<details><summary>", out);
    html_text(out, summary);
    fputs("</summary><div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-label=\"", out);
    html_text(out, summary);
    fputs("\"><table>\n", out);
}

void html_table_close(FILE *out)
{
    fputs("</table></div></details>\n", out);
}

void html_row_open(FILE *out)
{
    fputs("<tr>", out);
}

void html_row_close(FILE *out)
{
    fputs("</tr>\n", out);
}

void html_column(FILE *out, const char *head, const char *unit)
{
    fputs(unit ? "<th scope=\"col\">" : "<th scope=\"col\" class=\"w\">", out);
    html_text(out, head);
    if (unit && *unit) {
        fputs("<br/>", out);
        html_text(out, unit);
    }
    fputs("</th>", out);
}

void html_row_head(FILE *out, const char *head)
{
    fputs("<th scope=\"row\">", out);
    html_text(out, head);
    fputs("</th>", out);
}

void html_cell(FILE *out, const char *number)
{
    fputs("<td>", out);
    html_text(out, number ? number : "-");
    fputs("</td>", out);
}

void html_words(FILE *out, const char *words)
{
    fputs("<td class=\"w\">", out);
    html_text(out, words ? words : "-");
    fputs("</td>", out);
}
