/* meterbook-panel: simulated meters on the wire. */
#include <errno.h>
#include <getopt.h>
#include <inttypes.h>
#include <math.h>
#include <signal.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "scenario.h"
#include "serve.h"
#include "timeline.h"

/* Exit codes. */
enum { EXIT_GOOD = 0, EXIT_SCENARIO = 1, EXIT_USAGE = 2, EXIT_WRITE_SEEN = 3, EXIT_SYSTEM = 4 };

static volatile sig_atomic_t stop;

struct options {
    const char *scenario, *start, *truth, *log;
    const char *links[SCENARIO_MAX_BUSES]; /* BUS=PATH */
    int link_count;
    double speed, scene;
    double truth_every;
    bool check, port_any;
};

static void on_signal(int number)
{
    (void)number;
    stop = 1;
}

static const char usage[] =
    "usage: meterbook-panel [options] SCENARIO\n"
    "Serves simulated meters on TCP ports and pseudo-terminals.\n"
    "  --start TIME       scene begins at: now, HH:MM, or YYYY-MM-DDTHH:MM:SSZ\n"
    "  --speed N          everything runs N times as fast: a day's energy in minutes\n"
    "  --scene N          only sun, clouds and household run N times as fast: powers and counters stay in "
    "step\n"
    "  --truth FILE       append the exact energies there, a line per meter and interval\n"
    "  --truth-every S    interval of these lines, s (default 10)\n"
    "  --log FILE         append a line per request there\n"
    "  --link BUS=PATH    symbolic link to the pseudo-terminal of that bus\n"
    "  --any-port         let the system choose every TCP port\n"
    "  -n, --check        read the scenario, say whether it is good, and leave\n"
    "  -h, --help         this text\n"
    "  -V, --version\n";

static void say(void *self, bool error, const char *line)
{
    (void)self;
    fprintf(stderr, "%s%s\n", error ? "" : "warning: ", line);
}

static int bad_option(const char *what, const char *allowed)
{
    fprintf(stderr, "meterbook-panel: %s, allowed is %s\n", what, allowed);
    return EXIT_USAGE;
}

/* Options that are numbers. */
static const struct number_option {
    int letter;
    const char *name;
    double least, most;
    size_t offset;
} number_options[] = {
    { 'x', "--speed", 0.001, 10000000, offsetof(struct options, speed) },
    { 'y', "--scene", 0.001, 10000000, offsetof(struct options, scene) },
    { 'e', "--truth-every", 0.1, 86400, offsetof(struct options, truth_every) },
};

static int read_number(int letter, const char *text, struct options *options)
{
    const struct number_option *option = number_options;
    char *end;
    while (option->letter != letter)
        option++;
    double value = strtod(text, &end);
    if (end == text || *end != '\0' || !(value >= option->least && value <= option->most)) {
        fprintf(stderr, "meterbook-panel: %s is '%s', allowed is %g to %.0f\n", option->name, text,
                option->least, option->most);
        return EXIT_USAGE;
    }
    memcpy((char *)options + option->offset, &value, sizeof value);
    return -1;
}

static int add_link(const char *text, struct options *options)
{
    if (options->link_count == SCENARIO_MAX_BUSES || strchr(text, '=') == NULL)
        return bad_option("--link is wrong", "BUS=PATH, once for each bus");
    options->links[options->link_count++] = text;
    return -1;
}

/* One option; -1: go on. */
static int read_option(int letter, struct options *options)
{
    switch (letter) {
    case 's':
        options->start = optarg;
        return -1;
    case 'x':
    case 'y':
    case 'e':
        return read_number(letter, optarg, options);
    case 't':
        options->truth = optarg;
        return -1;
    case 'l':
        options->log = optarg;
        return -1;
    case 'k':
        return add_link(optarg, options);
    case 'p':
        options->port_any = true;
        return -1;
    case 'n':
        options->check = true;
        return -1;
    case 'h':
        fputs(usage, stdout);
        return EXIT_GOOD;
    case 'V':
        puts("meterbook-panel " METERBOOK_VERSION);
        return EXIT_GOOD;
    default:
        fputs(usage, stderr);
        return EXIT_USAGE;
    }
}

static int read_options(int argc, char **argv, struct options *options)
{
    static const struct option table[] = {
        { "start", required_argument, NULL, 's' },
        { "speed", required_argument, NULL, 'x' },
        { "scene", required_argument, NULL, 'y' },
        { "truth", required_argument, NULL, 't' },
        { "truth-every", required_argument, NULL, 'e' },
        { "log", required_argument, NULL, 'l' },
        { "link", required_argument, NULL, 'k' },
        { "any-port", no_argument, NULL, 'p' },
        { "check", no_argument, NULL, 'n' },
        { "help", no_argument, NULL, 'h' },
        { "version", no_argument, NULL, 'V' },
        { NULL, 0, NULL, 0 },
    };
    int letter, result = -1;
    while (result < 0 && (letter = getopt_long(argc, argv, "nhV", table, NULL)) != -1)
        result = read_option(letter, options);
    if (result < 0 && optind != argc - 1) {
        fputs(usage, stderr);
        return EXIT_USAGE;
    }
    options->scenario = argv[optind];
    return result;
}

