/* Text into a page that is HTML and well-formed XML at once. */
#ifndef METERBOOK_HTML_H
#define METERBOOK_HTML_H

#include <stdio.h>

/* Foreign text, in an element or an attribute's double quotes: escaped; bytes that are no UTF-8 become
 * U+FFFD, what XML does not allow a '?'. A number and its unit stay on one line. */
void html_text(FILE *out, const char *text);

/* The same of printed text, of up to 600 bytes. */
void html_print(FILE *out, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* A table folded away under a line; it scrolls by itself where it is wider than the page. Between the two
 * come rows of html_head() and html_cell(), each row within html_row_open() and html_row_close(). */
void html_table_open(FILE *out, const char *summary);
void html_table_close(FILE *out);
void html_row_open(FILE *out);
void html_row_close(FILE *out);
/* A column's or (the first cell of a row) a row's head. `unit` "" for none, NULL of a column
 * of words. */
void html_column(FILE *out, const char *head, const char *unit);
void html_row_head(FILE *out, const char *head);
/* NULL: not known, shown as "-". Numbers stand right, words left. */
void html_cell(FILE *out, const char *number);
void html_words(FILE *out, const char *words);

#endif
