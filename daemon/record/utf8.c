#include "utf8.h"

#include <stdint.h>

/* Length of the character that begins with this byte, and its least code
 * point (shorter ones must not be written that long). */
static int length_of(unsigned char first, uint32_t *bits, uint32_t *least)
{
    static const struct {
        unsigned char mask, lead;
        uint32_t least;
    } forms[] = { { 0x80, 0x00, 0 }, { 0xe0, 0xc0, 0x80 }, { 0xf0, 0xe0, 0x800 }, { 0xf8, 0xf0, 0x10000 } };
    for (int i = 0; i < 4; i++) {
        if ((first & forms[i].mask) == forms[i].lead) {
            *bits = first & (unsigned char)~forms[i].mask;
            *least = forms[i].least;
            return i + 1;
        }
    }
    return 0;
}

bool utf8_is_plain(const char *text)
{
    for (;;) {
        while ((unsigned char)*text >= 0x20 && (unsigned char)*text < 0x7f)
            text++; /* nearly all there is */
        if (!*text)
            return true;
        uint32_t code, least;
        int length = length_of((unsigned char)*text++, &code, &least);
        if (length == 0)
            return false;
        for (int i = 1; i < length; i++, text++) {
            if (((unsigned char)*text & 0xc0) != 0x80)
                return false;
            code = code << 6 | ((unsigned char)*text & 0x3f);
        }
        bool control = code < 0x20 || (code >= 0x7f && code < 0xa0);
        bool surrogate = code >= 0xd800 && code < 0xe000;
        if (control || surrogate || code < least || code > 0x10ffff)
            return false;
    }
}
