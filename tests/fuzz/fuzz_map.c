/* links: daemon/bus/plan.c daemon/decode.c daemon/record/muldiv.c daemon/record/map_file.c daemon/record/map_check.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/quantity.c tools/panel/layout.c */
/* Any text as a register map: refused with a line that says so, or taken. Then
 * its plan asks only for registers that a meter of this map has, and what that
 * meter answers is decoded. libFuzzer; the corpus is config/maps and tests/config/maps. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "decode.h"
#include "layout.h"
#include "map_file.h"
#include "plan.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig loses a string at a syntax error; called by LeakSanitizer */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static void check(bool holds)
{
    if (!holds)
        abort();
}

static void hear(void *self, bool error, const char *line)
{
    (void)error;
    check(line[0] != '\0' && !strchr(line, '\n'));
    ++*(int *)self;
}

static void check_points(const struct register_map *map)
{
    for (int32_t i = 0; i < map->point_count; i++)
        check(map->points[i].size >= 1 && map->points[i].address + map->points[i].size <= 65536 &&
              map->points[i].divisor != 0);
}

static void decode_request(const struct plan *plan, const struct request *request, const uint16_t *registers)
{
    for (int32_t p = request->first_point; p < request->first_point + request->point_count; p++) {
        const struct point *point = &plan->points[p];
        const struct quantity_info *info = quantity_info(point->quantity);
        struct decoded out;
        char text[TEXT_SIZE];
        check(point->address >= request->address &&
              point->address + point->size <= request->address + request->count);
        if (info->kind == KIND_TEXT)
            decode_text(point, registers, request->address, text);
        else if (decode_point(point, registers, request->address, &out) == DECODE_OK)
            check(info->kind != KIND_COUNTER || (out.value >= 0 && out.step >= 1));
    }
}

static void try_plan(const struct register_map *map)
{
    static struct plan plan;
    static struct layout layout;
    struct shown shown = { .serial = "INVENTED-1" };
    uint16_t registers[MAP_MAX_REGISTERS];
    struct line_cost cost = { .request_us = 27918, .register_us = 2292 };
    if (plan_make(&plan, map, map->max_registers, cost) != 0 || !layout_from_map(&layout, map))
        return;
    for (int i = 0; i < QUANTITY_COUNT; i++) {
        shown.has[i] = i % 5 != 4;
        shown.value[i] = INT64_C(123456789) * i;
    }
    for (int32_t r = 0; r < plan.request_count; r++) {
        const struct request *request = &plan.requests[r];
        check(layout_read(&layout, &shown, request->function, request->address, request->count, registers) ==
              LAYOUT_OK);
        decode_request(&plan, request, registers);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct register_map map;
    char path[64];
    int said = 0;
    struct problems problems = { .say = hear, .self = &said };
    struct source source;
    int descriptor = memfd_create("fuzz", 0);
    check(descriptor >= 0 && write(descriptor, data, size) == (ssize_t)size);
    snprintf(path, sizeof path, "/proc/self/fd/%d", descriptor);
    map_file_read(&map, &source, path);
    bool good = source_say(&source, &problems);
    check(good == (problems.errors == 0) && problems.errors + problems.warnings == said);
    source_close(&source);
    close(descriptor);
    if (good) {
        check_points(&map);
        try_plan(&map);
    }
    return 0;
}
