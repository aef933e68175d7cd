#include "thread.h"

#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <sys/eventfd.h>
#include <sys/prctl.h>
#include <unistd.h>

#include "bus.h"
#include "port.h"
#include "wire_modbus.h"

struct bus_thread {
    pthread_t id;
    struct bus *bus;
    struct wire_modbus *modbus;
    struct wire wire;
    int stop_fd;
    atomic_bool stopping;
    _Atomic int64_t progress_us, grid_us;
};

static void deliver(void *self, const struct message *message)
{
    inbox_put(self, message);
}

static void wait_until(struct bus_thread *thread, int64_t at_us, int64_t now_us)
{
    int64_t latest_us = now_us + BUS_THREAD_STEP_US;
    if (at_us > now_us)
        port_wait(-1, thread->stop_fd, at_us < latest_us ? at_us : latest_us);
}

/* Does what the machine wants; false when told to stop before a request. */
static bool act(struct bus_thread *thread, const struct action *action, int64_t now_us, char *why,
                struct wire_reply *reply, struct outcome *outcome)
{
    const struct wire *wire = &thread->wire;
    *outcome = (struct outcome){ .kind = action->kind };
    switch (action->kind) {
    case ACTION_WAIT:
        wait_until(thread, action->at_us, now_us);
        break;
    case ACTION_OPEN:
        outcome->result = wire->ops->open(wire->self, why);
        outcome->why = why;
        break;
    case ACTION_LISTEN:
        outcome->result = wire->ops->listen(wire->self, action->for_us);
        break;
    case ACTION_ASK:
        if (action->at_us > now_us)
            port_wait_exactly(thread->stop_fd, action->at_us);
        if (atomic_load_explicit(&thread->stopping, memory_order_relaxed))
            return false;
        outcome->result =
            wire->ops->ask(wire->self, action->unit_id, &action->request, action->timeout_us, reply);
        outcome->reply = reply;
        break;
    case ACTION_DISCARD:
        outcome->result = wire->ops->discard(wire->self, action->for_us, action->silence_us);
        break;
    case ACTION_CLOSE:
        wire->ops->close(wire->self);
        break;
    }
    return true;
}

static void *run(void *argument)
{
    struct bus_thread *thread = argument;
    struct action action;
    struct outcome outcome;
    struct wire_reply reply = { .count = 0 };
    char why[WIRE_WHY_SIZE] = "";
    const struct outcome *last = NULL;
    prctl(PR_SET_TIMERSLACK, 1000UL); /* ns: the silence of a line is counted in tens of us */
    while (!atomic_load_explicit(&thread->stopping, memory_order_relaxed)) {
        int64_t now_us = port_now_us();
        atomic_store_explicit(&thread->progress_us, now_us, memory_order_relaxed);
        bus_set_grid(thread->bus, atomic_load_explicit(&thread->grid_us, memory_order_relaxed));
        bus_step(thread->bus, now_us, last, &action);
        if (!act(thread, &action, now_us, why, &reply, &outcome))
            break;
        last = &outcome;
    }
    thread->wire.ops->close(thread->wire.self);
    return NULL;
}

/* Signals belong to the main thread; a broken pipe is an errno here. */
static bool start(struct bus_thread *thread)
{
    enum { STACK_SIZE = 128 * 1024 };
    sigset_t all, before;
    pthread_attr_t attributes;
    if (pthread_attr_init(&attributes) != 0)
        return false;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    bool started = pthread_attr_setstacksize(&attributes, STACK_SIZE) == 0 &&
                   pthread_create(&thread->id, &attributes, run, thread) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    pthread_attr_destroy(&attributes);
    return started;
}

static void release(struct bus_thread *thread)
{
    bus_destroy(thread->bus);
    wire_modbus_destroy(thread->modbus);
    if (thread->stop_fd >= 0)
        close(thread->stop_fd);
    free(thread);
}

struct bus_thread *bus_thread_start(const struct config *config, int32_t bus, uint32_t generation,
                                    struct inbox *inbox, int64_t grid_us)
{
    struct bus_thread *thread = calloc(1, sizeof *thread);
    if (!thread)
        return NULL;
    thread->stop_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    thread->bus = bus_create(config, bus, generation, deliver, inbox);
    thread->modbus = wire_modbus_create(&config->buses[bus], thread->stop_fd);
    atomic_store(&thread->progress_us, port_now_us());
    atomic_store(&thread->grid_us, grid_us);
    if (thread->stop_fd >= 0 && thread->bus && thread->modbus) {
        thread->wire = wire_modbus_wire(thread->modbus);
        if (start(thread))
            return thread;
    }
    release(thread);
    return NULL;
}

void bus_thread_halt(struct bus_thread *thread)
{
    atomic_store(&thread->stopping, true);
    eventfd_write(thread->stop_fd, 1);
}

void bus_thread_stop(struct bus_thread *thread)
{
    if (!thread)
        return;
    bus_thread_halt(thread);
    pthread_join(thread->id, NULL);
    release(thread);
}

int64_t bus_thread_progress(const struct bus_thread *thread)
{
    return atomic_load_explicit(&thread->progress_us, memory_order_relaxed);
}

void bus_thread_set_grid(struct bus_thread *thread, int64_t offset_us)
{
    atomic_store_explicit(&thread->grid_us, offset_us, memory_order_relaxed);
}
