#include "opening.h"

#include <stdio.h>

static bool nets_by_block(const struct tariff *tariff)
{
    for (int32_t s = 0; s < tariff->schedule_count; s++)
        if (tariff->schedules[s].netting.by_block)
            return true;
    return false;
}

bool opening_check(const struct bills *bills, const char *path)
{
    const struct contract_file *contract = bills->contract;
    bool good = true;
    for (int32_t i = 0; i < contract->credit_count; i++) {
        const struct contract_credit *credit = &contract->credits[i];
        bool known = tariff_has_block(bills->tariff, credit->block);
        if (known && nets_by_block(bills->tariff))
            continue;
        good = false;
        if (!known)
            fprintf(stderr,
                    "meterbook: %s:%d: 'block' is \"%s\", allowed: a block of the tariff '%s', or other\n",
                    path, (int)credit->line, credit->block, bills->tariff->name);
        else
            fprintf(
                stderr,
                "meterbook: %s:%d: a credit by block, but the tariff '%s' does not net within each block, "
                "allowed: an entry 'credit' in the logbook\n",
                path, (int)credit->line, bills->tariff->name);
    }
    return good;
}

/* The newest day of the contract's credits that is not after another; 0 none. */
static int64_t newest_day(const struct contract_file *contract, int64_t day)
{
    int64_t newest = 0;
    for (int32_t i = 0; i < contract->credit_count; i++)
        if (contract->credits[i].day <= day)
            newest = contract->credits[i].day;
    return newest;
}

static const struct logbook_entry *find_entry(const struct bills *bills, int64_t day)
{
    const struct session *session = &bills->inquiry.session;
    int32_t sealed = bills->billing.sealed;
    int64_t last_s = civil_day_start(session->civil, day + 1) - 1;
    return session->logbook ? logbook_credit(session->logbook,
                                             sealed >= 0 ? session->config->sealed[sealed].name : "", last_s)
                            : NULL;
}

static void take_contract(struct bills *bills, const struct schedule *schedule, int64_t day, int64_t from_day,
                          struct opening *opening)
{
    for (int32_t i = 0; i < bills->contract->credit_count; i++) {
        const struct contract_credit *credit = &bills->contract->credits[i];
        if (credit->day != day)
            continue;
        credit_add(&bills->credit, from_day - 1, schedule_block_named(schedule, credit->block),
                   credit->energy);
        opening->energy += credit->energy;
        opening->source = credit->source;
    }
}

static void take_energy(struct bills *bills, const struct schedule *schedule, int64_t from_day,
                        int64_t energy, struct opening *opening)
{
    credit_add(&bills->credit, from_day - 1, 0, energy);
    opening->energy = energy;
    if (energy > 0 && schedule->netting.by_block && schedule->block_count > 1)
        opening->guessed_block = schedule->blocks[0].name;
}

void opening_take(struct bills *bills, int64_t from_day, struct opening *opening)
{
    const struct schedule *schedule = tariff_at(bills->tariff, from_day);
    const struct logbook_entry *entry = find_entry(bills, from_day);
    int64_t ours = newest_day(bills->contract, from_day),
            theirs = entry ? billing_day(&bills->billing, entry->at_s) : 0,
            newest = ours > theirs ? ours : theirs;
    *opening = (struct opening){ .source = "", .guessed_block = "" };
    if (newest <= bills->credit_day || !schedule)
        return;
    opening->taken = true;
    bills->credit_day = newest;
    bills->credit.lot_count = 0;
    bills->credit.money = 0;
    if (entry && theirs == newest) {
        int64_t energy = entry->number[LOGBOOK_KWH], money = entry->number[LOGBOOK_MONEY];
        opening->source = entry->text;
        if (ours != newest && energy != LOGBOOK_NOTHING)
            take_energy(bills, schedule, from_day, energy, opening);
        if (money != LOGBOOK_NOTHING && money > 0)
            bills->credit.money = money;
    }
    if (ours == newest)
        take_contract(bills, schedule, ours, from_day, opening);
}
