/* Production split into what was consumed on site and what was exported, consumption into that and import: a
 * pair of plain bars a step. */
#include "figure.h"
#include "html.h"
#include "picture.h"
#include "stamp.h"
#include "svg.h"

enum { HEIGHT = 240, MOST_STEPS = 5, GAP = 16, HATCH_LEAST = 40, PERCENT = 100 };

struct segment {
    int64_t energy;
    const char *class;
};

/* The two bars of a row, from below. */
struct pair {
    struct segment left[2], right[2];
};

static struct pair pair_of(const struct balance *balance)
{
    bool split = balance->self_consumption != UNKNOWN;
    struct pair pair = { { { UNKNOWN, "" }, { UNKNOWN, "" } }, { { UNKNOWN, "" }, { UNKNOWN, "" } } };
    if (split) {
        pair.left[0] = (struct segment){ balance->self_consumption, "self" };
        pair.left[1] = (struct segment){ balance->export, "export" };
    } else if (balance->production != UNKNOWN) {
        pair.left[0] = (struct segment){ balance->production, "plain" };
    } else {
        pair.left[0] = (struct segment){ balance->export, "export" };
    }
    if (split && balance->consumption != UNKNOWN && balance->import != UNKNOWN) {
        pair.right[0] = (struct segment){ balance->consumption - balance->import, "self" };
        pair.right[1] = (struct segment){ balance->import, "import" };
    } else if (balance->import != UNKNOWN) {
        pair.right[0] = (struct segment){ balance->import, "import" };
    } else {
        pair.right[0] = (struct segment){ balance->consumption, "plain" };
    }
    return pair;
}

static void reach_segments(const struct segment segments[2], int64_t *low, int64_t *high)
{
    int64_t up = 0, down = 0;
    for (int32_t i = 0; i < 2; i++) {
        if (segments[i].energy == UNKNOWN)
            continue;
        up += segments[i].energy > 0 ? segments[i].energy : 0;
        down += segments[i].energy < 0 ? segments[i].energy : 0;
    }
    *high = up > *high ? up : *high;
    *low = down < *low ? down : *low;
}

static struct svg_scale scale_of(const struct report *report)
{
    int64_t low = 0, high = 0;
    for (int32_t i = 0; i < report->bar_count; i++) {
        struct pair pair = pair_of(&report->bars[i].row.balance);
        reach_segments(pair.left, &low, &high);
        reach_segments(pair.right, &low, &high);
    }
    return svg_scale_of(low, high, MOST_STEPS);
}

/* Of what the row's meters counted, what was placed by filling, in millionths. */
static int64_t estimated_share(const struct balance *balance)
{
    int64_t counted = number_sum(number_sum(balance->production, balance->import), balance->export);
    counted = counted == UNKNOWN ? balance->consumption : counted;
    int64_t share = balance->estimated ? number_share(balance->estimated, counted) : 0;
    return share == UNKNOWN ? 0 : share > SHARE_ONE ? SHARE_ONE : share;
}

static void draw_bar(struct svg *svg, const struct svg_scale *scale, const struct segment segments[2],
                     const struct report_bar *bar, int32_t x, int32_t width)
{
    int64_t up = 0, down = 0;
    char class[32];
    for (int32_t i = 0; i < 2; i++) {
        int64_t energy = segments[i].energy;
        if (energy == UNKNOWN || energy == 0)
            continue;
        int64_t *at = energy > 0 ? &up : &down;
        int32_t from = svg_y(svg, scale, *at), to = svg_y(svg, scale, *at + energy);
        snprintf(class, sizeof(class), "%s%s", segments[i].class,
                 bar->row.sources & SOURCE_SEALED ? " sealed" : "");
        if (from != to)
            svg_rect(svg, class, x, width, from < to ? from : to, from < to ? to : from);
        *at += energy;
    }
    int32_t top = svg_y(svg, scale, up), foot = svg_y(svg, scale, 0);
    int64_t share = estimated_share(&bar->row.balance);
    if (share > 0 && foot > top) {
        int32_t height = (int32_t)((foot - top) * share / SHARE_ONE);
        height = height < HATCH_LEAST ? HATCH_LEAST : height;
        svg_rect(svg, "hatch", x, width, foot - height > top ? foot - height : top, foot);
    }
}

