/* The colours of a page, in light and in the dark, written once: the style names them, a test holds them
 * against what is legible and what colour-blind readers can tell apart. */
#ifndef METERBOOK_PALETTE_H
#define METERBOOK_PALETTE_H

#include <stdint.h>

enum { PALETTE_LEVELS = 6 };

enum palette_colour {
    COLOUR_PAPER,
    COLOUR_PANEL, /* behind tables and notes */
    COLOUR_INK,
    COLOUR_FAINT, /* text that stands back */
    COLOUR_RULE,  /* lines of a grid */
    COLOUR_LINK,
    /* one for each thing, in every picture */
    COLOUR_SELF,
    COLOUR_EXPORT,
    COLOUR_IMPORT,
    COLOUR_PLAIN, /* where a picture has one thing only */
    COLOUR_WARN,  /* what is outside a limit */
    /* rasters: known to be nothing, then six levels of each */
    COLOUR_NOTHING,
    COLOUR_PRODUCTION_LEVELS,
    COLOUR_IMPORT_LEVELS = COLOUR_PRODUCTION_LEVELS + PALETTE_LEVELS,
    COLOUR_EXPORT_LEVELS = COLOUR_IMPORT_LEVELS + PALETTE_LEVELS,
    PALETTE_COUNT = COLOUR_EXPORT_LEVELS + PALETTE_LEVELS
};

struct palette_row {
    const char *name;     /* in the style: --name */
    uint32_t light, dark; /* 0xrrggbb */
};

extern const struct palette_row palette[PALETTE_COUNT];

#endif
