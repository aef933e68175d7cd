/* The runtime file for `meterbook now`: rewritten at most once a second, by
 * rename, so that a reader sees a whole one. Its form stands in meterbookd(8). */
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <unistd.h>

#include "collect_state.h"

struct page {
    char text[16384];
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
    return collect->date.trusted ? collect->date.offset_ms : collect->now.wall_ms - collect_boot_ms(collect);
}

static void add_meter(struct page *page, const struct collect *collect, const struct meter *meter)
{
    const struct series *series = &meter->series[SERIES_ACTIVE];
    int64_t now_s = (collect_boot_ms(collect) + offset(collect)) / 1000;
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

void latest_write(struct collect *collect)
{
    struct page page = { .length = 0 };
    char temporary[CONFIG_PATH_SIZE + 16];
    collect->latest_ms = collect_boot_ms(collect);
    add(&page, "meterbook-latest 1 %s %lld %d\n", collect->boot,
        (long long)(collect_boot_ms(collect) + offset(collect)), collect->now.synchronised);
    for (int32_t i = 0; i < collect->config->meter_count; i++)
        add_meter(&page, collect, &collect->meters[i]);
    for (int32_t i = 0; i < collect->config->bus_count; i++)
        add(&page, "bus %d %s %s\n", (int)i, collect->bus_down[i] ? "down" : "up",
            collect->config->buses[i].name);
    snprintf(temporary, sizeof temporary, "%s.new", collect->setup.latest);
    int fd = open(temporary, O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0640);
    if (fd < 0)
        return;
    bool written = write(fd, page.text, page.length) == (ssize_t)page.length;
    close(fd);
    if (written)
        (void)rename(temporary, collect->setup.latest);
}
