/* links: tests/fake/tracer.c */
/* kill_at [-t SECONDS] N COMMAND...: runs a command and kills it in front of its N-th system call that
 * touches the disk; 0: never. -t: after so long it is asked to leave (SIGTERM).
 * Prints 'calls N, killed 0|1, code N'. Exit 77: tracing is not permitted. */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tracer.h"

static struct tracer tracer;

static void on_alarm(int number)
{
    (void)number;
    kill(tracer.process, SIGTERM);
}

static int child(void *self)
{
    char **command = self;
    execvp(command[0], command);
    return 127;
}

int main(int argc, char **argv)
{
    unsigned seconds = 0;
    int option;
    while ((option = getopt(argc, argv, "+t:")) != -1) {
        if (option != 't')
            return 2;
        seconds = (unsigned)strtoul(optarg, NULL, 10);
    }
    if (argc - optind < 2)
        return 2;
    tracer.kill_at = strtoll(argv[optind], NULL, 10);
    signal(SIGALRM, on_alarm);
    if (!tracer_fork(&tracer, child, argv + optind + 1)) {
        fprintf(stderr, "ptrace: %s\n", strerror(errno));
        return 77;
    }
    alarm(seconds);
    tracer_follow(&tracer);
    printf("calls %lld, killed %d, code %d\n", (long long)tracer.calls, tracer.killed,
           WIFEXITED(tracer.status) ? WEXITSTATUS(tracer.status) : -1);
    return 0;
}
