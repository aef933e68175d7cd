#include "worker.h"

#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <time.h>

#define TURN_US    2000000
#define PHASE_US   500000
/* SQLite needs some; the default of 8 MiB is address space that a small board may not have. */
#define STACK_SIZE (256 * 1024)

struct worker {
    struct collect *collect;
    pthread_t thread;
    pthread_mutex_t mutex;
    pthread_cond_t wake;
    bool stop;
    _Atomic int64_t progress_us;
    _Atomic(struct logbook *) logbook; /* given, not yet in use */
};

static int64_t boot_us_now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_BOOTTIME, &t);
    return (int64_t)t.tv_sec * 1000000 + t.tv_nsec / 1000;
}

/* Waits for the next turn; false when it is time to end. */
static bool wait_turn(struct worker *worker)
{
    struct timespec until;
    clock_gettime(CLOCK_REALTIME, &until);
    int64_t wall_us = (int64_t)until.tv_sec * 1000000 + until.tv_nsec / 1000;
    int64_t rest = TURN_US - (wall_us - PHASE_US) % TURN_US;
    clock_gettime(CLOCK_MONOTONIC, &until);
    int64_t ns = until.tv_nsec + rest * 1000;
    until.tv_sec += (time_t)(ns / 1000000000);
    until.tv_nsec = (long)(ns % 1000000000);
    pthread_mutex_lock(&worker->mutex);
    while (!worker->stop && pthread_cond_timedwait(&worker->wake, &worker->mutex, &until) != ETIMEDOUT)
        ;
    bool go_on = !worker->stop;
    pthread_mutex_unlock(&worker->mutex);
    return go_on;
}

static void *run(void *self)
{
    struct worker *worker = self;
    do {
        worker->progress_us = boot_us_now();
        struct logbook *logbook = atomic_exchange(&worker->logbook, NULL);
        if (logbook)
            collect_use_logbook(worker->collect, logbook);
        collect_turn(worker->collect);
    } while (wait_turn(worker));
    return NULL;
}

struct worker *worker_start(struct collect *collect)
{
    struct worker *worker = calloc(1, sizeof *worker);
    pthread_condattr_t monotonic;
    pthread_attr_t small;
    if (!worker)
        return NULL;
    worker->collect = collect;
    worker->progress_us = boot_us_now();
    pthread_mutex_init(&worker->mutex, NULL);
    pthread_condattr_init(&monotonic);
    pthread_condattr_setclock(&monotonic, CLOCK_MONOTONIC);
    pthread_cond_init(&worker->wake, &monotonic);
    pthread_condattr_destroy(&monotonic);
    pthread_attr_init(&small);
    pthread_attr_setstacksize(&small, STACK_SIZE);
    int failed = pthread_create(&worker->thread, &small, run, worker);
    pthread_attr_destroy(&small);
    if (!failed)
        return worker;
    free(worker);
    return NULL;
}

void worker_give_logbook(struct worker *worker, struct logbook *logbook)
{
    logbook_free(atomic_exchange(&worker->logbook, logbook));
}

void worker_stop(struct worker *worker)
{
    if (!worker)
        return;
    pthread_mutex_lock(&worker->mutex);
    worker->stop = true;
    pthread_cond_signal(&worker->wake);
    pthread_mutex_unlock(&worker->mutex);
    pthread_join(worker->thread, NULL);
    logbook_free(worker->logbook);
    pthread_cond_destroy(&worker->wake);
    pthread_mutex_destroy(&worker->mutex);
    free(worker);
}

int64_t worker_progress(const struct worker *worker)
{
    return worker->progress_us;
}
