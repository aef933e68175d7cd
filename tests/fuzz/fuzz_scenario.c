/* links: tools/panel/reply.c tools/panel/adu.c tools/panel/world.c tools/panel/counting.c tools/panel/replay.c tools/panel/fault.c tools/panel/layout.c tools/panel/models.c tools/panel/scenario.c tools/panel/scenario_value.c tools/panel/scenario_world.c tools/panel/scenario_meter.c tools/panel/scenario_fault.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c */
/* Any text as a scenario of the panel: refused with a line that says so, or
 * played for a second, each meter asked meanwhile. Beside the file are the
 * shipped maps and replay.csv: what follows the first NUL. libFuzzer. */
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "reply.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig loses a string at a syntax error; called by LeakSanitizer */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static char directory[] = "/tmp/meterbook-fuzz-XXXXXX", scenario_path[64], maps_path[64], replay_path[64];

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void leave(void)
{
    unlink(scenario_path);
    unlink(maps_path);
    unlink(replay_path);
    rmdir(directory);
}

/* scenario.conf and maps in a directory of their own, until the end */
static void make_place(void)
{
    char *maps = realpath("config/maps", NULL);
    check(maps && mkdtemp(directory));
    snprintf(scenario_path, sizeof scenario_path, "%s/scenario.conf", directory);
    snprintf(maps_path, sizeof maps_path, "%s/maps", directory);
    snprintf(replay_path, sizeof replay_path, "%s/replay.csv", directory);
    check(symlink(maps, maps_path) == 0 && atexit(leave) == 0);
    free(maps);
}

static void write_file(const char *path, const uint8_t *data, size_t size)
{
    int file = open(path, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    check(file >= 0 && write(file, data, size) == (ssize_t)size && close(file) == 0);
}

static void hear(void *self, bool error, const char *line)
{
    (void)error;
    check(line[0] != '\0' && !strchr(line, '\n'));
    ++*(int *)self;
}

static void ask(struct panel *panel, int meter, uint16_t address, uint16_t count)
{
    static struct reply answer;
    const struct scenario_meter *asked = &panel->scenario->meters[meter];
    struct adu request = { .unit = (uint8_t)asked->unit_id,
                           .transaction = 7,
                           .pdu_size = 5,
                           .pdu = { 3, (uint8_t)(address >> 8), (uint8_t)address, (uint8_t)(count >> 8),
                                    (uint8_t)count } };
    uint8_t frame[ADU_MAX_SIZE];
    size_t size = panel->scenario->buses[asked->bus].transport == TRANSPORT_TCP
                      ? adu_build_mbap(&request, frame)
                      : adu_build_rtu(&request, frame);
    reply_request(panel, asked->bus, &request, frame, size, &answer);
    check(answer.size <= sizeof answer.bytes && answer.delay_ms >= 0);
}

static void play(struct scenario *scenario)
{
    static struct counting counting;
    struct panel panel = { .scenario = scenario, .counting = &counting };
    counting_init(&counting, scenario, 60);
    for (int64_t at_ms = 0; at_ms < 1000; at_ms += 250) {
        counting_advance(&counting, at_ms);
        panel.elapsed_ms = at_ms;
        for (int m = 0; m < scenario->meter_count; m++) {
            const struct layout *layout = &scenario->meters[m].layout;
            for (int s = 0; s < layout->span_count; s++)
                ask(&panel, m, (uint16_t)layout->spans[s].from,
                    (uint16_t)(layout->spans[s].count < 125 ? layout->spans[s].count : 125));
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    int said = 0;
    struct problems problems = { .say = hear, .self = &said };
    if (scenario_path[0] == '\0')
        make_place();
    const uint8_t *end = size > 0 ? memchr(data, 0, size) : NULL;
    size_t length = end ? (size_t)(end - data) : size;
    write_file(scenario_path, data, length);
    write_file(replay_path, end ? end + 1 : data, end ? size - length - 1 : 0);
    struct scenario *scenario = scenario_load(scenario_path, &problems);
    check((scenario == NULL) == (problems.errors > 0) && problems.errors + problems.warnings == said);
    if (scenario)
        play(scenario);
    scenario_free(scenario);
    return 0;
}
