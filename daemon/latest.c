/* The runtime file for `meterbook now`: a page of memory that readers see as a
 * file, so that telling them once a second costs no system call. A number in
 * front and behind lets a reader see that it caught a half-written page. Its
 * form stands in meterbookd(8). */
#include <fcntl.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "collect_state.h"

enum { PAGE_SIZE = 16384, NUMBER_SIZE = sizeof "sequence 0000000000\n" - 1 };

struct page {
    char text[PAGE_SIZE - 2 * NUMBER_SIZE];
    size_t length;
};

__attribute__((format(printf, 2, 3))) static void add(struct page *page, const char *format, ...)
{
    size_t room = sizeof page->text - page->length;
    va_list arguments;
    va_start(arguments, format);
    int n = vsnprintf(page->text + page->length, room, format, arguments);
    va_end(arguments);
    if (n > 0 && (size_t)n < room)
        page->length += (size_t)n;
}

static void add_number(struct page *page, int64_t value)
{
    if (value == STORE_NULL)
        add(page, " -");
    else
        add(page, " %lld", (long long)value);
}

static int64_t offset(const struct collect *collect)
{
    return collect->date.trusted ? collect->date.offset_ms
                                 : collect->now.wall_us / 1000 - outbox_now_ms(collect);
}

static void add_meter(struct page *page, const struct collect *collect, const struct meter *meter)
{
    const struct series *series = &meter->series[SERIES_ACTIVE];
    int64_t now_s = (outbox_now_ms(collect) + offset(collect)) / 1000;
    add(page, "%d %s", (int)meter->config->number,
        meter->lost          ? "lost"
        : meter->read_ms < 0 ? "waiting"
                             : "ok");
    add_number(page, meter->read_ms < 0 ? STORE_NULL : meter->read_ms + offset(collect));
    add_number(page, meter->power);
    add_number(page, meter->voltage);
    for (int c = 0; c <= Q_ACTIVE_EXPORT; c++)
        add_number(page, series->mask & 1U << c && meter->counters[c].open ? meter->counters[c].account.value
                                                                           : STORE_NULL);
    for (int c = 0; c <= Q_ACTIVE_EXPORT; c++) {
        int32_t i = series_position(series, c);
        bool known = i >= 0 && series->book.open && collect->date.trusted;
        int64_t open_part = known ? series->book.to[i] - series->book.fixed[i] : 0;
        int64_t stored = now_s < meter->today_end_s ? meter->counters[c].today : 0;
        add_number(page, known ? stored + open_part : STORE_NULL);
    }
    add(page, " %s\n", meter->config->name);
}

void latest_open(struct collect *collect)
{
    int fd = open(collect->setup.latest, O_RDWR | O_CREAT | O_CLOEXEC, 0640);
    if (fd < 0)
        return;
    void *page = MAP_FAILED;
    if (ftruncate(fd, PAGE_SIZE) == 0)
        page = mmap(NULL, PAGE_SIZE, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    close(fd);
    collect->latest = page == MAP_FAILED ? NULL : page;
}

void latest_close(struct collect *collect)
{
    if (collect->latest)
        munmap(collect->latest, PAGE_SIZE);
    collect->latest = NULL;
}

/* The number in front is 0 while the rest is written. */
static void put_page(char *to, const struct page *page, uint32_t number)
{
    char text[NUMBER_SIZE + 1];
    snprintf(text, sizeof text, "sequence %010u\n", 0U);
    memcpy(to, text, NUMBER_SIZE);
    atomic_thread_fence(memory_order_seq_cst);
    snprintf(text, sizeof text, "sequence %010u\n", number);
    memcpy(to + NUMBER_SIZE, page->text, page->length);
    memcpy(to + NUMBER_SIZE + page->length, text, NUMBER_SIZE);
    memset(to + 2 * NUMBER_SIZE + page->length, 0, PAGE_SIZE - 2 * NUMBER_SIZE - page->length);
    atomic_thread_fence(memory_order_seq_cst);
    memcpy(to, text, NUMBER_SIZE);
}

void latest_write(struct collect *collect)
{
    struct page page = { .length = 0 };
    collect->latest_ms = outbox_now_ms(collect);
    if (!collect->latest)
        return;
    add(&page, "meterbook-latest 1 %s %lld %d\n", collect->boot,
        (long long)(outbox_now_ms(collect) + offset(collect)), collect->now.synchronised);
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        add_meter(&page, collect, &collect->meters[i]);
    for (int32_t i = 0; i < collect->config->bus_count; i++)
        add(&page, "bus %d %s %s\n", (int)i, collect->bus_down[i] ? "down" : "up",
            collect->config->buses[i].name);
    if (++collect->latest_number == 0)
        collect->latest_number = 1;
    put_page(collect->latest, &page, collect->latest_number);
}
