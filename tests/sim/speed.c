#include "speed.h"

#include <stdio.h>
#include <time.h>

enum { METERS = 8 };

static double cpu_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
    return (double)t.tv_sec + (double)t.tv_nsec / 1e9;
}

void speed_measure(struct sim *sim, int64_t days)
{
    static const enum meter_role roles[METERS] = { ROLE_GRID, ROLE_PRODUCTION, ROLE_PART,   ROLE_PART,
                                                   ROLE_PART, ROLE_BRANCH,     ROLE_BRANCH, ROLE_BRANCH };
    sim->sparse = true;
    sim_begin(sim, 1, INT64_C(1790000000000));
    sim_add_bus(sim, BUS_TCP, 0);
    for (int i = 0; i < METERS; i++)
        sim_add_meter(sim, roles[i], 0, FORM_UINT64, 1000);
    sim_switch_on(sim);
    sim_start(sim);
    double began = cpu_s();
    for (int64_t minute = 0; minute < days * 1440; minute++) {
        for (int i = 0; i < METERS; i++)
            sim->meters[i].truth.power_mw = sim_up_to(sim, 12000000) - 6000000;
        sim_run_ms(sim, 60000);
    }
    double took = cpu_s() - began;
    printf("speed: %d meters at %d ms, intervals of %d s, %lld days: %.2f s of CPU, %.2f million polls a "
           "second, "
           "%.0f meter-days a minute\n",
           METERS, (int)sim->config.site.poll_period_ms, (int)sim->config.site.interval_s, (long long)days,
           took, (double)sim->polls / took / 1e6, (double)(METERS * days) / took * 60);
    sim_finish(sim);
}
