/* meterbookd: arguments, signals, watchdog. */
#include <errno.h>
#include <getopt.h>
#include <malloc.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "config.h"
#include "log.h"
#include "notify.h"
#include "plan_report.h"
#include "service.h"
#include "store.h"

/* Exit codes; the unit does not restart after EXIT_CONFIG. */
enum { EXIT_OK = 0, EXIT_FAILED = 1, EXIT_USAGE = 2, EXIT_CONFIG = 78 };

#define DEFAULT_CONFIG "/etc/meterbook/meterbook.conf"
#define SQLITE_MEMORY  (8 * 1024 * 1024)

static const char usage[] = "usage: meterbookd [-hnqvV] [-c FILE]\n"
                            "  -c FILE  configuration (default " DEFAULT_CONFIG ")\n"
                            "  -n       check the configuration, print the plan, and leave\n"
                            "  -q       log warnings and errors only\n"
                            "  -v       log more\n"
                            "  -V       print the version\n"
                            "Reads energy meters and keeps their account. It never writes to a meter.\n";

static void say_problem(void *self, bool error, const char *line)
{
    (void)self;
    log_write(error ? LOG_ERROR : LOG_WARN, "%s%s", error ? "" : "warning: ", line);
}

static struct config *load(const char *path)
{
    struct problems problems = { .say = say_problem };
    struct config *config = config_load(path, &problems);
    if (!config)
        log_write(LOG_ERROR, "%s: %d error%s", path, (int)problems.errors, problems.errors == 1 ? "" : "s");
    return config;
}

static int open_signals(void)
{
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGHUP);
    /* a peer that is gone and a file that may not grow are errors of the call */
    if (sigprocmask(SIG_BLOCK, &set, NULL) != 0 || signal(SIGPIPE, SIG_IGN) == SIG_ERR ||
        signal(SIGXFSZ, SIG_IGN) == SIG_ERR)
        return -1;
    return signalfd(-1, &set, SFD_CLOEXEC);
}

/* The new configuration must be good before the old one stops. */
static void reload(const char *path, struct service **service, uint32_t *generation, int *code)
{
    bool fatal;
    notify_send("RELOADING=1");
    struct config *config = load(path);
    if (!config) {
        log_write(LOG_ERROR, "the configuration in force stays as it was");
        notify_send("READY=1");
        return;
    }
    if (service_goes_on(*service, config)) {
        config_free(config);
        log_write(LOG_NOTE, "the configuration has not changed; read the logbook again");
        notify_send("READY=1");
        return;
    }
    service_stop(*service);
    *service = service_start(config, ++*generation, &fatal);
    if (!*service) {
        config_free(config);
        *code = fatal ? EXIT_CONFIG : EXIT_FAILED;
        return;
    }
    log_write(LOG_NOTE, "reloaded '%s'", path);
    notify_send("READY=1");
}

/* Waits for signals and feeds the watchdog; never touches the disk but to reload. */
static int supervise(const char *path, struct service *service, int signals)
{
    uint32_t generation = 1;
    int code = -1;
    int64_t feed_us = notify_watchdog_us();
    int timeout = feed_us > 0 ? (int)(feed_us / 1000) : -1;
    while (code < 0) {
        struct pollfd poll_signals = { .fd = signals, .events = POLLIN };
        struct signalfd_siginfo info;
        int ready = poll(&poll_signals, 1, timeout);
        if (ready > 0 && read(signals, &info, sizeof info) == sizeof info) {
            if (info.ssi_signo == SIGHUP)
                reload(path, &service, &generation, &code);
            else
                code = EXIT_OK;
        }
        if (code < 0 && feed_us > 0 && service_alive(service))
            notify_send("WATCHDOG=1");
    }
    notify_send("STOPPING=1");
    service_stop(service);
    return code;
}

static int run(const char *path)
{
    bool fatal;
    struct config *config = load(path);
    if (!config)
        return EXIT_CONFIG;
    int signals = open_signals();
    if (signals < 0) {
        log_write(LOG_ERROR, "cannot take signals: %s", strerror(errno));
        return EXIT_FAILED;
    }
    mallopt(M_ARENA_MAX, 1); /* one heap for all threads: they hardly allocate */
    store_limit_memory(SQLITE_MEMORY);
    struct service *service = service_start(config, 1, &fatal);
    if (!service) {
        config_free(config);
        return fatal ? EXIT_CONFIG : EXIT_FAILED;
    }
    log_write(LOG_NOTE, "meterbookd " METERBOOK_VERSION ": site '%s', %d meters on %d buses",
              config->site.name, (int)config->meter_count, (int)config->bus_count);
    notify_send("READY=1");
    return supervise(path, service, signals);
}

static int check_only(const char *path)
{
    struct config *config = load(path);
    if (!config)
        return EXIT_CONFIG;
    plan_report(config, stdout);
    config_free(config);
    return fflush(stdout) == 0 && !ferror(stdout) ? EXIT_OK : EXIT_FAILED;
}

int main(int argc, char **argv)
{
    const char *path = DEFAULT_CONFIG;
    bool check = false;
    int option;
    while ((option = getopt(argc, argv, "c:hnqvV")) != -1) {
        switch (option) {
        case 'c':
            path = optarg;
            break;
        case 'n':
            check = true;
            break;
        case 'q':
            log_set_level(LOG_WARN);
            break;
        case 'v':
            log_set_level(LOG_FINE);
            break;
        case 'V':
            puts("meterbookd " METERBOOK_VERSION);
            return EXIT_OK;
        case 'h':
            fputs(usage, stdout);
            return EXIT_OK;
        default:
            fputs(usage, stderr);
            return EXIT_USAGE;
        }
    }
    if (optind < argc) {
        fprintf(stderr, "meterbookd: unexpected '%s'\n%s", argv[optind], usage);
        return EXIT_USAGE;
    }
    log_set_prefix(getenv("JOURNAL_STREAM") != NULL);
    return check ? check_only(path) : run(path);
}
