/* The two lists in which an answer keeps what must be said of its figures. */
#include <stdarg.h>
#include <stdio.h>

#include "answer.h"

void answer_note(struct answer *answer, const char *format, ...)
{
    if (answer->note_count == ANSWER_MAX_NOTES)
        return;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(answer->notes[answer->note_count++], NOTE_SIZE, format, arguments);
    va_end(arguments);
}

void answer_mark(struct answer *answer, const char *format, ...)
{
    if (answer->mark_count == ANSWER_MAX_MARKS)
        return;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(answer->marks[answer->mark_count++], MARK_SIZE, format, arguments);
    va_end(arguments);
}