static void draw(struct report *report, const char *sentence)
{
    struct svg svg;
    struct svg_scale scale = scale_of(report);
    char title[REPORT_SENTENCE];
    int32_t slot_width = SVG_WHOLE / report->slot_count, width = slot_width * (PERCENT - GAP) / 2 / PERCENT;
    snprintf(title, sizeof(title), "Production and consumption by the %s, %s",
             report_step_words[report->step], report->span);
    svg_open(&svg, report->out, "picture-bars", HEIGHT, title, sentence);
    svg_axis(&svg, &scale, "kWh");
    for (int32_t i = 0; i < report->bar_count; i++) {
        const struct report_bar *bar = &report->bars[i];
        struct pair pair = pair_of(&bar->row.balance);
        int32_t x = bar->slot * SVG_WHOLE / report->slot_count + slot_width * GAP / 2 / PERCENT;
        draw_bar(&svg, &scale, pair.left, bar, x, width);
        draw_bar(&svg, &scale, pair.right, bar, x + width, width);
        putc('\n', report->out);
    }
    picture_slots(&svg, report, report_slot_place);
    picture_seam(&svg, report, report_slot_place(report, report->seam_s));
    svg_close(&svg);
}

static void draw_key(const struct report *report)
{
    unsigned has = 0;
    const struct balance *total = &report->inquiry->head.total.balance;
    bool split = total->self_consumption != UNKNOWN;
    for (int32_t i = 0; i < report->bar_count; i++) {
        has |= report->bars[i].row.sources & SOURCE_SEALED ? 1U : 0;
        has |= estimated_share(&report->bars[i].row.balance) > 0 ? 2U : 0;
    }
    const struct picture_key keys[] = {
        { split, "self", "consumed on site" },
        { !split && total->production != UNKNOWN, "plain", "production" },
        { total->export != UNKNOWN && (split || total->production == UNKNOWN), "export", "export" },
        { total->import != UNKNOWN, "import", "import" },
        { total->import == UNKNOWN && total->consumption != UNKNOWN, "plain", "consumption" },
        { has & 1U, "plain sealed", "pale with an outline: from readings of sealed meters" },
        { has & 2U, "hatch", "hatched: share of what was counted that is estimated" },
    };
    picture_keys(report->out, keys, sizeof(keys) / sizeof(keys[0]));
    bool left = total->production != UNKNOWN || total->export != UNKNOWN;
    bool right = total->consumption != UNKNOWN || total->import != UNKNOWN;
    if (left && right)
        report_sentence(report, "Of each %s the left bar is what was %s, the right one what was %s.",
                        report_step_words[report->step], total->production != UNKNOWN ? "made" : "exported",
                        total->consumption != UNKNOWN ? "consumed" : "imported");
}

/* Are the readings there wherever sealed meters speak in the row, and the record for all the rest? */
static bool is_known(const struct sources *sources, const struct answer_row *row)
{
    int64_t of_record_s = 0;
    for (int64_t at_s = row->from_s, end_s; at_s < row->to_s; at_s = end_s) {
        unsigned sealed = sources_sealed(sources, at_s);
        end_s = sources_next(sources, at_s) < row->to_s ? sources_next(sources, at_s) : row->to_s;
        of_record_s += sealed == TERMS_ALL ? 0 : end_s - at_s;
        for (int32_t t = 0; t < TERM_COUNT; t++)
            if (sealed & 1U << t && sources_energy(sources, (enum balance_term)t, at_s, end_s) == UNKNOWN)
                return false;
    }
    return row->span_s == of_record_s;
}

/* Is all of its slot known, by the record or by readings? The span may cut it, too. */
static bool is_whole(const struct report *report, const struct report_bar *bar)
{
    const struct answer_row *row = &bar->row;
    return row->from_s <= report_slot_start(report, bar->slot) &&
           row->to_s >= report_slot_start(report, bar->slot + 1) &&
           is_known(report->inquiry->head.sources, row);
}

/* The bars of the most and, among those that are whole, the least. */
static bool find_extremes(const struct report *report, int64_t (*value)(const struct answer_row *row),
                          const struct report_bar **most, const struct report_bar **least)
{
    *most = *least = NULL;
    int32_t count = 0;
    for (int32_t i = 0; i < report->bar_count; i++) {
        const struct report_bar *bar = &report->bars[i];
        int64_t energy = value(&bar->row);
        if (energy == UNKNOWN)
            continue;
        if (!*most || energy > value(&(*most)->row))
            *most = bar;
        if (!is_whole(report, bar))
            continue;
        count++;
        if (!*least || energy < value(&(*least)->row))
            *least = bar;
    }
    return *most && *least && *most != *least && count > 1 && value(&(*most)->row) > 0;
}

