/* links: daemon/bus/inbox.c */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <pthread.h>
#include <sched.h>

#include "inbox.h"

static void put(struct inbox *inbox, enum message_kind kind, int64_t boot_us)
{
    struct message message = { .kind = (uint8_t)kind, .boot_us = boot_us };
    inbox_put(inbox, &message);
}

static void expect(struct inbox *inbox, enum message_kind kind, int64_t boot_us)
{
    struct message message;
    assert_true(inbox_take(inbox, &message));
    assert_int_equal(message.kind, kind);
    assert_int_equal(message.boot_us, boot_us);
}

static void gives_in_order(void **state)
{
    (void)state;
    struct inbox *inbox = inbox_create(3);
    struct message message;
    assert_non_null(inbox);
    assert_false(inbox_take(inbox, &message));
    for (int64_t round = 0; round < 5; round++) { /* the ring turns over */
        put(inbox, MESSAGE_ANSWER, 10 * round);
        put(inbox, MESSAGE_CYCLE_END, 10 * round + 1);
        expect(inbox, MESSAGE_ANSWER, 10 * round);
        expect(inbox, MESSAGE_CYCLE_END, 10 * round + 1);
    }
    assert_false(inbox_take(inbox, &message));
    assert_int_equal(inbox_dropped(inbox), 0);
    inbox_destroy(inbox);
}

static void full_drops_the_oldest_answer(void **state)
{
    (void)state;
    struct inbox *inbox = inbox_create(4);
    put(inbox, MESSAGE_BUS_STATE, 1);
    put(inbox, MESSAGE_METER_STATE, 2);
    put(inbox, MESSAGE_ANSWER, 3);
    put(inbox, MESSAGE_ANSWER, 4);
    put(inbox, MESSAGE_ANSWER, 5);
    put(inbox, MESSAGE_METER_STATE, 6);
    assert_int_equal(inbox_dropped(inbox), 2);
    assert_int_equal(inbox_dropped(inbox), 0);
    expect(inbox, MESSAGE_BUS_STATE, 1);
    expect(inbox, MESSAGE_METER_STATE, 2);
    expect(inbox, MESSAGE_ANSWER, 5);
    expect(inbox, MESSAGE_METER_STATE, 6);
    inbox_destroy(inbox);
}

static void full_of_states_drops_the_oldest(void **state)
{
    (void)state;
    struct inbox *inbox = inbox_create(2);
    for (int64_t i = 1; i <= 3; i++)
        put(inbox, MESSAGE_BUS_STATE, i);
    assert_int_equal(inbox_dropped(inbox), 1);
    expect(inbox, MESSAGE_BUS_STATE, 2);
    expect(inbox, MESSAGE_BUS_STATE, 3);
    inbox_destroy(inbox);
}

enum { WRITERS = 4, EACH = 5000 };

static void *write_many(void *inbox)
{
    for (int64_t i = 0; i < EACH; i++)
        put(inbox, MESSAGE_ANSWER, i);
    return NULL;
}

static void loses_nothing_uncounted(void **state)
{
    (void)state;
    struct inbox *inbox = inbox_create(64);
    pthread_t writers[WRITERS];
    struct message message;
    int64_t taken = 0, dropped = 0;
    for (int i = 0; i < WRITERS; i++)
        assert_int_equal(pthread_create(&writers[i], NULL, write_many, inbox), 0);
    while (taken + dropped < WRITERS * EACH) {
        if (inbox_take(inbox, &message))
            taken++;
        else
            sched_yield();
        dropped += inbox_dropped(inbox);
    }
    for (int i = 0; i < WRITERS; i++)
        pthread_join(writers[i], NULL);
    assert_int_equal(taken + dropped, WRITERS * EACH);
    assert_false(inbox_take(inbox, &message));
    inbox_destroy(inbox);
    inbox_destroy(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gives_in_order),
        cmocka_unit_test(full_drops_the_oldest_answer),
        cmocka_unit_test(full_of_states_drops_the_oldest),
        cmocka_unit_test(loses_nothing_uncounted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
