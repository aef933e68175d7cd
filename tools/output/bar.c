#include "bar.h"

enum { PART_COUNT = 3 };

static const struct {
    const char *name, *block, *plain, *colour;
} parts[PART_COUNT] = {
    { "export", "\u2591", "<", "\033[33m" },
    { "self-consumption", "\u2588", "#", "" },
    { "import", "\u2592", ">", "\033[36m" },
};

static int64_t length_of(const struct balance *balance, int32_t part)
{
    const int64_t lengths[PART_COUNT] = { balance->export, balance->self_consumption, balance->import };
    return lengths[part] > 0 ? lengths[part] : 0;
}

int64_t bar_length(const struct balance *balance)
{
    return length_of(balance, 0) + length_of(balance, 1) + length_of(balance, 2);
}

static void print_part(FILE *out, int32_t part, int32_t columns, const struct terminal *terminal)
{
    const char *colour = terminal->colour ? parts[part].colour : "";
    fputs(columns ? colour : "", out);
    for (int32_t i = 0; i < columns; i++)
        fputs(terminal->utf8 ? parts[part].block : parts[part].plain, out);
    fputs(columns && *colour ? "\033[0m" : "", out);
}

void bar_print(FILE *out, const struct balance *balance, int64_t longest, int32_t columns,
               const struct terminal *terminal)
{
    int64_t sum = 0;
    int32_t drawn = 0;
    for (int32_t part = 0; part < PART_COUNT && longest > 0; part++) {
        sum += length_of(balance, part);
        /* where the part ends, so that the bar is as long as its sum */
        int32_t end = (int32_t)((double)sum / (double)longest * columns + 0.5);
        print_part(out, part, end - drawn, terminal);
        drawn = end;
    }
}

void bar_legend(FILE *out, const struct terminal *terminal)
{
    fputs("bars:", out);
    for (int32_t part = 0; part < PART_COUNT; part++) {
        fprintf(out, "%s ", part ? "," : "");
        print_part(out, part, 1, terminal);
        fprintf(out, " %s", parts[part].name);
    }
    fputs("\n", out);
}
