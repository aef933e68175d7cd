/* The primitives of a picture: inline SVG that takes the width it is given while its text keeps its size.
 *
 * A picture is as high as it is told and as wide as the page. Places across are shares of the width in
 * hundredths of a per cent (SVG_WHOLE is all of it), places down are tenths of a pixel from the top of the
 * plot. Axis labels stand outside, in the margins that the page's style leaves. Curves and rasters lie in a
 * plot of their own, whose units stretch with the width. All numbers are written as short as they can be,
 * by digits, whatever the locale. Colours come from the page's style, by class. */
#ifndef METERBOOK_SVG_H
#define METERBOOK_SVG_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum { SVG_WHOLE = 10000 };

struct svg {
    FILE *out;
    int32_t height; /* tenths of a pixel */
    /* of the path being drawn, in its plot's units */
    int32_t x, y, start_x, start_y;
    bool begun;
};

/* `height` in pixels. The title and description are what a screen reader says of it. */
void svg_open(struct svg *svg, FILE *out, const char *id, int32_t height, const char *title,
              const char *description);
void svg_close(struct svg *svg);

/* value / 10^scale, without zeros at its end: 1250, 2 is "12.5". */
void svg_number(FILE *out, int32_t value, int32_t scale);

/* An axis of values: from low to high by step, which is 1, 2 or 5 times a power of ten. */
struct svg_scale {
    int64_t low, high, step;
    int32_t decimals; /* of a label, of values in 10^-6 of the unit */
    bool both_ways;   /* values below nothing are amounts of something else: no sign */
};

/* The scale of values from `low` to `high` (low <= 0 <= high) with at most `most` steps. */
struct svg_scale svg_scale_of(int64_t low, int64_t high, int32_t most);

/* Where a value stands, in tenths of a pixel; what is beyond the scale stands at its end. */
int32_t svg_y(const struct svg *svg, const struct svg_scale *scale, int64_t value);

/* Its lines, labels and, above them, the unit. */
void svg_axis(struct svg *svg, const struct svg_scale *scale, const char *unit);

/* A label under the plot; `thin`: left out where the page is narrow. */
void svg_label(struct svg *svg, int32_t x, const char *text, bool thin);

/* A line from top to bottom, as where sealed readings end, and what stands beside it: left or right of it. */
void svg_mark(struct svg *svg, int32_t x, const char *text, bool left);

void svg_rect(struct svg *svg, const char *class, int32_t x, int32_t width, int32_t top, int32_t bottom);
/* A dot of 4 pixels around a place. */
void svg_dot(struct svg *svg, const char *class, int32_t x, int32_t y);
void svg_text(struct svg *svg, const char *class, int32_t x, int32_t y, const char *text);

/* A plot over [0, width) x [0, height), stretched over the whole picture. */
void svg_plot_open(struct svg *svg, const char *class, int32_t width, int32_t height);
void svg_plot_close(struct svg *svg);

/* One path of it: moves, then lines across and down, or to a place. Nothing is written of a path without a
 * move. */
void svg_path_open(struct svg *svg, const char *class);
void svg_path_move(struct svg *svg, int32_t x, int32_t y);
void svg_path_x(struct svg *svg, int32_t x);
void svg_path_y(struct svg *svg, int32_t y);
void svg_path_line(struct svg *svg, int32_t x, int32_t y);
void svg_path_shut(struct svg *svg);
void svg_path_close(struct svg *svg);

#endif
