/* Text from files that goes to terminals, JSON and the record. */
#ifndef METERBOOK_UTF8_H
#define METERBOOK_UTF8_H

#include <stdbool.h>

/* Valid UTF-8 (RFC 3629) without control characters? */
bool utf8_is_plain(const char *text);

#endif
