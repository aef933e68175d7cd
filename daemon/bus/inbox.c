#include "inbox.h"

#include <pthread.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

struct inbox {
    pthread_mutex_t mutex;
    int32_t capacity, first, count;
    int64_t dropped;
    struct message messages[];
};

struct inbox *inbox_create(int32_t capacity)
{
    struct inbox *inbox = calloc(1, sizeof *inbox + (size_t)capacity * sizeof inbox->messages[0]);
    if (!inbox)
        return NULL;
    if (pthread_mutex_init(&inbox->mutex, NULL) != 0) {
        free(inbox);
        return NULL;
    }
    inbox->capacity = capacity;
    return inbox;
}

void inbox_destroy(struct inbox *inbox)
{
    if (!inbox)
        return;
    pthread_mutex_destroy(&inbox->mutex);
    free(inbox);
}

static struct message *inbox_at(struct inbox *inbox, int32_t position)
{
    return &inbox->messages[(inbox->first + position) % inbox->capacity];
}

/* Changes of state are told once, answers come again with the next poll: so
 * an answer gives way, and only an inbox full of states loses one. */
static void inbox_drop_one(struct inbox *inbox)
{
    int32_t victim = 0;
    while (victim < inbox->count && inbox_at(inbox, victim)->kind != MESSAGE_ANSWER)
        victim++;
    if (victim == inbox->count)
        victim = 0;
    for (; victim > 0; victim--)
        *inbox_at(inbox, victim) = *inbox_at(inbox, victim - 1);
    inbox->first = (inbox->first + 1) % inbox->capacity; /* NOLINT: the capacity is never 0 */
    inbox->count--;
    inbox->dropped++;
}

/* Only what a message holds is copied: an answer of few registers is short. */
static void message_copy(struct message *to, const struct message *from)
{
    size_t size = sizeof *from;
    if (from->kind == MESSAGE_ANSWER)
        size = offsetof(struct message, registers) + from->count * sizeof from->registers[0];
    else if (from->kind == MESSAGE_CYCLE_END)
        size = offsetof(struct message, count);
    memcpy(to, from, size);
}

void inbox_put(struct inbox *inbox, const struct message *message)
{
    pthread_mutex_lock(&inbox->mutex);
    if (inbox->count == inbox->capacity)
        inbox_drop_one(inbox);
    message_copy(inbox_at(inbox, inbox->count), message);
    inbox->count++;
    pthread_mutex_unlock(&inbox->mutex);
}

bool inbox_take(struct inbox *inbox, struct message *message)
{
    pthread_mutex_lock(&inbox->mutex);
    bool any = inbox->count > 0;
    if (any) {
        message_copy(message, inbox_at(inbox, 0));
        /* An empty one begins at its beginning: the same few pages are used over and over. */
        inbox->first = inbox->count == 1 ? 0 : (inbox->first + 1) % inbox->capacity;
        inbox->count--;
    }
    pthread_mutex_unlock(&inbox->mutex);
    return any;
}

int64_t inbox_dropped(struct inbox *inbox)
{
    pthread_mutex_lock(&inbox->mutex);
    int64_t dropped = inbox->dropped;
    inbox->dropped = 0;
    pthread_mutex_unlock(&inbox->mutex);
    return dropped;
}
