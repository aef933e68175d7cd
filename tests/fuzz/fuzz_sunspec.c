/* links: daemon/bus/sunspec.c daemon/bus/sunspec_models.c daemon/bus/plan.c */
/* A device that answers anything to a walk, and the plan of what it found.
 *
 * Input: two bytes of options, then an answer per request: 0 = none, else four
 * bytes follow. libFuzzer. */
#include <stdlib.h>
#include <string.h>

#include "sunspec.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static void check(bool holds)
{
    if (!holds) {
        abort();
    }
}

static void check_plan(const struct register_map *map)
{
    static struct plan plan;
    struct line_cost cost = { .request_us = 27918, .register_us = 2292 };
    if (plan_make(&plan, map, map->max_registers, cost) != 0) {
        return;
    }
    check(plan.point_count == map->point_count && plan.request_count > 0);
    for (int32_t r = 0; r < plan.request_count; r++) {
        const struct request *request = &plan.requests[r];
        int32_t end = request->address + request->count;
        check(request->count >= 1 && request->count <= map->max_registers && end <= 65536);
        for (int32_t p = request->first_point; p < request->first_point + request->point_count; p++) {
            const struct point *point = &plan.points[p];
            check(point->address >= request->address && point->address + point->size <= end);
            check(point->scale_address == NO_REGISTER ||
                  (point->scale_address >= request->address && point->scale_address < end));
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct sunspec_walk walk;
    struct request request;
    int asked = 0;
    if (size < 2) {
        return 0;
    }
    sunspec_start(&walk, data[0] & 1 ? SUNSPEC_TRY_BASES : data[0] * 256, data[1] % 126, data[0] & 2,
                  data[0] & 4);
    data += 2;
    size -= 2;
    while (sunspec_next(&walk, &request) == SUNSPEC_ASKING) {
        uint16_t registers[2];
        bool answers = size >= 5 && data[0] != 0;
        size_t used = answers ? 5 : size > 0;
        if (answers) {
            registers[0] = (uint16_t)(data[1] << 8 | data[2]);
            registers[1] = (uint16_t)(data[3] << 8 | data[4]);
        }
        sunspec_take(&walk, answers ? registers : NULL);
        data += used;
        size -= used;
        check(++asked <= 3 + SUNSPEC_MAX_MODELS + 1 && request.address <= 65534);
    }
    check((walk.state == SUNSPEC_FAILED) == (walk.reason[0] != '\0'));
    if (walk.state == SUNSPEC_DONE) {
        check_plan(&walk.map);
    }
    return 0;
}
