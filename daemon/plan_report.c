#include "plan_report.h"

#include <inttypes.h>

#include "map_file.h"
#include "plan.h"

/* Of a usual meter, for choosing requests; a cycle's shortest time counts none. */
enum { TURNAROUND_US = 5000 };

/* What one bus's meters add up to. */
struct total {
    int32_t requests, registers; /* of every poll */
    int64_t cycle_us;
    bool walked; /* some requests are not known yet */
};

static void print_line(void *self, const char *line)
{
    fprintf(self, "  %s\n", line);
}

static void report_impossible(const struct config *config, FILE *out)
{
    fprintf(out, "\nanswers that this configuration makes impossible or weak:\n");
    config_impossible(config, print_line, out);
}

static void report_requests(const struct plan *plan, FILE *out)
{
    for (int32_t i = 0; i < plan->request_count; i++) {
        const struct request *request = &plan->requests[i];
        fprintf(out, "    %-8s  function %d  address %5d  %3d registers  %2d values\n",
                read_class_words[request->read_class], request->function, request->address, request->count,
                request->point_count);
    }
}

static void add_up(struct total *total, const struct plan *plan, const struct config_bus *bus)
{
    for (int32_t i = 0; i < plan->request_count; i++) {
        if (plan->requests[i].read_class == READ_POLL) {
            total->requests++;
            total->registers += plan->requests[i].count;
        }
    }
    total->cycle_us += plan_cost(plan, line_cost_of(bus, 0), READ_POLL);
}

static void report_meter(const struct config *config, const struct config_meter *meter, struct total *total,
                         FILE *out)
{
    const struct config_bus *bus = &config->buses[meter->bus];
    const struct register_map *map = &config->maps[meter->map];
    int32_t limit = meter->max_registers > 0 ? meter->max_registers : map->max_registers;
    struct plan plan;
    fprintf(out, "  meter %d \"%s\", unit id %d, %s, map \"%s\", up to %d registers a request\n",
            (int)meter->number, meter->name, (int)meter->unit_id, role_name(meter->role), map->name,
            (int)limit);
    if (map->walk) {
        total->walked = true;
        fprintf(out, "    its requests are known once its models have been walked\n");
    } else if (plan_make(&plan, map, limit, line_cost_of(bus, TURNAROUND_US)) < 0) {
        fprintf(out,
                "    no plan: its values need more than %d requests, or one needs more than %d registers\n",
                (int)PLAN_MAX_REQUESTS, (int)limit);
    } else {
        report_requests(&plan, out);
        add_up(total, &plan, bus);
    }
}

static void report_total(const struct config *config, const struct config_bus *bus, const struct total *total,
                         FILE *out)
{
    fprintf(out, "  every poll: %d requests, %d registers%s\n", (int)total->requests, (int)total->registers,
            total->walked ? ", besides those of walked meters" : "");
    if (bus->kind == BUS_TCP || bus->baud <= 0)
        return;
    fprintf(out, "  shortest possible cycle at %d bit/s: %" PRId64 ".%03d s%s; poll period %d.%03d s\n",
            (int)bus->baud, total->cycle_us / 1000000, (int)(total->cycle_us / 1000 % 1000),
            total->walked ? " and the walked meters' time" : "", (int)(config->site.poll_period_ms / 1000),
            (int)(config->site.poll_period_ms % 1000));
    if (total->cycle_us > 1000 * (int64_t)config->site.poll_period_ms)
        fprintf(out, "  the poll period is shorter than that: polls will be left out\n");
}

static void report_bus(const struct config *config, int32_t index, FILE *out)
{
    static const char *const parities[] = { "even", "odd", "no" };
    const struct config_bus *bus = &config->buses[index];
    struct total total = { 0 };
    int32_t meters = 0;
    fprintf(out, "\nbus \"%s\", %s, %s", bus->name, bus_kind_name(bus->kind), bus->device);
    if (bus->kind == BUS_RTU)
        fprintf(out, ", %d bit/s, %s parity, %d stop bit%s\n", (int)bus->baud, parities[bus->parity],
                (int)bus->stop_bits, bus->stop_bits == 1 ? "" : "s");
    else
        fprintf(out, ", port %d\n", (int)bus->port);
    for (int32_t i = 0; i < config->meter_count; i++) {
        if (config->meters[i].bus == index) {
            report_meter(config, &config->meters[i], &total, out);
            meters++;
        }
    }
    if (meters == 0)
        fprintf(out, "  no meters\n");
    else
        report_total(config, bus, &total, out);
}

void plan_report(const struct config *config, FILE *out)
{
    const struct config_site *site = &config->site;
    fprintf(out, "site \"%s\", %s%s%s, intervals of %d s, configuration %s\n", site->name, site->time_zone,
            site->zone_edition[0] ? ", zone data " : "", site->zone_edition, (int)site->interval_s,
            config->hash);
    report_impossible(config, out);
    for (int32_t i = 0; i < config->bus_count; i++)
        report_bus(config, i, out);
}
