/* The frame of a page: a document of its own that asks for nothing from elsewhere. Its content security
 * policy lets in its one style, by hash, and nothing else: no script, no image, no request. */
#ifndef METERBOOK_PAGE_H
#define METERBOOK_PAGE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { PAGE_STYLE_SIZE = 9216 };

/* The style with the colours of the palette; returns its length, below PAGE_STYLE_SIZE. */
size_t page_style(char style[PAGE_STYLE_SIZE]);

void page_open(FILE *out, const char *title);
void page_close(FILE *out);

#endif
