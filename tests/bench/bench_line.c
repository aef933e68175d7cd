/* links: daemon/bus/?*.c daemon/record/quantity.c daemon/log.c */
/* Keeps a serial line busy through the real bus thread, for the paced line of
 * `make bench`: meters 1..4, input registers 0..11, 70..71 and 342..349.
 *
 *     bench_line TTY BAUD CYCLES [FIFO_WAIT_US [PERIOD_MS]]
 *
 * Prints requests, answers and CPU time per request. Exit 1 when a request
 * was not answered. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>

#include "thread.h"

enum { METERS = 4, BLOCKS = 3 };

static const struct {
    int32_t first, count;
} blocks[BLOCKS] = { { 0, 12 }, { 0x46, 2 }, { 342, 8 } };

static void make_map(struct register_map *map)
{
    *map = (struct register_map){ .name = "bench", .max_registers = 125, .range_count = BLOCKS };
    for (int32_t b = 0; b < BLOCKS; b++) {
        map->ranges[b] = (struct readable_range){ 4, blocks[b].first, blocks[b].first + blocks[b].count - 1 };
        for (int32_t i = 0; i < blocks[b].count; i += 2)
            map->points[map->point_count++] = (struct point){
                .quantity = Q_POWER,
                .function = 4,
                .type = TYPE_FLOAT32,
                .read_class = READ_POLL,
                .size = 2,
                .multiplier = 1,
                .divisor = 1,
                .address = blocks[b].first + i,
                .scale_address = NO_REGISTER,
            };
    }
}

static double cpu_us(void)
{
    struct rusage usage;
    getrusage(RUSAGE_SELF, &usage);
    return 1e6 * (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) +
           (double)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec);
}

int main(int argc, char **argv)
{
    static struct config config;
    static struct register_map map;
    if (argc < 4) {
        fprintf(stderr, "usage: bench_line TTY BAUD CYCLES [FIFO_WAIT_US [PERIOD_MS]]\n");
        return 2;
    }
    make_map(&map);
    config = (struct config){ .bus_count = 1, .meter_count = METERS, .map_count = 1, .maps = &map };
    config.site.interval_s = 300;
    config.site.poll_period_ms = argc > 5 ? (int32_t)strtol(argv[5], NULL, 10) : 1;
    struct config_bus *bus = &config.buses[0];
    *bus = (struct config_bus){
        .name = "line", .kind = BUS_RTU, .parity = PARITY_NONE, .stop_bits = 2, .response_timeout_ms = 500
    };
    snprintf(bus->device, sizeof bus->device, "%s", argv[1]);
    bus->baud = (int32_t)strtol(argv[2], NULL, 10);
    bus->fifo_wait_us = argc > 4 ? (int32_t)strtol(argv[4], NULL, 10) : 0;
    for (int32_t m = 0; m < METERS; m++)
        config.meters[m] = (struct config_meter){ .number = m + 1, .unit_id = m + 1 };
    long wanted = strtol(argv[3], NULL, 10) * METERS * BLOCKS, answers = 0, failures = 0;
    struct inbox *inbox = inbox_create(4096);
    double before_us = cpu_us();
    struct bus_thread *thread = inbox ? bus_thread_start(&config, 0, 1, inbox, 0) : NULL;
    if (!thread) {
        fprintf(stderr, "cannot start\n");
        return 2;
    }
    struct message message;
    while (answers + failures < wanted) {
        nanosleep(&(struct timespec){ .tv_nsec = 20000000 }, NULL);
        while (inbox_take(inbox, &message)) {
            answers += message.kind == MESSAGE_ANSWER;
            failures += message.kind == MESSAGE_CYCLE_END && message.result != 0;
            if (message.kind == MESSAGE_BUS_STATE && message.result != 0) {
                fprintf(stderr, "%s\n", message.text);
                failures = wanted;
            }
        }
    }
    bus_thread_stop(thread);
    printf("answers=%ld failures=%ld cpu_us_per_request=%.1f\n", answers, failures,
           (cpu_us() - before_us) / (double)(answers + failures));
    inbox_destroy(inbox);
    return failures != 0;
}
