/* links: tests/sim/allocation.c tests/sim/happen.c tests/sim/hostile.c tests/sim/invariant_truth.c tests/sim/invariants.c tests/sim/random.c tests/sim/record.c tests/sim/scenario.c tests/sim/scenario_run.c tests/sim/sim.c tests/sim/sim_wire.c tests/sim/speed.c tests/sim/truth.c tests/fake/curves.c tests/fake/disk.c COLLECTOR daemon/bus/bus.c daemon/bus/cycle.c daemon/bus/cycle_answer.c daemon/bus/frame.c daemon/bus/plan.c daemon/bus/sunspec.c daemon/bus/sunspec_models.c */
/* The simulation: scenario files, random seeds, speed.
 *
 *     simulate [--tell] FILE ...            scenarios
 *     simulate --random COUNT [FIRST]       random seeds; METERBOOK_SEED=N replays one and tells what happens
 *     simulate --speed DAYS
 *     simulate --hostile MOUNTS             power cuts that turn blocks to noise
 *
 * The last line is `simulate: N passed, N failed`. METERBOOK_KEEP=PATH keeps the record of a run that failed.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "allocation.h"
#include "disk.h"
#include "hostile.h"
#include "random.h"
#include "scenario.h"
#include "speed.h"

static struct sim sim;
static struct scenario scenario;
static int64_t passed, failed;

static void keep_record(void)
{
    const char *to = getenv("METERBOOK_KEEP");
    char path[4096];
    if (!to)
        return;
    snprintf(path, sizeof path, "%s-wal", to);
    disk_copy_out("record.db", to);
    disk_copy_out("record.db-wal", path);
}

/* Runs one thing; true when nothing failed. */
static bool attempt(void (*run)(int64_t argument), int64_t argument)
{
    jmp_buf escape;
    sim.escape = &escape;
    if (setjmp(escape) == 0) {
        run(argument);
        passed++;
        return true;
    }
    allocation_count(false);
    keep_record();
    sim_finish(&sim);
    failed++;
    return false;
}

static int64_t runs;

static void run_scenario(int64_t unused)
{
    (void)unused;
    runs = scenario_run(&sim, &scenario);
}

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    (void)error;
    printf("%s\n", line);
}

static void take_file(const char *path)
{
    struct problems problems = { .say = say_problem };
    const char *name = strrchr(path, '/') ? strrchr(path, '/') + 1 : path;
    if (!scenario_read(&scenario, path, &problems)) {
        failed++;
        return;
    }
    sim.name = name;
    if (!attempt(run_scenario, 0))
        printf("  FAIL  %-28s run %llu: %s\n", name, (unsigned long long)sim.seed, sim.failure);
    else if (runs > 1)
        printf("  ok    %-28s %s (%lld runs)\n", name, scenario.checks, (long long)runs);
    else
        printf("  ok    %-28s %s\n", name, scenario.checks);
}

static void run_random(int64_t seed)
{
    random_run(&sim, (uint64_t)seed);
}

static void take_seeds(int64_t count, int64_t first)
{
    const char *one = getenv("METERBOOK_SEED");
    if (one) {
        first = strtoll(one, NULL, 10);
        count = 1;
        sim.telling = true;
    }
    printf("seeds %lld to %lld\n", (long long)first, (long long)(first + count - 1));
    fflush(stdout);
    for (int64_t seed = first; seed < first + count; seed++)
        if (!attempt(run_random, seed))
            printf("  FAIL  METERBOOK_SEED=%lld replays it: %s\n", (long long)seed, sim.failure);
}

static void run_speed(int64_t days)
{
    speed_measure(&sim, days);
}

static void run_hostile(int64_t mounts)
{
    hostile_measure(&sim, mounts);
}

int main(int argc, char **argv)
{
    if (!allocation_install())
        printf("skipped: invariant 10: the sanitizer has the allocator\n");
    for (int i = 1; i < argc; i++) {
        int64_t number = i + 1 < argc ? strtoll(argv[i + 1], NULL, 10) : 0;
        if (strcmp(argv[i], "--tell") == 0) {
            sim.telling = true;
        } else if (strcmp(argv[i], "--speed") == 0) {
            if (!attempt(run_speed, number))
                printf("  FAIL  speed: %s\n", sim.failure);
            i++;
        } else if (strcmp(argv[i], "--hostile") == 0) {
            if (!attempt(run_hostile, number))
                printf("  FAIL  hostile disk: %s\n", sim.failure);
            i++;
        } else if (strcmp(argv[i], "--random") == 0) {
            bool given = i + 2 < argc && argv[i + 2][0] >= '0' && argv[i + 2][0] <= '9';
            take_seeds(number, given ? strtoll(argv[i + 2], NULL, 10) : (int64_t)time(NULL) * 1000);
            i += given ? 2 : 1;
        } else {
            take_file(argv[i]);
        }
        fflush(stdout);
    }
    printf("simulate: %lld passed, %lld failed\n", (long long)passed, (long long)failed);
    return failed > 0;
}
