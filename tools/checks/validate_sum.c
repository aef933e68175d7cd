#include "validate_sum.h"

#include <string.h>

const struct day_check day_check_empty = { UNKNOWN, UNKNOWN, 0, 0, 0 };

void run_check_add(struct run_check *check, int64_t start_s, int64_t energy)
{
    if (start_s < check->run->base_s)
        return;
    if (start_s < check->run->anchor_s)
        check->to_anchor += energy;
    if (check->next && start_s < check->next->base_s)
        check->to_next += energy;
}

/* Bits of a register as the float they may be. */
static double float_of(uint64_t bits)
{
    double wide;
    float narrow;
    uint32_t low = (uint32_t)bits;
    if (bits > UINT32_MAX) {
        memcpy(&wide, &bits, sizeof(wide));
        return wide;
    }
    memcpy(&narrow, &low, sizeof(narrow));
    return (double)narrow;
}

/* The map that read it may be long gone: the first reading, known as bits and as energy, tells the form. */
bool run_last_shown(const struct run_row *run, int64_t *shown, int64_t *doubt)
{
    uint64_t most = run->step > 0 ? (uint64_t)(INT64_MAX / run->step) : 0;
    /* A run that was taken up after a start and ended before its next reading has no last bits: 0. */
    if (run->last_raw == 0 || run->step < 1 || run->first_raw == 0 || run->first <= 0)
        return false;
    if (run->first_raw <= most && run->first == (int64_t)run->first_raw * run->step) {
        *shown = run->last_raw <= most ? (int64_t)run->last_raw * run->step : UNKNOWN;
        *doubt = 0;
        return *shown != UNKNOWN;
    }
    double first = float_of(run->first_raw), last = float_of(run->last_raw);
    if (!(first > 0 && last >= first) || !(last / first * (double)run->first < 9e18))
        return false;
    *shown = (int64_t)(last / first * (double)run->first);
    *doubt = 1 + (int64_t)(last / first);
    return true;
}

static void test(struct tally *tally, enum item item, int64_t at_s, int64_t difference, bool good)
{
    struct finding finding = finding_at(at_s);
    finding.energy = difference;
    tally_test(tally, item, &finding, good);
}

static void check_end_of_run(const struct run_check *check, struct tally *tally)
{
    const struct run_row *run = check->run, *next = check->next;
    int64_t at_next = run->base + check->to_next;
    if (!next || run->last == UNKNOWN) {
        tally_untold(tally, next != NULL);
        return;
    }
    bool settings = strcmp(run->ended, "settings") == 0, rollover = strcmp(run->ended, "rollover") == 0;
    /* Between the last reading of this run and the first of the next one. */
    int64_t between = settings ? run->last - at_next : (next->first - next->base) - (run->last - at_next);
    if (between > 0 && run->last_raw == 0 && !settings)
        tally_untold(tally,
                     1); /* nobody heard how it ended: a rollover may be among what is called a reset */
    else
        test(tally, ITEM_ACCOUNT, next->base_s, between, rollover ? between >= 0 : between == 0);
}

static void check_register(const struct run_row *run, struct tally *tally)
{
    int64_t shown, doubt;
    if (run->last == UNKNOWN || !run_last_shown(run, &shown, &doubt)) {
        tally_untold(tally, 1);
        return;
    }
    bool good = run->last >= shown - doubt && run->last < shown + run->step + doubt;
    test(tally, ITEM_REGISTER, run->to_ms == UNKNOWN ? UNKNOWN : run->to_ms / 1000, run->last - shown, good);
}

void run_check_end(const struct run_check *check, struct tally tallies[ITEM_COUNT])
{
    const struct run_row *run = check->run;
    int64_t difference = run->base + check->to_anchor - run->anchor;
    if (check->anchored)
        test(&tallies[ITEM_ACCOUNT], ITEM_ACCOUNT, run->anchor_s, difference, difference == 0);
    else
        tally_untold(&tallies[ITEM_ACCOUNT], 1);
    check_end_of_run(check, &tallies[ITEM_ACCOUNT]);
    check_register(run, &tallies[ITEM_REGISTER]);
}

void day_check_add(struct day_check *check, const struct interval_row *row)
{
    check->import = number_sum(check->import, row->import);
    check->export = number_sum(check->export, row->export);
    check->estimated += row->estimated;
    check->unobserved += row->unobserved;
    check->rows++;
}

static int64_t known(int64_t energy)
{
    return energy == UNKNOWN ? 0 : energy;
}

void day_check_end(struct day_check *check, const struct day_row *closed, struct tally *tally, int64_t from_s,
                   int64_t to_s)
{
    if (closed) {
        /* Intervals that a day lacks are counted as not observed. */
        int64_t lacking = closed->expected > closed->rows ? closed->expected - closed->rows : 0;
        int64_t length_s = closed->expected > 0 ? (to_s - from_s) / closed->expected : 0;
        bool good = closed->from_s == from_s && closed->to_s == to_s && closed->import == check->import &&
                    closed->export == check->export && closed->estimated == check->estimated &&
                    closed->rows == check->rows &&
                    closed->unobserved == check->unobserved + lacking * length_s;
        int64_t import = known(closed->import) - known(check->import);
        int64_t export = known(closed->export) - known(check->export);
        test(tally, ITEM_DAY_SUMS, from_s, import != 0 ? import : export, good);
    } else if (check->rows > 0) {
        tally_untold(tally, 1);
    }
    *check = day_check_empty;
}
