/* Scenario files: a site, what happens to it and when, and what is then to be
 * found in its record beside the ten invariants. Their form stands in
 * DEVELOPERS.md. */
#ifndef METERBOOK_SIM_SCENARIO_H
#define METERBOOK_SIM_SCENARIO_H

#include "happen.h"

enum {
    SCENARIO_EVENTS = 64,
    SCENARIO_EXPECTATIONS = 16,
    SCENARIO_TEXT = 400,
};

/* A fault of the disk that is tried at its first, second, third ... call until nothing fails any more. */
enum scenario_each { EACH_NONE, EACH_CUT, EACH_WRITE, EACH_FULL, EACH_FSYNC };

struct scenario_event {
    int32_t what; /* index in happenings */
    int32_t at_s; /* since the beginning */
    int32_t every_s, times;
    struct {
        int32_t number[ARG_COUNT];
        bool on;
    } argument;
};

struct scenario_expectation {
    char says[SCENARIO_TEXT], sql[SCENARIO_TEXT];
    double least, most;
};

struct scenario_meter {
    int32_t role, bus, form, step, watts, error_ppm, modulus_kwh, delivers;
    double import_kwh, export_kwh;
};

struct scenario_bus {
    int32_t kind, baud, listen_ms;
    bool close_after_cycle;
};

struct scenario {
    char checks[SCENARIO_TEXT], start[64];
    int32_t seconds, each, each_from_s, each_calls, cut_off_s;
    struct {
        char zone[CONFIG_NAME_SIZE];
        int32_t interval_s, poll_ms, commit_s, trust;
        bool synchronised;
        int32_t clock_error_s;
    } site;
    int64_t start_ms;
    int32_t bus_count, meter_count, event_count, expectation_count;
    struct scenario_bus buses[SIM_BUSES];
    struct scenario_meter meters[SIM_METERS];
    struct scenario_event events[SCENARIO_EVENTS]; /* in the order of their instants */
    struct scenario_expectation expectations[SCENARIO_EXPECTATIONS];
};

/* Reads a file; false after at least one problem was said as `file:line: what, what is allowed`. */
bool scenario_read(struct scenario *scenario, const char *path, struct problems *problems);

/* Runs it, as often as `each` wants, and checks. Returns how many runs that were; a failure leaves by
 * sim->escape. */
int64_t scenario_run(struct sim *sim, const struct scenario *scenario);

#endif
