#include "validate_identity.h"

#include <string.h>

enum { MS = 1000 };

static void check_serial(struct tally *tally, const struct run_row *run, const struct run_row *before,
                         const char *configured, bool declared)
{
    struct finding finding = finding_at(run->from_ms / MS);
    bool known_before = before && before->serial[0];
    if (!run->serial[0] || (!known_before && !configured[0])) {
        tally_untold(tally, 1);
    } else if (configured[0] && strcmp(run->serial, configured) != 0) {
        tally_fail(tally, ITEM_SERIAL, &finding, 1);
        tally_remark(tally, "'%s' where '%s' is configured", run->serial, configured);
    } else if (known_before && strcmp(run->serial, before->serial) != 0 && !declared) {
        tally_fail(tally, ITEM_SERIAL, &finding, 1);
        tally_remark(tally, "'%s' after '%s', no exchange declared", run->serial, before->serial);
    } else {
        tally_pass(tally, 1);
    }
}

static void check_factors(struct tally *tally, const struct run_row *run, const struct run_row *before)
{
    static const char *const names[] = { "CT", "VT" };
    struct finding finding = finding_at(run->from_ms / MS);
    bool changed = false;
    for (int i = 0; i < 2; i++) {
        const int64_t *now = &run->factor[2 * i], *old = &before->factor[2 * i];
        if (now[0] == old[0] && now[1] == old[1])
            continue;
        changed = true;
        tally_remark(tally, "%s %lld/%lld after %lld/%lld", names[i], (long long)now[0], (long long)now[1],
                     (long long)old[0], (long long)old[1]);
    }
    if (run->factor[4] != before->factor[4]) {
        changed = true;
        tally_remark(tally, "%s", run->factor[4] > 0 ? "reversed" : "forward again");
    }
    if (changed)
        tally_note(tally, ITEM_FACTORS, &finding, 1);
    else
        tally_pass(tally, 1);
}

static bool has_factor(const struct run_row *run)
{
    return run->factor[0] != UNKNOWN;
}

void identity_check_run(struct tally tallies[ITEM_COUNT], const struct run_row *run,
                        const struct run_row *before, bool began, const char *configured, bool declared)
{
    struct finding finding = finding_at(run->from_ms / MS);
    check_serial(&tallies[ITEM_SERIAL], run, began ? before : NULL, configured, declared);
    if (!began || !before) {
        tally_pass(&tallies[ITEM_RUNS], 1);
        return;
    }
    tally_note(&tallies[ITEM_RUNS], ITEM_RUNS, &finding, 1);
    tally_remark(&tallies[ITEM_RUNS], "%s", run->began);
    if (has_factor(run) && has_factor(before))
        check_factors(&tallies[ITEM_FACTORS], run, before);
}
