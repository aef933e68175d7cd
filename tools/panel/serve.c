#include "serve.h"

#include <errno.h>
#include <inttypes.h>
#include <poll.h>
#include <signal.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

enum {
    FRAME_GAP_US = 50000, /* a rest of a frame older than this belongs to nothing */
    LOOK_US = 10000,      /* how often to see whether somebody opened the terminal */
};

int64_t serve_now(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static struct scenario_bus *bus_of(const struct serve *serve, const struct link *link)
{
    return &serve->panel->scenario->buses[link->bus];
}

static struct link *free_link(struct serve *serve)
{
    for (struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++)
        if (link->kind == LINK_NONE)
            return link;
    return NULL;
}

static bool plug(struct serve *serve, int index)
{
    struct scenario_bus *bus = &serve->panel->scenario->buses[index];
    struct link *link = free_link(serve);
    if (link == NULL)
        return false;
    bool good = bus->transport == TRANSPORT_RTU ? link_open_terminal(link, bus) : link_listen(link, bus);
    if (!good) {
        fprintf(stderr, "bus %s cannot be opened ('%s' port %d): %s\n", bus->name,
                bus->transport == TRANSPORT_RTU ? bus->link : bus->address, (int)bus->port, strerror(errno));
        return false;
    }
    link->bus = index;
    serve->plugged[index] = true;
    return true;
}

static void unplug(struct serve *serve, int index)
{
    for (struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++)
        if (link->bus == index)
            link_close(link, bus_of(serve, link));
    serve->plugged[index] = false;
}

bool serve_open(struct serve *serve, struct panel *panel, struct timeline *timeline, FILE *log)
{
    memset(serve, 0, sizeof *serve);
    serve->panel = panel;
    serve->timeline = timeline;
    serve->log = log;
    for (int i = 0; i < panel->scenario->bus_count; i++)
        if (!plug(serve, i)) {
            serve_close(serve);
            return false;
        }
    return true;
}

void serve_close(struct serve *serve)
{
    for (struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++)
        link_close(link, bus_of(serve, link));
}

void serve_print_addresses(const struct serve *serve, FILE *out)
{
    for (const struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++) {
        const struct scenario_bus *bus = bus_of(serve, link);
        if (link->kind == LINK_LISTENER)
            fprintf(out, "bus %s %s %s:%d\n", bus->name,
                    bus->transport == TRANSPORT_TCP ? "tcp" : "rtu-over-tcp", bus->address, (int)bus->port);
        else if (link->kind == LINK_TERMINAL)
            fprintf(out, "bus %s rtu %s\n", bus->name,
                    bus->link[0] != '\0' ? bus->link : link_terminal_path(link));
    }
}

static void write_log(const struct serve *serve, const struct link *link, const struct adu *request,
                      const char *verdict)
{
    const uint8_t *pdu = request->pdu;
    int64_t wall_ms = serve->timeline->start_wall_ms + serve->panel->elapsed_ms;
    if (serve->log == NULL)
        return;
    fprintf(serve->log, "%" PRId64 ".%03d bus %s unit %d function %d address %d count %d: %s\n",
            wall_ms / 1000, (int)(wall_ms % 1000), bus_of(serve, link)->name, request->unit, pdu[0],
            request->pdu_size >= 5 ? pdu[1] << 8 | pdu[2] : -1,
            request->pdu_size >= 5 ? pdu[3] << 8 | pdu[4] : -1, verdict);
    fflush(serve->log);
}

/* Time that so many characters of 11 bits take on the bus's line. */
static int64_t line_us(const struct scenario_bus *bus, size_t characters)
{
    return bus->transport == TRANSPORT_RTU && bus->baud > 0 ? (int64_t)characters * 11000000 / bus->baud : 0;
}

/* false: the connection ends here. */
static bool handle(struct serve *serve, struct link *link, const struct adu *request, size_t frame_size,
                   int64_t now_us)
{
    const struct scenario_bus *bus = bus_of(serve, link);
    struct panel *panel = serve->panel;
    struct reply answer;
    int64_t writes = panel->write_functions;

    timeline_catch_up(serve->timeline, now_us);
    reply_request(panel, link->bus, request, link->input, frame_size, &answer);
    write_log(serve, link, request, answer.verdict);
    if (panel->write_functions > writes)
        fprintf(stderr, "write function %d seen on bus %s, unit %d\n", request->pdu[0], bus->name,
                request->unit);
    if (answer.close)
        return false;
    if (answer.size == 0)
        return true;
    int64_t due_us = now_us + answer.delay_ms * 1000 + line_us(bus, frame_size + answer.size);
    if (!link_send(link, answer.bytes, answer.size, due_us, answer.drip_ms * 1000))
        fprintf(stderr, "bus %s: too many answers are waiting, one is dropped\n", bus->name);
    return true;
}

static bool take_frames(struct serve *serve, struct link *link, int64_t now_us)
{
    bool mbap = bus_of(serve, link)->transport == TRANSPORT_TCP;
    while (link->input_size > 0) {
        struct adu request;
        size_t used = 0;
        enum adu_found found = mbap ? adu_parse_mbap(link->input, link->input_size, &request, &used)
                                    : adu_parse_rtu(link->input, link->input_size, &request, &used);
        if (found == ADU_NONE)
            return link->input_size < LINK_INPUT_SIZE;
        if (found == ADU_BAD) {
            /* a serial meter says nothing to a frame with a bad CRC */
            request = (struct adu){ .unit = link->input[0] };
            write_log(serve, link, &request, "not a request");
            link->input_size = 0;
            return !mbap;
        }
        if (!handle(serve, link, &request, used, now_us))
            return false;
        link->input_size -= used;
        memmove(link->input, link->input + used, link->input_size);
    }
    return true;
}

/* false: the other side is gone. */
static bool read_link(struct serve *serve, struct link *link, int64_t now_us)
{
    if (bus_of(serve, link)->transport != TRANSPORT_TCP && now_us - link->last_us > FRAME_GAP_US)
        link->input_size = 0;
    ssize_t got = read(link->fd, link->input + link->input_size, LINK_INPUT_SIZE - link->input_size);
    if (got < 0 && (errno == EAGAIN || errno == EINTR))
        return true;
    if (got <= 0)
        return false;
    link->last_us = now_us;
    link->input_size += (size_t)got;
    return take_frames(serve, link, now_us);
}

static void accept_one(struct serve *serve, const struct link *listener, int64_t now_us)
{
    int clients = 0;
    for (const struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++)
        clients += link->kind == LINK_STREAM && link->bus == listener->bus;
    struct link *link = free_link(serve);
    struct link surplus;
    if (link == NULL || clients >= bus_of(serve, listener)->clients) {
        if (link_accept(&surplus, listener))
            link_close(&surplus, NULL);
    } else if (link_accept(link, listener)) {
        link->last_us = now_us;
    }
}

static void react(struct serve *serve, struct link *link, short events, int64_t now_us)
{
    if (link->kind == LINK_LISTENER) {
        accept_one(serve, link, now_us);
    } else if ((events & POLLIN) != 0 && read_link(serve, link, now_us)) {
        return;
    } else if (link->kind == LINK_TERMINAL) {
        /* nobody has it open; what was under way is lost */
        link->absent_us = now_us + LOOK_US;
        link->input_size = 0;
        memset(link->outputs, 0, sizeof link->outputs);
    } else {
        link_close(link, bus_of(serve, link));
    }
}

/* Unplugging, plugging in, the other master: what a bus does without being asked. */
static int64_t bus_turn(struct serve *serve, int index, int64_t now_us)
{
    struct scenario_bus *bus = &serve->panel->scenario->buses[index];
    int64_t elapsed_ms = (now_us - serve->timeline->start_us) / 1000, next_us = INT64_MAX;
    const struct fault *foreign = NULL;
    bool plugged = true;
    for (const struct fault *fault = bus->faults; fault < bus->faults + bus->fault_count; fault++) {
        if (fault->kind != FAULT_UNPLUG && fault->kind != FAULT_FOREIGN_MASTER)
            continue;
        bool due = fault_due(fault, elapsed_ms);
        plugged = plugged && !(due && fault->kind == FAULT_UNPLUG);
        if (due && fault->kind == FAULT_FOREIGN_MASTER)
            foreign = fault;
        int64_t change_ms = fault_next_change(fault, elapsed_ms);
        if (change_ms != INT64_MAX && serve->timeline->start_us + change_ms * 1000 < next_us)
            next_us = serve->timeline->start_us + change_ms * 1000;
    }
    if (!plugged && serve->plugged[index])
        unplug(serve, index);
    if (plugged && !serve->plugged[index] && !plug(serve, index))
        return now_us + 1000000;
    if (foreign == NULL || !plugged)
        return next_us;
    if (now_us >= serve->foreign_next_us[index]) {
        uint8_t bytes[ADU_MAX_SIZE];
        size_t size = reply_foreign(serve->foreign_count++, bytes);
        serve->foreign_next_us[index] = now_us + foreign->number * 1000;
        for (struct link *link = serve->links; link < serve->links + SERVE_MAX_LINKS; link++)
            if (link->bus == index && (link->kind == LINK_STREAM || link->kind == LINK_TERMINAL))
                link_send(link, bytes, size, now_us, 0);
    }
    return serve->foreign_next_us[index] < next_us ? serve->foreign_next_us[index] : next_us;
}

/* Sends what is due, closes what was idle too long; says when the next such thing is due. */
static int64_t link_turn(struct serve *serve, struct link *link, int64_t now_us)
{
    const struct scenario_bus *bus = bus_of(serve, link);
    if (link->kind == LINK_NONE || link->kind == LINK_LISTENER)
        return INT64_MAX;
    if (link->kind == LINK_TERMINAL && link->absent_us > 0) {
        struct pollfd look = { .fd = link->fd, .events = POLLIN };
        if (now_us >= link->absent_us)
            link->absent_us = poll(&look, 1, 0) >= 0 && (look.revents & POLLHUP) != 0 ? now_us + LOOK_US : 0;
        if (link->absent_us > 0)
            return link->absent_us;
    }
    if (!link_flush(link, now_us) && link->kind == LINK_STREAM) {
        link_close(link, bus);
        return INT64_MAX;
    }
    int64_t next_us = link_next(link);
    if (link->kind == LINK_STREAM && bus->idle_close > 0) {
        int64_t close_us = link->last_us + (int64_t)(bus->idle_close * 1e6);
        if (now_us >= close_us)
            link_close(link, bus);
        else if (close_us < next_us)
            next_us = close_us;
    }
    return next_us;
}

/* Signals are let in only while waiting here, so that none is missed. */
static int wait_until(struct pollfd *polled, int64_t now_us, int64_t next_us)
{
    int64_t wait_us = next_us > now_us ? next_us - now_us : 0;
    struct timespec wait = { .tv_sec = 60 };
    sigset_t none;
    if (wait_us < 60000000)
        wait = (struct timespec){ .tv_sec = wait_us / 1000000, .tv_nsec = wait_us % 1000000 * 1000 };
    sigemptyset(&none);
    return ppoll(polled, SERVE_MAX_LINKS, &wait, &none);
}

void serve_turn(struct serve *serve)
{
    struct pollfd polled[SERVE_MAX_LINKS];
    int64_t now_us = serve_now(), next_us = timeline_next(serve->timeline);
    for (int i = 0; i < serve->panel->scenario->bus_count; i++) {
        int64_t bus_us = bus_turn(serve, i, now_us);
        next_us = bus_us < next_us ? bus_us : next_us;
    }
    for (int i = 0; i < SERVE_MAX_LINKS; i++) {
        struct link *link = &serve->links[i];
        int64_t link_us = link_turn(serve, link, now_us);
        bool there = link->kind != LINK_NONE && !(link->kind == LINK_TERMINAL && link->absent_us > 0);
        next_us = link_us < next_us ? link_us : next_us;
        polled[i] = (struct pollfd){ .fd = there ? link->fd : -1, .events = POLLIN };
    }
    if (wait_until(polled, now_us, next_us) < 0)
        return;
    now_us = serve_now();
    for (int i = 0; i < SERVE_MAX_LINKS; i++)
        if (polled[i].revents != 0 && serve->links[i].kind != LINK_NONE && serve->links[i].fd == polled[i].fd)
            react(serve, &serve->links[i], polled[i].revents, now_us);
    timeline_catch_up(serve->timeline, now_us);
}
