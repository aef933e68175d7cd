/* Runs a command often and says what a run costs.
 *
 *     often TIMES COMMAND [ARGUMENT ...]
 *
 * Prints the median and the fastest time from start to end in ms and the
 * largest resident set in KiB; the command's output goes nowhere. Fails where
 * the command does. Runs before all other programs where that is permitted, so
 * that what else the machine does is not measured. */
#include <fcntl.h>
#include <sched.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { MOST = 10000 };

static double now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

/* vfork: what copying this process would take is no part of the command's time. */
static int run(char **command, int nowhere, struct rusage *usage)
{
    int status;
    pid_t child = vfork();
    if (child == 0) {
        dup2(nowhere, STDOUT_FILENO);
        execvp(command[0], command);
        _exit(127);
    }
    if (child < 0 || wait4(child, &status, 0, usage) != child || !WIFEXITED(status))
        return -1;
    return WEXITSTATUS(status);
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

int main(int argc, char **argv)
{
    static double taken[MOST];
    long times = argc > 2 ? strtol(argv[1], NULL, 10) : 0, largest = 0;
    int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
    if (times < 1 || times > MOST || nowhere < 0) {
        fputs("usage: often TIMES COMMAND [ARGUMENT ...]\n", stderr);
        return 2;
    }
    (void)sched_setscheduler(0, SCHED_FIFO, &(struct sched_param){ .sched_priority = 1 });
    for (long i = 0; i < times; i++) {
        struct rusage usage;
        double from = now_ms();
        int code = run(argv + 2, nowhere, &usage);
        taken[i] = now_ms() - from;
        if (code != 0) {
            fprintf(stderr, "often: '%s' ended with %d\n", argv[2], code);
            return 1;
        }
        largest = usage.ru_maxrss > largest ? usage.ru_maxrss : largest;
    }
    qsort(taken, (size_t)times, sizeof taken[0], by_size);
    printf("median_ms=%.2f least_ms=%.2f rss_kib=%ld\n", taken[times / 2], taken[0], largest);
    return 0;
}
