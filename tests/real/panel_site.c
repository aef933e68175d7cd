#include "panel_site.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "civil.h"
#include "disk.h"
#include "map_file.h"
#include "wire.h"

enum { BOOTED_S = 5, GENERATION = 1, MBAP_HEAD = 7 };
enum { COMMIT_S = 21600 }; /* seldom: the simulated disk copies a file at each sync */

static void say(void *self, bool error, const char *line)
{
    (void)self;
    printf("%s: %s\n", error ? "error" : "warning", line);
}

static FILE *make_file(const struct panel_site *site, const char *name)
{
    char path[64];
    snprintf(path, sizeof path, "%s/%s", site->directory, name);
    FILE *file = fopen(path, "w");
    if (!file)
        abort();
    return file;
}

static void remove_file(const struct panel_site *site, const char *name)
{
    char path[64];
    snprintf(path, sizeof path, "%s/%s", site->directory, name);
    unlink(path);
}

/* Decimal exponent of the register's unit in Wh. */
static int exponent(const struct dataset *series)
{
    return series->info.unit_mwh == 100 ? -1 : series->info.unit_mwh == 1000 ? 0 : 3;
}

static void write_replay(const struct panel_site *site, int meter)
{
    const struct dataset *series = site->series;
    char name[16];
    snprintf(name, sizeof name, "%d.csv", meter);
    FILE *file = make_file(site, name);
    fputs("time_s", file);
    for (int c = 0; c < 2; c++)
        if (series->value[meter][c])
            fputs(c ? ",export_wh" : ",import_wh", file);
    for (int32_t i = 0; i < series->count; i++) {
        fprintf(file, "\n%lld", (long long)(series->at_s[i] - series->at_s[0]));
        for (int c = 0; c < 2; c++)
            if (series->value[meter][c])
                fprintf(file, ",%lld.%03d", (long long)(series->value[meter][c][i] / 1000),
                        (int)(series->value[meter][c][i] % 1000));
    }
    fputs("\n", file);
    fclose(file);
}

static void write_scenario(const struct panel_site *site)
{
    const struct dataset *series = site->series;
    FILE *file = make_file(site, "registers.map");
    fputs("name = \"replay\"; function = 4; max_registers = 60;\npoints = (", file);
    for (int c = 0; c < 2; c++)
        fprintf(file, "%s { quantity = \"active_%s\"; address = %d; type = \"uint64\"; exponent = %d; }",
                c ? "," : "", c ? "export" : "import", 4 * c, exponent(series));
    fputs(" );\n", file);
    fclose(file);
    file = make_file(site, "scenario.conf");
    fputs("site: { name = \"replay\"; start = \"2026-01-01T00:00:00Z\"; seed = 1; step_ms = 60000;"
          " latitude = 0.0; longitude = 0.0; };\n"
          "buses = ( { kind = \"tcp\"; name = \"wire\"; address = \"127.0.0.1\"; port = 0; } );\nmeters = (",
          file);
    for (int m = 0; m < SERIES_METERS && series->info.meters[m].name; m++)
        fprintf(file,
                "%s { name = \"%s\"; bus = \"wire\"; unit_id = %d; measures = \"replay\"; map = "
                "\"registers.map\"; replay = \"%d.csv\"; }",
                m ? "," : "", series->info.meters[m].name, m + 1, m);
    fputs(" );\n", file);
    fclose(file);
}

static bool load_panel(struct panel_site *site)
{
    struct problems problems = { .say = say };
    struct source source;
    char path[64];
    snprintf(site->directory, sizeof site->directory, "/tmp/real-series-XXXXXX");
    if (!mkdtemp(site->directory))
        abort();
    for (int m = 0; m < SERIES_METERS && site->series->info.meters[m].name; m++)
        write_replay(site, m);
    write_scenario(site);
    snprintf(path, sizeof path, "%s/scenario.conf", site->directory);
    site->scenario = scenario_load(path, &problems);
    snprintf(path, sizeof path, "%s/registers.map", site->directory);
    map_file_read(&site->map, &source, path);
    bool good = source_say(&source, &problems);
    source_close(&source);
    for (int m = 0; m < SERIES_METERS; m++) {
        char name[16];
        snprintf(name, sizeof name, "%d.csv", m);
        remove_file(site, name);
    }
    remove_file(site, "scenario.conf");
    remove_file(site, "registers.map");
    rmdir(site->directory);
    return good && site->scenario;
}

int64_t panel_site_rated_w(const struct dataset *series, int meter)
{
    int64_t most = 0;
    for (int c = 0; c < 2; c++)
        for (int32_t i = 1; series->value[meter][c] && i < series->count; i++) {
            int64_t rise = series->value[meter][c][i] - series->value[meter][c][i - 1];
            if (!series->unknown[i - 1] && rise > most)
                most = rise;
        }
    return most / 1000 * 3600 / series->info.poll_s + 1000;
}

