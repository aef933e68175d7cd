#include "svg.h"

#include "html.h"
#include "muldiv.h"
#include "number.h"

enum { UNIT_SCALE = 6, LABEL_BELOW = 180, UNIT_ABOVE = 140, MARK_GAP = 5 };

void svg_number(FILE *out, int32_t value, int32_t scale)
{
    char text[NUMBER_SIZE];
    while (scale > 0 && value % 10 == 0) {
        value /= 10;
        scale--;
    }
    const char *at = number_print(text, value, scale, scale, 0);
    /* ".5" is as good as "0.5" */
    if (at[0] == '-' && at[1] == '0' && at[2] == '.') {
        putc('-', out);
        at += 2;
    } else if (at[0] == '0' && at[1] == '.') {
        at++;
    }
    fputs(at, out);
}

static void attribute(struct svg *svg, const char *name, int32_t value, int32_t scale, const char *unit)
{
    fprintf(svg->out, " %s=\"", name);
    svg_number(svg->out, value, scale);
    fprintf(svg->out, "%s\"", unit);
}

void svg_open(struct svg *svg, FILE *out, const char *id, int32_t height, const char *title,
              const char *description)
{
    *svg = (struct svg){ .out = out, .height = height * 10 };
    fprintf(out,
            "<svg class=\"p\" id=\"%s\" role=\"img\" aria-labelledby=\"%s-t %s-d\" height=\"%d\">"
            "<title id=\"%s-t\">",
            id, id, id, (int)height, id);
    html_text(out, title);
    fprintf(out, "</title><desc id=\"%s-d\">", id);
    html_text(out, description);
    fputs("</desc>\n", out);
}

void svg_close(struct svg *svg)
{
    fputs("</svg>\n", svg->out);
}

struct svg_scale svg_scale_of(int64_t low, int64_t high, int32_t most)
{
    static const int32_t firsts[] = { 1, 2, 5 };
    struct svg_scale scale = { .step = 1, .decimals = UNIT_SCALE };
    if (low > 0)
        low = 0;
    if (high < 0)
        high = 0;
    if (low == high)
        high = 1000000;
    int64_t power = 1;
    for (int32_t i = 0;; i++) {
        if (i > 0 && i % 3 == 0)
            power *= 10;
        scale.step = power * firsts[i % 3];
        scale.low = -((-low + scale.step - 1) / scale.step) * scale.step;
        scale.high = (high + scale.step - 1) / scale.step * scale.step;
        if ((scale.high - scale.low) / scale.step <= most)
            break;
    }
    for (int64_t p = power; p >= 10 && scale.decimals > 0; p /= 10)
        scale.decimals--;
    return scale;
}

int32_t svg_y(const struct svg *svg, const struct svg_scale *scale, int64_t value)
{
    value = value < scale->low ? scale->low : value > scale->high ? scale->high : value;
    return svg->height - (int32_t)mul_div(svg->height, value - scale->low, scale->high - scale->low);
}

void svg_axis(struct svg *svg, const struct svg_scale *scale, const char *unit)
{
    char label[NUMBER_SIZE];
    for (int64_t value = scale->low; value <= scale->high; value += scale->step) {
        int32_t y = svg_y(svg, scale, value);
        fprintf(svg->out, "<line class=\"%s\" x2=\"100%%\"", value ? "g" : "z");
        attribute(svg, "y1", y, 1, "");
        attribute(svg, "y2", y, 1, "");
        fputs("/><text class=\"y\" x=\"-6\"", svg->out);
        attribute(svg, "y", y, 1, "");
        fprintf(svg->out, ">%s</text>\n",
                number_print(label, scale->both_ways && value < 0 ? -value : value, UNIT_SCALE,
                             scale->decimals, ','));
    }
    if (*unit)
        fprintf(svg->out, "<text class=\"y\" x=\"-6\" y=\"%d\">%s</text>\n", -UNIT_ABOVE / 10, unit);
}

