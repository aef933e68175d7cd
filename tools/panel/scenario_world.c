#include "scenario_read.h"

static const struct setting_rule part_rules[] = {
    RULE_TEXT(struct world_part, name, true),
    { "peak_w", SETTING_WHOLE, SETTING_AT(struct world_part, peak_w), true, 1, SCENARIO_MAX_WATTS, 1 },
    RULE_WHOLE(struct world_part, rated_w, 1, SCENARIO_MAX_WATTS, 0),
    RULE_WHOLE(struct world_part, standby_w, 0, 1000, 0),
    RULE_WHOLE(struct world_part, phase, 0, 3, 0),
    RULE_REAL(struct world_part, azimuth, 0, 360, 180),
    RULE_REAL(struct world_part, tilt, 0, 90, 30),
    RULE_REAL(struct world_part, losses, 0, 1, 0.12),
};
RULE_TABLE(part_table, "a part", part_rules);

/* How a load is written in the file. */
struct load_text {
    struct world_load load;
    char from[8], to[8];
    int32_t w;
    double on_s;
};

static const char *const load_kinds[] = { "constant", "cycle", "events", NULL };
enum { CONSTANT = 1 << LOAD_CONSTANT, CYCLE = 1 << LOAD_CYCLE, EVENTS = 1 << LOAD_EVENTS };

#define LOAD(field) SETTING_AT(struct load_text, load.field)
static const struct setting_rule load_rules[] = {
    { "kind", SETTING_WORD, LOAD(kind), .required = true, .words = load_kinds },
    { "name", SETTING_TEXT, LOAD(name), .required = true },
    { "branch", SETTING_TEXT, LOAD(branch) },
    { "phase", SETTING_WHOLE, LOAD(phase), .most = 3 },
    { "reactive", SETTING_REAL, LOAD(reactive), .least = -5, .most = 5 },
    { "period_s", SETTING_REAL, LOAD(period_s), true, 1, 604800, 3600, .only = CYCLE },
    { "per_day", SETTING_WHOLE, LOAD(per_day), true, 1, 48, 1, .only = EVENTS },
    { "from", SETTING_TEXT, SETTING_AT(struct load_text, from), .text = "00:00", .only = EVENTS },
    { "to", SETTING_TEXT, SETTING_AT(struct load_text, to), .text = "24:00", .only = EVENTS },
    { "w", SETTING_WHOLE, SETTING_AT(struct load_text, w), .most = SCENARIO_MAX_WATTS, .otherwise = -1 },
    { "on_s", SETTING_REAL, SETTING_AT(struct load_text, on_s), false, 1, 86400, 600,
      .only = CYCLE | EVENTS },
    { .key = "profile", .type = SETTING_LIST, .only = CYCLE | EVENTS },
};
RULE_TABLE(load_table, "a load", load_rules);

/* A piece of a profile: so many watts for so long. */
struct piece {
    int32_t w;
    double s;
};

static const struct setting_rule piece_rules[] = {
    { "s", SETTING_REAL, SETTING_AT(struct piece, s), true, 1, 86400, 1 },
    { "w", SETTING_WHOLE, SETTING_AT(struct piece, w), true, 0, SCENARIO_MAX_WATTS, 0 },
};
RULE_TABLE(piece_table, "a piece of a profile", piece_rules);

void scenario_read_parts(struct source *source, const config_setting_t *root, struct world *world)
{
    const config_setting_t *list = scenario_list(source, root, "parts", WORLD_MAX_PARTS, &world->part_count);
    for (int i = 0; i < world->part_count; i++) {
        struct world_part *part = &world->parts[i];
        setting_read(source, config_setting_get_elem(list, (unsigned)i), &part_table, part);
        if (part->rated_w == 0)
            part->rated_w = part->peak_w;
    }
}

static void read_profile(struct source *source, const config_setting_t *group, const struct load_text *text,
                         struct world_load *load)
{
    const config_setting_t *list =
        scenario_list(source, group, "profile", WORLD_MAX_PROFILE, &load->profile_count);
    for (int i = 0; i < load->profile_count; i++) {
        struct piece piece;
        setting_read(source, config_setting_get_elem(list, (unsigned)i), &piece_table, &piece);
        load->profile_s[i] = piece.s;
        load->profile_w[i] = piece.w;
    }
    if ((load->profile_count > 0) == (text->w >= 0))
        setting_complain(source, group, "w", true, "a load has either 'w' (and 'on_s') or a 'profile'");
    if (text->w >= 0) {
        load->profile_count = 1;
        load->profile_s[0] = text->on_s;
        load->profile_w[0] = text->w;
    }
}

void scenario_read_loads(struct source *source, const config_setting_t *root, struct world *world)
{
    const config_setting_t *list = scenario_list(source, root, "loads", WORLD_MAX_LOADS, &world->load_count);
    for (int i = 0; i < world->load_count; i++) {
        const config_setting_t *group = config_setting_get_elem(list, (unsigned)i);
        struct load_text text = { .w = -1 };
        struct world_load *load = &world->loads[i];
        setting_read(source, group, &load_table, &text);
        *load = text.load;
        read_profile(source, group, &text, load);
        load->from_hour = scenario_hour(text.from);
        load->to_hour = scenario_hour(text.to);
        if (load->from_hour < 0 || load->to_hour <= load->from_hour)
            setting_complain(
                source, group, "from", true,
                "'from' and 'to' are no hours, allowed: \"HH:MM\" within one day, from before to");
    }
}
