#include "resolve.h"

#include <netdb.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* getaddrinfo() cannot be told to stop, so the question belongs to both the
 * helper thread and the asker, and whoever lets go last frees it. */
struct question {
    atomic_int owners;
    atomic_bool answered;
    char host[256];
    char service[12];
    int error; /* of getaddrinfo() */
    int count;
    struct resolve_address addresses[RESOLVE_MAX_ADDRESSES];
};

struct resolve {
    const char *host;
    int32_t port;
    struct question *question;
    int count;
    struct resolve_address addresses[RESOLVE_MAX_ADDRESSES];
};

static void question_drop(struct question *question)
{
    if (atomic_fetch_sub(&question->owners, 1) == 1)
        free(question);
}

static int look_up(const char *host, const char *service, int flags, struct resolve_address *addresses,
                   int *count)
{
    struct addrinfo hints = { .ai_socktype = SOCK_STREAM, .ai_flags = flags | AI_NUMERICSERV }, *list = NULL;
    int error = getaddrinfo(host, service, &hints, &list);
    if (error != 0)
        return error;
    int found = 0;
    for (const struct addrinfo *each = list; each && found < RESOLVE_MAX_ADDRESSES; each = each->ai_next) {
        if (each->ai_addrlen > sizeof addresses[0].storage)
            continue;
        memcpy(&addresses[found].storage, each->ai_addr, each->ai_addrlen);
        addresses[found++].size = each->ai_addrlen;
    }
    freeaddrinfo(list);
    *count = found;
    return 0;
}

static void *answer(void *argument)
{
    struct question *question = argument;
    question->error = look_up(question->host, question->service, 0, question->addresses, &question->count);
    atomic_store(&question->answered, true);
    question_drop(question);
    return NULL;
}

static bool start_helper(struct question *question)
{
    enum { STACK_SIZE = 256 * 1024 }; /* name service modules use far more than we do */
    pthread_attr_t attributes;
    pthread_t thread;
    if (pthread_attr_init(&attributes) != 0)
        return false;
    bool started = pthread_attr_setstacksize(&attributes, STACK_SIZE) == 0 &&
                   pthread_attr_setdetachstate(&attributes, PTHREAD_CREATE_DETACHED) == 0 &&
                   pthread_create(&thread, &attributes, answer, question) == 0;
    pthread_attr_destroy(&attributes);
    return started;
}

void resolve_refresh(struct resolve *resolve)
{
    if (resolve->question)
        return;
    struct question *question = calloc(1, sizeof *question);
    if (!question)
        return;
    snprintf(question->host, sizeof question->host, "%s", resolve->host);
    snprintf(question->service, sizeof question->service, "%d", (int)resolve->port);
    atomic_store(&question->owners, 2);
    if (start_helper(question))
        resolve->question = question;
    else
        free(question);
}

struct resolve *resolve_create(const char *host, int32_t port)
{
    struct resolve *resolve = calloc(1, sizeof *resolve);
    if (!resolve)
        return NULL;
    resolve->host = host;
    resolve->port = port;
    char service[12];
    snprintf(service, sizeof service, "%d", (int)port);
    look_up(host, service, AI_NUMERICHOST, resolve->addresses, &resolve->count);
    return resolve;
}

void resolve_destroy(struct resolve *resolve)
{
    if (!resolve)
        return;
    if (resolve->question)
        question_drop(resolve->question);
    free(resolve);
}

int resolve_addresses(struct resolve *resolve, const struct resolve_address **addresses,
                      char why[WIRE_WHY_SIZE])
{
    int error = 0;
    struct question *question = resolve->question;
    if (question && atomic_load(&question->answered)) {
        error = question->error;
        if (error == 0 && question->count > 0) {
            memcpy(resolve->addresses, question->addresses, sizeof resolve->addresses);
            resolve->count = question->count;
        }
        question_drop(question);
        resolve->question = NULL;
    }
    *addresses = resolve->addresses;
    if (resolve->count > 0)
        return resolve->count;
    if (error != 0) {
        snprintf(why, WIRE_WHY_SIZE, "cannot find host '%s': %s", resolve->host, gai_strerror(error));
        return -1;
    }
    resolve_refresh(resolve);
    return 0;
}