void svg_label(struct svg *svg, int32_t x, const char *text, bool thin)
{
    svg_text(svg, thin ? "x thin" : "x", x, svg->height + LABEL_BELOW, text);
}

void svg_mark(struct svg *svg, int32_t x, const char *text, bool left)
{
    fputs("<line class=\"seam\"", svg->out);
    attribute(svg, "x1", x, 2, "%");
    attribute(svg, "x2", x, 2, "%");
    attribute(svg, "y2", svg->height, 1, "");
    fprintf(svg->out, "/><text class=\"%s\" dx=\"%d\" y=\"-3\"", left ? "ml" : "mr",
            left ? -MARK_GAP : MARK_GAP);
    attribute(svg, "x", x, 2, "%");
    putc('>', svg->out);
    html_text(svg->out, text);
    fputs("</text>\n", svg->out);
}

void svg_rect(struct svg *svg, const char *class, int32_t x, int32_t width, int32_t top, int32_t bottom)
{
    fprintf(svg->out, "<rect class=\"%s\"", class);
    attribute(svg, "x", x, 2, "%");
    attribute(svg, "width", width, 2, "%");
    attribute(svg, "y", top, 1, "");
    attribute(svg, "height", bottom - top, 1, "");
    fputs("/>", svg->out);
}

void svg_dot(struct svg *svg, const char *class, int32_t x, int32_t y)
{
    fprintf(svg->out, "<circle class=\"%s\" r=\"4\"", class);
    attribute(svg, "cx", x, 2, "%");
    attribute(svg, "cy", y, 1, "");
    fputs("/>\n", svg->out);
}

void svg_text(struct svg *svg, const char *class, int32_t x, int32_t y, const char *text)
{
    fprintf(svg->out, "<text class=\"%s\"", class);
    attribute(svg, "x", x, 2, "%");
    attribute(svg, "y", y, 1, "");
    putc('>', svg->out);
    html_text(svg->out, text);
    fputs("</text>\n", svg->out);
}

void svg_plot_open(struct svg *svg, const char *class, int32_t width, int32_t height)
{
    fprintf(svg->out,
            "<svg class=\"%s\" width=\"100%%\" height=\"100%%\" viewBox=\"0 0 %d %d\" "
            "preserveAspectRatio=\"none\">\n",
            class, (int)width, (int)height);
}

void svg_plot_close(struct svg *svg)
{
    fputs("</svg>\n", svg->out);
}

void svg_path_open(struct svg *svg, const char *class)
{
    fprintf(svg->out, "<path class=\"%s\" d=\"", class);
    svg->begun = false;
    svg->x = svg->y = 0;
}

static void step(struct svg *svg, char command, int32_t by)
{
    if (by != 0)
        fprintf(svg->out, "%c%d", command, (int)by);
}

void svg_path_move(struct svg *svg, int32_t x, int32_t y)
{
    if (svg->begun)
        fprintf(svg->out, "m%d%s%d", (int)(x - svg->x), y < svg->y ? "" : " ", (int)(y - svg->y));
    else
        fprintf(svg->out, "M%d %d", (int)x, (int)y);
    svg->begun = true;
    svg->x = svg->start_x = x;
    svg->y = svg->start_y = y;
}

void svg_path_x(struct svg *svg, int32_t x)
{
    step(svg, 'h', x - svg->x);
    svg->x = x;
}

void svg_path_y(struct svg *svg, int32_t y)
{
    step(svg, 'v', y - svg->y);
    svg->y = y;
}

void svg_path_line(struct svg *svg, int32_t x, int32_t y)
{
    fprintf(svg->out, "l%d%s%d", (int)(x - svg->x), y < svg->y ? "" : " ", (int)(y - svg->y));
    svg->x = x;
    svg->y = y;
}

void svg_path_shut(struct svg *svg)
{
    fputs("z", svg->out);
    svg->x = svg->start_x; /* from where the next move is measured */
    svg->y = svg->start_y;
}

void svg_path_close(struct svg *svg)
{
    fputs("\"/>\n", svg->out);
}