static int64_t production_of(const struct answer_row *row)
{
    return row->balance.production;
}

static int64_t used_of(const struct answer_row *row)
{
    return row->balance.consumption != UNKNOWN ? row->balance.consumption : row->balance.import;
}

/* "in June", "on 4 May", "in the hour from 12:00" */
static const char *in_slot(const struct report *report, int32_t slot, char buffer[2 * WORDS_SIZE])
{
    static const char *const words[] = {
        [STEP_HOUR] = "in the hour from",
        [STEP_DAY] = "on",
        [STEP_MONTH] = "in",
        [STEP_YEAR] = "in",
    };
    char name[WORDS_SIZE];
    snprintf(buffer, 2 * WORDS_SIZE, "%s %s", words[report->step], report_slot_name(report, slot, name));
    return buffer;
}

static int32_t say_made(const struct report *report, char sentence[REPORT_SENTENCE])
{
    const struct report_bar *most, *least;
    char slot[2 * WORDS_SIZE], energy[WORDS_SIZE], share[WORDS_SIZE];
    if (!find_extremes(report, production_of, &most, &least))
        return 0;
    int32_t at =
        snprintf(sentence, REPORT_SENTENCE, "Most was made %s, %s", in_slot(report, most->slot, slot),
                 words_energy(energy, production_of(&most->row), report_decimals(report)));
    if (report->step != STEP_HOUR) /* of a night there is nothing to say */
        at +=
            snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), "; %s the plant made %s of that",
                     in_slot(report, least->slot, slot),
                     words_share(share, number_share(production_of(&least->row), production_of(&most->row))));
    return at + snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), ". ");
}

static void say(const struct report *report, char sentence[REPORT_SENTENCE])
{
    const struct report_bar *most, *least;
    char slot[2 * WORDS_SIZE], other[2 * WORDS_SIZE], energy[WORDS_SIZE], lowest[WORDS_SIZE];
    int32_t decimals = report_decimals(report);
    sentence[0] = '\0';
    int32_t at = say_made(report, sentence);
    if (!find_extremes(report, used_of, &most, &least)) {
        if (at == 0)
            snprintf(sentence, REPORT_SENTENCE, "Of this span %d %s%s known, with nothing to compare.",
                     (int)report->bar_count, report_step_words[report->step],
                     report->bar_count == 1 ? " is" : "s are");
        return;
    }
    snprintf(sentence + at, (size_t)(REPORT_SENTENCE - at), "%s was highest %s, %s, and lowest %s, %s.",
             most->row.balance.consumption != UNKNOWN ? "Consumption" : "Import",
             in_slot(report, most->slot, slot), words_energy(energy, used_of(&most->row), decimals),
             in_slot(report, least->slot, other), words_energy(lowest, used_of(&least->row), decimals));
}

static void write_table(const struct report *report)
{
    const struct answer *head = &report->inquiry->head;
    char summary[WORDS_SIZE], number[NUMBER_SIZE], name[WORDS_SIZE];
    snprintf(summary, sizeof(summary), "Table by the %s", report_step_words[report->step]);
    html_table_open(report->out, summary);
    html_row_open(report->out);
    html_column(report->out, report_step_words[report->step], "");
    for (int32_t i = 0; i < figure_count; i++) {
        snprintf(summary, sizeof(summary), "%s%s", figures[i].head[0], figures[i].head[1]);
        if (figures[i].kind != FIGURE_DATA && figure_present(&figures[i], head))
            html_column(report->out, summary, figures[i].kind == FIGURE_ENERGY ? "kWh" : "%");
    }
    html_column(report->out, "source", NULL);
    html_row_close(report->out);
    for (int32_t b = 0; b < report->bar_count; b++) {
        const struct answer_row *row = &report->bars[b].row;
        html_row_open(report->out);
        html_row_head(report->out, report_slot_name(report, report->bars[b].slot, name));
        for (int32_t i = 0; i < figure_count; i++)
            if (figures[i].kind != FIGURE_DATA && figure_present(&figures[i], head))
                html_cell(report->out, picture_figure(number, &figures[i], head, row));
        html_words(report->out, source_name(row->sources));
        html_row_close(report->out);
    }
    html_table_close(report->out);
}

bool section_bars(struct report *report)
{
    char sentence[REPORT_SENTENCE];
    if (report->bar_count == 0)
        return true;
    report_open(report);
    say(report, sentence);
    picture_open(report);
    draw(report, sentence);
    draw_key(report);
    picture_close(report, sentence);
    write_table(report);
    return true;
}
