#include "tracer.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/ptrace.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#include <linux/ptrace.h>

#ifndef SYS_mmap
#define SYS_mmap SYS_mmap2
#endif

/* Calls that change what a file system holds, or lock it. */
static const long changing[] = {
    SYS_pwrite64,    SYS_pwritev, SYS_fdatasync, SYS_fsync,     SYS_ftruncate, SYS_fallocate, SYS_msync,
    SYS_flock,       SYS_mkdirat, SYS_unlinkat,  SYS_renameat2, SYS_renameat,  SYS_fchmod,    SYS_fchown,
#ifdef SYS_ftruncate64
    SYS_ftruncate64,
#endif
#ifdef SYS_mkdir
    SYS_mkdir,       SYS_unlink,  SYS_rename,    SYS_rmdir,
#endif
};

/* Is this descriptor of the process a file, and not a socket, a pipe or a terminal? */
static bool is_file(pid_t thread, uint64_t descriptor)
{
    char path[64], name[256];
    snprintf(path, sizeof path, "/proc/%d/fd/%d", (int)thread, (int)descriptor);
    ssize_t length = readlink(path, name, sizeof name - 1);
    if (length < 0)
        return false;
    name[length] = '\0';
    return name[0] == '/' && strncmp(name, "/dev/p", 6) != 0 && strncmp(name, "/dev/t", 6) != 0 &&
           strncmp(name, "/dev/n", 6) != 0;
}

static bool touches_disk(pid_t thread, const struct ptrace_syscall_info *info)
{
    long number = (long)info->entry.nr;
    const __u64 *arguments = info->entry.args;
    for (size_t i = 0; i < sizeof changing / sizeof changing[0]; i++)
        if (number == changing[i])
            return true;
    switch (number) {
#ifdef SYS_open
    case SYS_open:
        return (arguments[1] & (O_ACCMODE | O_CREAT)) != 0;
#endif
    case SYS_openat:
        return (arguments[2] & (O_ACCMODE | O_CREAT)) != 0;
    case SYS_mmap:
        return (arguments[3] & MAP_SHARED) != 0 && (int)arguments[4] >= 0;
#ifdef SYS_fcntl64
    case SYS_fcntl64:
#endif
    case SYS_fcntl:
        return arguments[1] == F_SETLK || arguments[1] == F_SETLKW;
    case SYS_write:
    case SYS_writev:
        return arguments[0] > 2 && is_file(thread, arguments[0]); /* not what it says */
    default:
        return false;
    }
}

bool tracer_fork(struct tracer *tracer, int (*child)(void *self), void *self)
{
    int go[2];
    char byte = 0;
    tracer->calls = 0;
    tracer->killed = false;
    if (pipe2(go, O_CLOEXEC) != 0)
        return false;
    tracer->process = fork();
    if (tracer->process == 0) {
        if (read(go[0], &byte, 1) != 1) /* traced by now, or nobody wants us */
            _exit(0);
        close(go[0]);
        close(go[1]);
        exit(child(self));
    }
    close(go[0]);
    bool traced = tracer->process > 0 &&
                  ptrace(PTRACE_SEIZE, tracer->process, 0,
                         PTRACE_O_TRACESYSGOOD | PTRACE_O_TRACECLONE | PTRACE_O_EXITKILL) == 0 &&
                  ptrace(PTRACE_INTERRUPT, tracer->process, 0, 0) == 0;
    int why = errno;
    if (traced)
        traced = write(go[1], &byte, 1) == 1;
    close(go[1]);
    if (!traced && tracer->process > 0) {
        kill(tracer->process, SIGKILL);
        waitpid(tracer->process, NULL, 0);
    }
    errno = why;
    return traced;
}

/* A stop of one thread; whether it may go on. */
static bool look(struct tracer *tracer, pid_t thread, int status, int *signal)
{
    struct ptrace_syscall_info info = { 0 };
    *signal = 0;
    if (WSTOPSIG(status) != (SIGTRAP | 0x80)) {
        if (status >> 16 == 0)
            *signal = WSTOPSIG(status); /* not ours: its own */
        return true;
    }
    if (ptrace(PTRACE_GET_SYSCALL_INFO, thread, sizeof info, &info) <= 0 ||
        info.op != PTRACE_SYSCALL_INFO_ENTRY || (tracer->counts && !atomic_load(tracer->counts)) ||
        !touches_disk(thread, &info))
        return true;
    return ++tracer->calls != tracer->kill_at;
}

void tracer_follow(struct tracer *tracer)
{
    for (;;) {
        int status, signal;
        pid_t thread = waitpid(-1, &status, __WALL);
        if (thread < 0 && errno == EINTR)
            continue;
        if (thread < 0)
            return;
        if (!WIFSTOPPED(status)) {
            if (thread != tracer->process)
                continue; /* a thread of it */
            tracer->status = status;
            return;
        }
        if (look(tracer, thread, status, &signal)) {
            ptrace(PTRACE_SYSCALL, thread, 0, signal);
        } else {
            tracer->killed = true;
            kill(tracer->process, SIGKILL);
        }
    }
}
