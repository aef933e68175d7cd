/* The header of a file that is entered. */
#ifndef METERBOOK_ENTER_HEADER_H
#define METERBOOK_ENTER_HEADER_H

#include "enter_file.h"

/* Takes the record that the file's reader holds as its header. Returns 0, or -1
 * with csv.why. */
int enter_header_read(struct enter_file *file, struct store_enter *enter);

#endif
