#include "table.h"
#include "text.h"

void table_notes(FILE *out, int32_t count, const char (*notes)[NOTE_SIZE])
{
    for (int32_t i = 0; i < count; i++) {
        text_plain(out, notes[i], 0);
        fputs("\n", out);
    }
}