/* The command line's word over the scenario's. */
static bool apply_options(const struct options *options, struct scenario *scenario)
{
    if (options->start != NULL && !scenario_instant(scenario, options->start, &scenario->start_ms)) {
        bad_option("--start is no such time", "now, HH:MM or YYYY-MM-DDTHH:MM:SSZ");
        return false;
    }
    for (int i = 0; i < scenario->bus_count && options->port_any; i++)
        scenario->buses[i].port = 0;
    for (int i = 0; i < options->link_count; i++) {
        const char *equals = strchr(options->links[i], '=');
        struct scenario_bus *found = NULL;
        for (struct scenario_bus *bus = scenario->buses; bus < scenario->buses + scenario->bus_count; bus++)
            if (strncmp(bus->name, options->links[i], (size_t)(equals - options->links[i])) == 0 &&
                bus->name[equals - options->links[i]] == '\0' && bus->transport == TRANSPORT_RTU)
                found = bus;
        if (found == NULL || strlen(equals + 1) >= sizeof found->link) {
            bad_option("--link is wrong", "BUS=PATH with the name of a bus of kind rtu");
            return false;
        }
        snprintf(found->link, sizeof found->link, "%s", equals + 1);
    }
    return true;
}

/* NULL for a NULL path; *good tells whether that is a failure. */
static FILE *open_output(const char *path, bool *good)
{
    FILE *file = path != NULL ? fopen(path, "a") : NULL;
    if (path != NULL && file == NULL) {
        fprintf(stderr, "cannot open '%s': %s\n", path, strerror(errno));
        *good = false;
    }
    return file;
}

static int64_t wall_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Kept out until serve_turn() waits. */
static void catch_signals(void)
{
    struct sigaction action = { .sa_handler = on_signal };
    sigset_t blocked;
    sigemptyset(&blocked);
    sigaddset(&blocked, SIGTERM);
    sigaddset(&blocked, SIGINT);
    sigprocmask(SIG_BLOCK, &blocked, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGINT, &action, NULL);
    action.sa_handler = SIG_IGN;
    sigaction(SIGPIPE, &action, NULL);
}

static int run(const struct options *options, struct scenario *scenario, FILE *truth, FILE *log)
{
    struct counting *counting = calloc(1, sizeof *counting);
    struct serve *serve = calloc(1, sizeof *serve);
    struct panel panel = { .scenario = scenario, .counting = counting };
    struct timeline timeline;
    int result = EXIT_SYSTEM;

    if (counting == NULL || serve == NULL) {
        fprintf(stderr, "out of memory\n");
        goto finish;
    }
    catch_signals();
    counting_init(counting, scenario, options->scene);
    timeline_init(&timeline, &panel, options->speed, serve_now(), wall_ms(), truth,
                  llround(options->truth_every * 1000));
    if (!serve_open(serve, &panel, &timeline, log))
        goto finish;
    serve_print_addresses(serve, stdout);
    printf("ready\n");
    fflush(stdout);
    while (!stop)
        serve_turn(serve);
    timeline_catch_up(&timeline, serve_now());
    timeline_write_truth(&timeline);
    serve_close(serve);
    printf("requests %" PRId64 ", answers %" PRId64 " (exceptions %" PRId64
           "), functions other than 1 to 4: %" PRId64 ", writes: %" PRId64 "\n",
           panel.requests, panel.answers, panel.exceptions, panel.other_functions, panel.write_functions);
    result = panel.write_functions > 0 ? EXIT_WRITE_SEEN : EXIT_GOOD;
finish:
    free(serve);
    free(counting);
    return result;
}

int main(int argc, char **argv)
{
    struct options options = { .speed = 1, .scene = 1, .truth_every = 10 };
    struct problems problems = { .say = say };
    int result = read_options(argc, argv, &options);
    if (result >= 0)
        return result;

    struct scenario *scenario = scenario_load(options.scenario, &problems);
    if (scenario == NULL)
        return EXIT_SCENARIO;
    bool good = true;
    if (!apply_options(&options, scenario)) {
        result = EXIT_USAGE;
    } else if (options.check) {
        printf("'%s' is good: %d buses, %d meters\n", options.scenario, scenario->bus_count,
               scenario->meter_count);
        result = EXIT_GOOD;
    } else {
        FILE *truth = open_output(options.truth, &good);
        FILE *log = open_output(options.log, &good);
        result = good ? run(&options, scenario, truth, log) : EXIT_SYSTEM;
        if (truth != NULL)
            fclose(truth);
        if (log != NULL)
            fclose(log);
    }
    scenario_free(scenario);
    return result;
}