static void configure(struct panel_site *site)
{
    static char empty[] = "";
    const struct series_info *info = &site->series->info;
    struct config *config = &site->config;
    site->map_text = empty;
    config->site = (struct config_site){ .latitude = info->latitude,
                                         .longitude = info->longitude,
                                         .interval_s = info->interval_s,
                                         .poll_period_ms = info->poll_s * 1000,
                                         .commit_s = COMMIT_S,
                                         .voltage_max = 300,
                                         .frequency_max = 70 };
    snprintf(config->site.name, sizeof config->site.name, "%s", site->series->name);
    snprintf(config->site.time_zone, sizeof config->site.time_zone, "%s", info->zone);
    snprintf(config->hash, sizeof config->hash, "%016d", 1);
    config->bus_count = config->map_count = 1;
    config->maps = &site->map;
    config->map_texts = &site->map_text;
    for (int m = 0; m < SERIES_METERS && info->meters[m].name; m++, config->meter_count++)
        config->meters[m] = (struct config_meter){ .number = m + 1,
                                                   .unit_id = m + 1,
                                                   .role = info->meters[m].role,
                                                   .delivers_by_export = true,
                                                   .plane_azimuth = info->azimuth,
                                                   .tilt = info->tilt,
                                                   .rated_w = panel_site_rated_w(site->series, m),
                                                   .ct_primary = 1,
                                                   .ct_secondary = 1,
                                                   .vt_primary = 1,
                                                   .vt_secondary = 1 };
    for (int m = 0; m < config->meter_count; m++)
        snprintf(config->meters[m].name, sizeof config->meters[m].name, "%s", info->meters[m].name);
}

static void read_clock(void *self, struct instant *now)
{
    const struct panel_site *site = self;
    *now = (struct instant){ .boot_us = (site->now_s - site->series->at_s[0] + BOOTED_S) * 1000000,
                             .wall_us = site->now_s * 1000000,
                             .synchronised = true };
}

bool panel_site_start(struct panel_site *site, const struct dataset *series, const char *database,
                      int64_t from_s)
{
    bool fatal;
    memset(site, 0, sizeof *site);
    site->series = series;
    site->now_s = from_s;
    if (!load_panel(site) ||
        plan_make(&site->plan, &site->map, site->map.max_registers, (struct line_cost){ 1, 0 }) != 0)
        return false;
    configure(site);
    counting_init(&site->counting, site->scenario, 1);
    counting_advance(&site->counting, (from_s - series->at_s[0]) * 1000);
    site->panel = (struct panel){ .scenario = site->scenario, .counting = &site->counting };
    site->inbox = inbox_create(64);
    struct collect_setup setup = { .config = &site->config,
                                   .generation = GENERATION,
                                   .database = database,
                                   .boot = "replay",
                                   .inbox = site->inbox,
                                   .clock = { read_clock, site } };
    site->collect = collect_create(&setup, &fatal);
    return site->collect != NULL;
}

void panel_site_stop(struct panel_site *site)
{
    if (site->collect)
        collect_finish(site->collect);
    collect_destroy(site->collect);
    inbox_destroy(site->inbox);
    scenario_free(site->scenario);
    memset(site, 0, sizeof *site);
}

/* One request on its way to the panel and back; false: no answer with registers. */
static bool ask(struct panel_site *site, int meter, uint16_t index, struct message *message)
{
    const struct request *request = &site->plan.requests[index];
    struct adu adu = { .unit = (uint8_t)site->config.meters[meter].unit_id,
                       .transaction = (uint16_t)site->polls,
                       .pdu = { request->function, (uint8_t)(request->address >> 8),
                                (uint8_t)request->address, (uint8_t)(request->count >> 8),
                                (uint8_t)request->count },
                       .pdu_size = 5 };
    uint8_t frame[ADU_MAX_SIZE];
    struct reply reply;
    size_t size = adu_build_mbap(&adu, frame);
    reply_request(&site->panel, 0, &adu, frame, size, &reply);
    if (reply.size != MBAP_HEAD + 2U + 2U * request->count || reply.bytes[MBAP_HEAD] != request->function)
        return false;
    *message = (struct message){ .kind = MESSAGE_ANSWER,
                                 .meter = (int16_t)meter,
                                 .request = index,
                                 .generation = GENERATION,
                                 .boot_us = (site->now_s - site->series->at_s[0] + BOOTED_S) * 1000000,
                                 .plan = &site->plan,
                                 .count = request->count };
    for (int i = 0; i < request->count; i++)
        message->registers[i] =
            (uint16_t)(reply.bytes[MBAP_HEAD + 2 + 2 * i] << 8 | reply.bytes[MBAP_HEAD + 3 + 2 * i]);
    return true;
}

static void cycle(struct panel_site *site, int meter)
{
    struct message message, end = {
        .kind = MESSAGE_CYCLE_END, .meter = (int16_t)meter, .generation = GENERATION, .plan = &site->plan
    };
    for (int32_t r = 0; r < site->plan.request_count && end.result == WIRE_OK; r++) {
        if (!site->silent && series_knows(site->series, site->now_s, site->now_s) &&
            ask(site, meter, (uint16_t)r, &message))
            inbox_put(site->inbox, &message);
        else
            end.result = WIRE_SILENT;
    }
    inbox_put(site->inbox, &end);
    if ((end.result != WIRE_OK) != site->collect->meters[meter].lost) {
        struct message state = { .kind = MESSAGE_METER_STATE,
                                 .meter = (int16_t)meter,
                                 .generation = GENERATION,
                                 .result = end.result };
        inbox_put(site->inbox, &state);
    }
}

static void poll(struct panel_site *site)
{
    counting_advance(&site->counting, (site->now_s - site->series->at_s[0]) * 1000);
    for (int m = 0; m < site->config.meter_count; m++)
        cycle(site, m);
    site->polls += site->config.meter_count;
    collect_turn(site->collect);
}

void panel_site_run(struct panel_site *site, int64_t to_s)
{
    int32_t poll_s = site->series->info.poll_s;
    if (site->polls == 0)
        poll(site); /* the data's first register */
    while (site->now_s - site->now_s % poll_s + poll_s <= to_s) {
        site->now_s += poll_s - site->now_s % poll_s;
        poll(site);
    }
}
