#include "service.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "boot.h"
#include "civil.h"
#include "clock_real.h"
#include "collect.h"
#include "inbox.h"
#include "log.h"
#include "thread.h"
#include "worker.h"

#define STALLED_DISK_US INT64_C(600000000)
#define STALLED_BUS_US  INT64_C(120000000)

struct service {
    struct config *config;
    struct inbox *inbox;
    struct collect *collect;
    struct worker *worker;
    struct bus_thread *buses[CONFIG_MAX_BUSES];
    int64_t grid_us;
    int lock;
    char boot[BOOT_TEXT_SIZE];
    char latest[CONFIG_PATH_SIZE + 16];
};

/* Runs in the worker's thread, and once before the buses are there. */
static void on_grid(void *self, int64_t offset_us)
{
    struct service *service = self;
    service->grid_us = offset_us;
    for (int32_t i = 0; i < service->config->bus_count; i++)
        if (service->buses[i])
            bus_thread_set_grid(service->buses[i], offset_us);
}

/* Room for what all meters answer in twenty seconds. */
static int32_t inbox_size(const struct config *config)
{
    int64_t per_meter = 20000 / config->site.poll_period_ms * 4;
    int64_t size = 64 + config->meter_count * per_meter;
    return size > 8192 ? 8192 : (int32_t)size;
}

static bool take_places(struct service *service, bool *fatal)
{
    const struct config *config = service->config;
    char path[CONFIG_PATH_SIZE + 16];
    if (mkdir(config->runtime, 0750) != 0 && errno != EEXIST) {
        log_write(LOG_ERROR, "cannot make the runtime directory '%s': %s", config->runtime, strerror(errno));
        *fatal = true;
        return false;
    }
    snprintf(path, sizeof path, "%s-lock", config->database);
    service->lock = boot_lock(path);
    if (service->lock < 0) {
        *fatal = errno != EWOULDBLOCK;
        log_write(LOG_ERROR,
                  errno == EWOULDBLOCK ? "another daemon writes the record '%s' (%s)"
                                       : "cannot lock '%s': %s",
                  errno == EWOULDBLOCK ? config->database : path, strerror(errno));
        return false;
    }
    if (boot_id(config->runtime, service->boot) != 0) {
        log_write(LOG_ERROR, "cannot keep a boot id in '%s': %s", config->runtime, strerror(errno));
        return false;
    }
    snprintf(service->latest, sizeof service->latest, "%s/latest", config->runtime);
    return true;
}

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    log_write(error ? LOG_ERROR : LOG_WARN, "%s", line);
}

/* What people wrote. A line with a mistake is left out, as is a logbook that
 * cannot be read: no reason to lose readings. */
static struct logbook *read_logbook(const struct config *config)
{
    char why[METER_NAMES_WHY];
    struct problems problems = { .say = say_problem };
    struct civil *civil = config->logbook[0] ? civil_open(config->site.time_zone) : NULL;
    if (!civil)
        return NULL;
    struct meter_names *names = meter_names_load(config->database, why);
    struct logbook_site site = { civil, config, names };
    struct logbook *logbook = names ? logbook_load(config->logbook, &site, &problems) : NULL;
    if (!names)
        log_write(LOG_WARN, "the logbook is not read: cannot read the names of meters in '%s': %s",
                  config->database, why);
    if (logbook)
        logbook_sort(logbook);
    meter_names_free(names);
    civil_close(civil);
    return logbook;
}

static bool start_all(struct service *service, uint32_t generation, bool *fatal)
{
    const struct config *config = service->config;
    service->inbox = inbox_create(inbox_size(config));
    if (!service->inbox)
        return false;
    struct collect_setup setup = {
        .config = config,
        .logbook = read_logbook(config),
        .generation = generation,
        .database = config->database,
        .boot = service->boot,
        .inbox = service->inbox,
        .clock = clock_real,
        .latest = service->latest,
        .on_grid = on_grid,
        .self = service,
    };
    service->collect = collect_create(&setup, fatal);
    if (!service->collect) {
        logbook_free(setup.logbook);
        return false;
    }
    for (int32_t i = 0; i < config->bus_count; i++) {
        service->buses[i] = bus_thread_start(config, i, generation, service->inbox, service->grid_us);
        if (!service->buses[i]) {
            log_write(LOG_ERROR, "cannot start bus '%s': %s", config->buses[i].name, strerror(errno));
            return false;
        }
    }
    service->worker = worker_start(service->collect);
    return service->worker != NULL;
}

struct service *service_start(struct config *config, uint32_t generation, bool *fatal)
{
    struct service *service = calloc(1, sizeof *service);
    *fatal = false;
    if (!service)
        return NULL;
    service->config = config;
    service->lock = -1;
    if (take_places(service, fatal) && start_all(service, generation, fatal))
        return service;
    service->config = NULL; /* still the caller's */
    for (int32_t i = 0; i < CONFIG_MAX_BUSES; i++)
        bus_thread_stop(service->buses[i]);
    service_stop(service);
    return NULL;
}

void service_stop(struct service *service)
{
    if (!service)
        return;
    for (int32_t i = 0; service->config && i < service->config->bus_count; i++)
        if (service->buses[i])
            bus_thread_halt(service->buses[i]);
    worker_stop(service->worker);
    if (service->worker) {
        collect_turn(service->collect);
        collect_finish(service->collect);
    }
    for (int32_t i = 0; service->config && i < service->config->bus_count; i++)
        bus_thread_stop(service->buses[i]);
    collect_destroy(service->collect);
    inbox_destroy(service->inbox);
    config_free(service->config);
    if (service->lock >= 0)
        close(service->lock);
    free(service);
}

bool service_goes_on(struct service *service, const struct config *config)
{
    if (!config_same(service->config, config))
        return false;
    struct logbook *logbook = read_logbook(service->config);
    if (logbook)
        worker_give_logbook(service->worker, logbook);
    return true;
}

bool service_alive(const struct service *service)
{
    struct timespec t;
    clock_gettime(CLOCK_BOOTTIME, &t);
    int64_t now_us = (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
    for (int32_t i = 0; i < service->config->bus_count; i++)
        if (now_us - bus_thread_progress(service->buses[i]) > STALLED_BUS_US)
            return false;
    return now_us - worker_progress(service->worker) <= STALLED_DISK_US;
}
