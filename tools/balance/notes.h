/* Private to notes*.c and marks.c: the parts of answer_make_notes(). */
#ifndef METERBOOK_NOTES_H
#define METERBOOK_NOTES_H

#include "answer.h"

/* What sealed meters had a part in. */
void note_sources(struct answer *answer);

/* The short words of the head line. */
void make_marks(struct answer *answer);

#endif
