#include "hostile.h"

#include <stdio.h>
#include <string.h>

#include "disk.h"
#include "record.h"

enum {
    CHANCES = 60,       /* the cut comes at one of so many writes */
    LONGEST_S = 900,    /* or when nothing is written, after this */
    ALLOWED = 2,        /* damaged of ... */
    ALLOWED_OF = 12000, /* mounts: without psow=0; with it, a prototype saw none */
};

static void new_record(struct sim *sim, uint64_t seed)
{
    sim_begin(sim, seed, INT64_C(1790000000000));
    disk_set_hostile(true);
    sim->config.site.interval_s = 60;
    sim_add_bus(sim, BUS_TCP, 0);
    sim_add_meter(sim, ROLE_CONSUMPTION, 0, FORM_UINT64, 1000);
    sim_add_meter(sim, ROLE_PRODUCTION, 0, FORM_UINT64, 1000);
    sim_switch_on(sim);
    for (int i = 0; i < 2; i++)
        sim->meters[i].truth.power_mw = 3000000 - i * 1500000;
    sim_start(sim);
}

/* Runs up to a power cut and what comes after it. */
static void mount_again(struct sim *sim)
{
    int boots = sim->boots;
    sim->cut_off_ms = 1000 * sim_up_to(sim, 60);
    disk_cut_at_write(1 + sim_up_to(sim, CHANCES));
    for (int s = 0; s < LONGEST_S && sim->boots == boots; s += 10)
        sim_run_ms(sim, 10000);
    if (sim->boots == boots) {
        disk_cut_at_write(0);
        sim_power_off(sim, sim->cut_off_ms);
        sim_start(sim);
    }
    if (record_ask(sim, "SELECT count(*) FROM pragma_integrity_check WHERE integrity_check <> 'ok'") > 0)
        sim_fail(sim, "damaged");
}

/* Mounts until one is damaged or all are done; returns how many were. */
static int64_t mount_until_damaged(struct sim *sim, int64_t mounts, uint64_t seed)
{
    jmp_buf escape, *outer = sim->escape;
    volatile int64_t done = 0;
    sim->escape = &escape;
    if (setjmp(escape) == 0) {
        new_record(sim, seed);
        while (done < mounts) {
            done++;
            mount_again(sim);
        }
    }
    sim->escape = outer;
    sim_finish(sim);
    return done;
}

void hostile_measure(struct sim *sim, int64_t mounts)
{
    int64_t done = 0, damaged = 0;
    for (uint64_t seed = 1; done < mounts; seed++) {
        sim->failure[0] = '\0';
        done += mount_until_damaged(sim, mounts - done, seed);
        if (sim->failure[0]) {
            damaged++;
            printf("  seed %llu: %s\n", (unsigned long long)seed, sim->failure);
        }
    }
    printf("hostile disk: %lld of %lld mounts found a damaged record\n", (long long)damaged, (long long)done);
    if (damaged > (done * ALLOWED + ALLOWED_OF - 1) / ALLOWED_OF)
        sim_fail(sim, "more damaged records than allowed: %d in %d", ALLOWED, ALLOWED_OF);
}
