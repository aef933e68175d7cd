#include "config_file.h"

/* IEC 61869-2: measuring current transformers. */
const char *const ct_class_words[] = { "0.1", "0.2", "0.2S", "0.5", "0.5S", "1", "3", NULL };
/* IEC 62053-21 and -22, EN 50470-3. */
const char *const class_words[] = { "0.1", "0.2", "0.2S", "0.5", "0.5S", "1", "2", "3", "A", "B", "C", NULL };
