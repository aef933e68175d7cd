#include "scan.h"

#include <errno.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { NUMBER_SIZE = 64 };

struct scan {
    const char *at, *end;
    void (*complain)(void *self, const char *what);
    void *self;
};

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

static bool is_letter(char c)
{
    return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
}

static bool is_name(char c)
{
    return is_letter(c) || is_digit(c) || c == '-' || c == '_' || c == '*';
}

static char next(const struct scan *scan)
{
    return scan->end - scan->at > 1 ? scan->at[1] : '\0';
}

static void skip_name(struct scan *scan)
{
    while (scan->at < scan->end && is_name(*scan->at))
        scan->at++;
}

/* What is wrong with a number as libconfig would read it; NULL if nothing. */
static const char *number_fault(const char *number)
{
    const char *digits = number + (number[0] == '-' || number[0] == '+');
    bool hex = digits[0] == '0' && (digits[1] == 'x' || digits[1] == 'X');
    bool wide = strchr(number, 'L') != NULL;
    if (!hex && strpbrk(number, ".eE"))
        return NULL;
    if (!hex && digits[0] == '0' && is_digit(digits[1]))
        return "leading zeros are not allowed";
    errno = 0;
    long long value = hex ? (long long)strtoull(digits, NULL, 16) : strtoll(number, NULL, 10);
    if (errno == ERANGE)
        return "whole numbers of up to 64 bits are allowed";
    if (!wide && (value > INT32_MAX || value < INT32_MIN))
        return "beyond 2147483647 whole numbers need an L at the end, or stand as text in quotes";
    return NULL;
}

static void take_number(struct scan *scan)
{
    char number[NUMBER_SIZE], what[NUMBER_SIZE + 120];
    size_t length = 0;
    bool hex = *scan->at == '0' && (next(scan) == 'x' || next(scan) == 'X');
    char before = '\0';
    for (; scan->at < scan->end; scan->at++) {
        char c = *scan->at;
        bool sign = (c == '-' || c == '+') && (length == 0 || (!hex && (before == 'e' || before == 'E')));
        if (!sign && !is_digit(c) && !is_letter(c) && c != '.')
            break;
        if (length < sizeof number - 1)
            number[length++] = c;
        before = c;
    }
    number[length] = '\0';
    const char *fault = length == sizeof number - 1 ? "too many digits" : number_fault(number);
    if (!fault)
        return;
    snprintf(what, sizeof what, "the number %s, %s", number, fault);
    scan->complain(scan->self, what);
}

/* To the end of the comment or string, if it lies in this line. */
static enum scan_state leave(struct scan *scan, enum scan_state state)
{
    for (; scan->at < scan->end; scan->at++) {
        if (state == SCAN_COMMENT && *scan->at == '*' && next(scan) == '/') {
            scan->at += 2;
            return SCAN_CODE;
        }
        if (state == SCAN_STRING && *scan->at == '"') {
            scan->at++;
            return SCAN_CODE;
        }
        if (state == SCAN_STRING && *scan->at == '\\' && scan->end - scan->at > 1)
            scan->at++;
    }
    return state;
}

/* One word or sign of code. */
static enum scan_state take(struct scan *scan)
{
    char c = *scan->at, after = next(scan);
    if (c == '#' || (c == '/' && after == '/')) {
        scan->at = scan->end;
    } else if (c == '/' && after == '*') {
        scan->at += 2;
        return SCAN_COMMENT;
    } else if (c == '"') {
        scan->at++;
        return SCAN_STRING;
    } else if (is_letter(c) || c == '*' || c == '_') {
        skip_name(scan);
    } else if (is_digit(c) || ((c == '-' || c == '+' || c == '.') && (is_digit(after) || after == '.'))) {
        take_number(scan);
    } else {
        scan->at++;
    }
    return SCAN_CODE;
}

enum scan_state scan_line(enum scan_state state, const char *line, size_t size,
                          void (*complain)(void *self, const char *what), void *self)
{
    struct scan scan = { line, line + size, complain, self };
    while (scan.at < scan.end)
        state = state == SCAN_CODE ? take(&scan) : leave(&scan, state);
    return state;
}

static size_t blanks(const char *line, size_t size)
{
    size_t count = 0;
    while (count < size && (line[count] == ' ' || line[count] == '\t' || line[count] == '\r'))
        count++;
    return count;
}

bool scan_include(const char *line, size_t size, char path[CONFIG_PATH_SIZE])
{
    static const char word[] = "@include";
    size_t at = blanks(line, size);
    if (size - at < sizeof word - 1 || memcmp(line + at, word, sizeof word - 1) != 0)
        return false;
    at += sizeof word - 1;
    at += blanks(line + at, size - at);
    if (at == size || line[at] != '"')
        return false;
    path[0] = '\0';
    const char *start = line + at + 1;
    const char *quote = memchr(start, '"', size - at - 1);
    if (!quote || quote - start >= CONFIG_PATH_SIZE)
        return true;
    size_t rest = (size_t)(line + size - quote) - 1;
    size_t skip = blanks(quote + 1, rest);
    if (skip < rest && quote[1 + skip] != '#' && quote[1 + skip] != '/')
        return true;
    memcpy(path, start, (size_t)(quote - start));
    path[quote - start] = '\0';
    return true;
}
