/* Private to notes*.c and marks.c: the parts of answer_make_notes(). */
#ifndef METERBOOK_NOTES_H
#define METERBOOK_NOTES_H

#include "answer.h"

/* What sealed meters had a part in. */
void note_sources(struct answer *answer);

/* Adds a mark; what does not fit is left out. */
void answer_mark(struct answer *answer, const char *format, ...) __attribute__((format(printf, 2, 3)));

/* The short words of the head line. */
void make_marks(struct answer *answer);

#endif
