/* links: tools/money/contract_file.c tools/money/contract_cases.c tools/money/contract_entry.c tools/money/contract_paper.c tools/money/carbon.c tools/money/bill.c tools/money/bill_price.c tools/money/credit.c tools/money/money.c tools/money/tariff.c tools/money/tariff_file.c tools/money/tariff_items.c tools/money/tariff_tables.c tools/money/tariff_words.c daemon/record/muldiv.c daemon/record/setting.c daemon/record/setting_words.c daemon/record/source.c daemon/record/scan.c daemon/record/utf8.c daemon/record/calendar.c */
/* Any text as a tariff, a contract and emission factors: refused with a line that says so, or taken; and a
 * tariff that was taken makes a bill of its first days in which no kWh of credit appears or vanishes.
 * libFuzzer; the corpus is config/tariffs and config/carbon. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "carbon.h"
#include "contract.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* libconfig 1.5 loses the text it was reading at a syntax error: some bytes per
 * refused file, which are the library's. Called by LeakSanitizer. */
const char *__lsan_default_suppressions(void);

const char *__lsan_default_suppressions(void)
{
    return "leak:libconfig.so\n";
}

static void hear(void *self, bool error, const char *line)
{
    (void)error;
    if (line[0] == '\0' || strchr(line, '\n'))
        abort();
    ++*(int *)self;
}

static void check(const void *loaded, const struct problems *problems, int said)
{
    if ((loaded == NULL) != (problems->errors > 0) || problems->errors + problems->warnings != said)
        abort();
}

/* Two bills, the second over a revision where there is one. */
static void try_bills(const struct tariff *tariff, const uint8_t *data, size_t size)
{
    static struct bill bill;
    static struct usage uses[2];
    static struct credit credit;
    struct contract contract = { .with_plant = true, .phases = 3, .contracted = 5000000 };
    contract.part_count = 1;
    contract.parts[0] = (struct plant_part){ tariff->schedules[0].from_day, 5000000 };
    credit = (struct credit){ 0 };
    for (int32_t n = 0; n < 2 && n < tariff->schedule_count; n++) {
        int64_t middle = tariff->schedules[n].from_day;
        for (int32_t i = 0; i < 2; i++) {
            const struct schedule *schedule = &tariff->schedules[i == 0 && n > 0 ? n - 1 : n];
            uses[i] = (struct usage){ .from_day = middle + 15 * (i - 1),
                                      .to_day = middle + 15 * i,
                                      .schedule = schedule };
            for (int32_t m = 0; m < MEASURE_ENERGIES; m++)
                for (int32_t b = 0; b < schedule->block_count; b++)
                    if (schedule->blocks[b].same == b)
                        uses[i].energy[m][b] = m == MEASURE_NET || size == 0
                                                   ? 0
                                                   : INT64_C(1000003) * data[(size_t)(m + b + i) % size];
            uses[i].demand[0] = 4000000;
        }
        if (!bill_make(&bill, tariff, &contract, uses, 2, &credit))
            abort();
        const struct credit_use *use = &bill.credit;
        bool carries = tariff->schedules[n].netting.carry == CARRY_ENERGY;
        if (carries && use->in + use->surplus != use->used + use->expired + use->not_kept + use->settled +
                                                     use->lost + use->paid + use->out)
            abort();
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    char path[64];
    int descriptor = memfd_create("fuzz", 0);
    if (descriptor < 0 || write(descriptor, data, size) != (ssize_t)size)
        abort();
    snprintf(path, sizeof path, "/proc/self/fd/%d", descriptor);
    int said[3] = { 0, 0, 0 };
    struct problems problems[3];
    for (int i = 0; i < 3; i++)
        problems[i] = (struct problems){ .say = hear, .self = &said[i] };
    struct tariff *tariff = tariff_load(path, &problems[0]);
    struct contract_file *contract = contract_load(path, &problems[1]);
    struct carbon_factors *factors = carbon_load(path, &problems[2]);
    check(tariff, &problems[0], said[0]);
    check(contract, &problems[1], said[1]);
    check(factors, &problems[2], said[2]);
    if (tariff)
        try_bills(tariff, data, size);
    tariff_free(tariff);
    contract_free(contract);
    free(factors);
    close(descriptor);
    return 0;
}
