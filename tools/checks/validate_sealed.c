/* Readings of sealed meters inside the span beside our own account. Only
 * stated: a reading's time, the multiplying factor, how the phases are
 * combined and loads in front of our meters come before any accusation. */
#include "sources.h"
#include "spans.h"
#include "spans_own.h"
#include "validate_walk.h"

static void leave_out(void *self, const char *line)
{
    (void)self; /* `spans` says it */
    (void)line;
}

static void compare(struct validate *validate, struct spans_own *own, const struct spans_period *period)
{
    const struct config_sealed *meter = &validate->config->sealed[period->sealed];
    struct tally *tally = &validate->sealed[period->sealed];
    enum balance_term term = sources_term(meter, period->reg);
    char step[NUMBER_SIZE];
    if (term == TERM_COUNT || period->from_s < validate->from_s || period->to_s > validate->to_s)
        return;
    int64_t counted = spans_own(own, term, period->from_s, period->to_s);
    if (counted == UNKNOWN || period->energy == UNKNOWN) {
        tally_untold(tally, 1);
        return;
    }
    struct finding finding = { period->from_s, counted - period->energy,
                               number_share(counted - period->energy, period->energy), UNKNOWN };
    tally_note(tally, ITEM_SEALED, &finding, 1);
    tally_remark(tally, "%s to %s kWh", sealed_register_words[period->reg],
                 number_print(step, period->step, ENERGY_SCALE, number_decimals_of_step(period->step, 3), 0));
}

void validate_sealed(struct validate *validate)
{
    struct spans spans = { .config = validate->config, .civil = validate->civil, .note = leave_out };
    struct spans_own own = { .query = validate->query, .civil = validate->civil };
    if (!validate->config || !validate->logbook)
        return;
    for (int32_t i = 0; i < validate->config->sealed_count; i++)
        spans_read(&spans, validate->logbook, i);
    validate->memory_out |= spans.memory_out;
    for (int32_t i = 0; i < spans.count; i++)
        compare(validate, &own, &spans.periods[i]);
    spans_free(&spans);
}
