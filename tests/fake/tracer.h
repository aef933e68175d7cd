/* Lets a process run until the n-th of its system calls that touch the disk,
 * and kills it in front of that. Any number of threads. Linux only. */
#ifndef METERBOOK_FAKE_TRACER_H
#define METERBOOK_FAKE_TRACER_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <sys/types.h>

struct tracer {
    pid_t process;
    int64_t kill_at;           /* 1 = in front of the first call; 0 = never */
    const atomic_bool *counts; /* calls count while this is true; NULL: always */
    int64_t calls;             /* counted */
    bool killed;               /* by us */
    int status;                /* as of waitpid() */
};

/* Forks a child that runs `child` and leaves with what it returns. False with errno where tracing is not
 * permitted; then there is no child. */
bool tracer_fork(struct tracer *tracer, int (*child)(void *self), void *self);

/* Follows it to its end. */
void tracer_follow(struct tracer *tracer);

#endif
