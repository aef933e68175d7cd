/* Foreign text (names of the site and its meters) in each form of output. */
#ifndef METERBOOK_TEXT_H
#define METERBOOK_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>

/* Valid UTF-8 without a NUL in it? */
bool text_is_valid(const char *text, size_t size);

/* As a JSON string with its quotes; bytes that are no UTF-8 become U+FFFD. */
void text_json(FILE *out, const char *text);

/* As a field of RFC 4180: quoted where it must be. */
void text_csv(FILE *out, const char *text);

/* As the text of an XML or HTML element or a quoted attribute; bytes that are no UTF-8 and control
 * characters, which XML has no way to write, become U+FFFD. */
void text_xml(FILE *out, const char *text);

/* As people read it, control characters as '?', padded to `width` columns. */
void text_plain(FILE *out, const char *text, int32_t width);

/* Columns that text_plain() takes without padding. */
int32_t text_columns(const char *text);

#endif
