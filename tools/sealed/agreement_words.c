#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include "agreement.h"
#include "answer.h"
#include "muldiv.h"
#include "stamp.h"

const char *const agreement_verdict_words[AGREEMENT_VERDICTS] = {
    [VERDICT_AGREES] = "agrees",       [VERDICT_WITHIN] = "within worst case", [VERDICT_DIFFERS] = "differs",
    [VERDICT_OPEN] = "cannot be told", [VERDICT_NONE] = "not compared",
};

const char *const agreement_fit_words[AGREEMENT_FIT_KINDS] = {
    [FIT_RATIO] = "transformer ratio",
    [FIT_FACTOR] = "multiplying factor",
    [FIT_SCALE] = "scale",
    [FIT_EXCHANGED] = "import and export exchanged",
    [FIT_PHASE] = "a missing phase",
    [FIT_METHOD] = "phases netted or apart",
    [FIT_ABSOLUTE] = "counted whatever the direction",
    [FIT_READING] = "a reading misread",
    [FIT_TIME] = "time of a reading",
    [FIT_AHEAD] = "a load between the meters",
};

enum { HOUR_S = 3600, MOST_TOLD = 50000 }; /* an uncertainty beyond 5 % a year tells nothing */

/* Adds a remark, parted by a comma; what does not fit is cut. */
static size_t add(char *out, size_t at, const char *format, ...) __attribute__((format(printf, 3, 4)));

static size_t add(char *out, size_t at, const char *format, ...)
{
    va_list arguments;
    if (at + 3 >= AGREEMENT_TEXT_SIZE)
        return at;
    if (at > 0)
        at += (size_t)snprintf(out + at, AGREEMENT_TEXT_SIZE - at, ", ");
    va_start(arguments, format);
    at += (size_t)vsnprintf(out + at, AGREEMENT_TEXT_SIZE - at, format, arguments);
    va_end(arguments);
    return at < AGREEMENT_TEXT_SIZE ? at : AGREEMENT_TEXT_SIZE - 1;
}

static const char *quotient(char out[NUMBER_SIZE], int64_t value)
{
    return number_print(out, value, SHARE_SCALE, 3, 0);
}

/* As many digits as a guess deserves. */
static int64_t two_digits(int64_t value)
{
    int64_t unit = 1;
    while (llabs(value) / unit >= 100)
        unit *= 10;
    return (value + (value < 0 ? -unit / 2 : unit / 2)) / unit * unit;
}

static const char *energy(char out[NUMBER_SIZE], int64_t value)
{
    return number_print(out, value, ENERGY_SCALE, llabs(value) < INT64_C(100000000) ? 1 : 0, ',');
}

static const char *ratio_text(char *out, const struct agreement_row *row, const struct agreement_fit *fit)
{
    char is[NUMBER_SIZE], would[NUMBER_SIZE];
    quotient(is, fit->quotient);
    quotient(would, fit->expected);
    if (row->ct_primary > 0 && fit->up == row->ct_primary)
        snprintf(out, AGREEMENT_TEXT_SIZE,
                 "ours is %s times theirs, a ratio of %d/%d set where %d/%d is built in would be %s", is,
                 (int)row->ct_primary, (int)row->ct_secondary, (int)fit->down, (int)row->ct_secondary, would);
    else if (row->ct_primary > 0)
        snprintf(out, AGREEMENT_TEXT_SIZE,
                 "ours is %s times theirs, 1 A and 5 A taken for one another would be %s", is, would);
    else
        snprintf(
            out, AGREEMENT_TEXT_SIZE,
            "ours is %s times theirs, transformers of %d A set where those of %d A are built in would be %s",
            is, (int)fit->up, (int)fit->down, would);
    return out;
}

static const char *factor_text(char *out, const struct agreement_fit *fit)
{
    char is[NUMBER_SIZE], would[NUMBER_SIZE], up[NUMBER_SIZE], down[NUMBER_SIZE];
    int32_t decimals = fit->down % 1000 ? 3 : 0;
    snprintf(out, AGREEMENT_TEXT_SIZE,
             "ours is %s times theirs, a multiplying factor of %s in place of %s would be %s",
             quotient(is, fit->quotient), number_print(up, fit->up, 3, 0, 0),
             number_print(down, fit->down, 3, decimals, 0), quotient(would, fit->expected));
    return out;
}

static const char *phase_text(char *out, const struct agreement_fit *fit)
{
    char is[NUMBER_SIZE], would[NUMBER_SIZE];
    bool theirs = fit->up > fit->down;
    int32_t missing = fit->up == 1 || fit->down == 1 ? 2 : 1;
    snprintf(out, AGREEMENT_TEXT_SIZE,
             "ours is %s times theirs, %s of three evenly loaded phases missing in %s would be %s",
             quotient(is, fit->quotient), missing == 1 ? "one" : "two", theirs ? "theirs" : "ours",
             quotient(would, fit->expected));
    return out;
}

static const char *method_text(char *out, const struct agreement *agreement, const struct agreement_row *row,
                               const struct agreement_fit *fit)
{
    char amount[NUMBER_SIZE];
    bool less = fit->energy < 0;
    enum phase_method theirs = agreement->config->sealed[row->sealed].phase_method;
    bool known =
        agreement->sides[row->term].phases_apart != less && theirs == (less ? PHASES_APART : PHASES_NETTED);
    snprintf(
        out, AGREEMENT_TEXT_SIZE,
        "import and export are both about %s kWh %s in ours, as with phases %s in ours and %s in theirs%s",
        energy(amount, llabs(fit->energy)), less ? "less" : "more", less ? "netted" : "apart",
        less ? "apart" : "netted", known ? ", as configured" : "");
    return out;
}

static const char *reading_text(char *out, const struct civil *civil, const struct agreement_fit *fit)
{
    char amount[NUMBER_SIZE], at[STAMP_SIZE];
    snprintf(out, AGREEMENT_TEXT_SIZE,
             "the reading of %s noted %s kWh too %s: with the period beyond it the difference is gone",
             stamp_date(at, civil, fit->at_s), energy(amount, llabs(fit->energy)),
             fit->energy > 0 ? "high" : "low");
    return out;
}

static const char *time_text(char *out, const struct civil *civil, const struct agreement_row *row,
                             const struct agreement_fit *fit)
{
    char amount[NUMBER_SIZE], hours[NUMBER_SIZE], at[STAMP_SIZE];
    snprintf(out, AGREEMENT_TEXT_SIZE, "%s kWh flow in about %s h around the reading of %s",
             energy(amount, llabs(row->ours - row->theirs)),
             number_print(hours, mul_div(fit->seconds, 10, HOUR_S), 1, fit->seconds < 10 * HOUR_S, 0),
             stamp_date(at, civil, fit->at_s));
    return out;
}

static const char *ahead_text(char *out, const struct agreement_row *row, const struct agreement_fit *fit)
{
    char watts[NUMBER_SIZE];
    snprintf(out, AGREEMENT_TEXT_SIZE, "about %s W all the time, drawn between the two meters, would make it",
             number_print(watts, two_digits(fit->watts), 0, 0, ','));
    (void)row;
    return out;
}

const char *agreement_fit_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                               const struct civil *civil, const struct agreement_row *row,
                               const struct agreement_fit *fit)
{
    char is[NUMBER_SIZE], other[NUMBER_SIZE];
    switch (fit->kind) {
    case FIT_RATIO:
        return ratio_text(out, row, fit);
    case FIT_FACTOR:
        return factor_text(out, fit);
    case FIT_SCALE:
        snprintf(out, AGREEMENT_TEXT_SIZE, "ours is %s times theirs, a power of ten",
                 quotient(is, fit->quotient));
        return out;
    case FIT_EXCHANGED:
        snprintf(out, AGREEMENT_TEXT_SIZE, "their %s is %s kWh, our %s is %s kWh",
                 sealed_register_words[row->reg], energy(is, row->theirs),
                 row->term == TERM_IMPORT ? "export" : "import", energy(other, fit->energy));
        return out;
    case FIT_PHASE:
        return phase_text(out, fit);
    case FIT_METHOD:
        return method_text(out, agreement, row, fit);
    case FIT_ABSOLUTE:
        snprintf(out, AGREEMENT_TEXT_SIZE, "theirs is %s kWh, our import and export together are %s kWh",
                 energy(is, row->theirs), energy(other, fit->energy));
        return out;
    case FIT_READING:
        return reading_text(out, civil, fit);
    case FIT_TIME:
        return time_text(out, civil, row, fit);
    default:
        return ahead_text(out, row, fit);
    }
}

static const char *share(char out[NUMBER_SIZE], int64_t value)
{
    return number_print(out, value, SHARE_SCALE - 2, 2, 0);
}

const char *agreement_drift_text(char out[AGREEMENT_TEXT_SIZE], const struct civil *civil,
                                 const struct agreement_drift *drift)
{
    char slope[NUMBER_SIZE], doubt[NUMBER_SIZE], at[STAMP_SIZE];
    switch (drift->state) {
    case DRIFT_FEW:
        snprintf(
            out, AGREEMENT_TEXT_SIZE,
            "not yet determinable: it takes three reading periods over half a year, so far %d over %d days",
            (int)drift->rows, (int)(drift->span_s / 86400));
        break;
    case DRIFT_OPEN:
        if (drift->uncertainty > MOST_TOLD)
            snprintf(out, AGREEMENT_TEXT_SIZE, "not yet determinable: uncertain by more than %d %% a year",
                     MOST_TOLD / 10000);
        else
            snprintf(out, AGREEMENT_TEXT_SIZE,
                     "not yet determinable: ours against theirs between %s and %s %% a year",
                     share(slope, drift->slope - drift->uncertainty),
                     share(doubt, drift->slope + drift->uncertainty));
        break;
    case DRIFT_NONE:
        snprintf(out, AGREEMENT_TEXT_SIZE, "none: ours against theirs by no more than %s %% a year",
                 share(doubt, llabs(drift->slope) + drift->uncertainty));
        break;
    case DRIFT_SEEN:
        snprintf(out, AGREEMENT_TEXT_SIZE, "ours against theirs %s%s +- %s %% a year",
                 drift->slope > 0 ? "+" : "", share(slope, drift->slope), share(doubt, drift->uncertainty));
        break;
    case DRIFT_STEP:
        snprintf(out, AGREEMENT_TEXT_SIZE, "none: ours against theirs steps by %s %% at the reading of %s",
                 share(slope, drift->step), stamp_date(at, civil, drift->step_s));
        break;
    }
    return out;
}

const char *agreement_whole_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement_register *of)
{
    static const char *const words[AGREEMENT_VERDICTS] = {
        [VERDICT_AGREES] = "agrees with our account",
        [VERDICT_WITHIN] = "agrees with our account in the worst case of the classes",
        [VERDICT_DIFFERS] = "differs from our account by more than is allowed",
        [VERDICT_OPEN] = "cannot be told: it depends on a class that is not stated",
        [VERDICT_NONE] = "not compared",
    };
    const struct agreement_row *whole = &of->whole;
    char number[NUMBER_SIZE];
    int32_t compared = of->count - of->verdicts[VERDICT_NONE];
    bool open = whole->allowance.open_theirs + whole->allowance.open_ours > 0;
    size_t at = (size_t)snprintf(out, AGREEMENT_TEXT_SIZE, "%s", words[whole->verdict]);
    if (whole->verdict != VERDICT_NONE && whole->theirs > 0)
        at = add(out, at, "ours less theirs %s %%",
                 share(number, number_share(whole->ours - whole->theirs, whole->theirs)));
    if (whole->verdict != VERDICT_NONE && whole->theirs > 0 && !open)
        at = add(out, at, "allowed %s %%", share(number, number_share(whole->worst, whole->theirs)));
    if (compared < of->count)
        at = add(out, at, "%d of %d periods compared", (int)compared, (int)of->count);
    if (of->verdicts[VERDICT_DIFFERS] > 0 && compared > 1)
        add(out, at, "%d of %d periods beyond what is allowed", (int)of->verdicts[VERDICT_DIFFERS],
            (int)compared);
    return out;
}

static size_t add_class(char *out, size_t at, const char *name, const char *class_word, bool transformers,
                        const char *ct_class)
{
    at = class_word[0] ? add(out, at, "%s class %s", name, class_word)
                       : add(out, at, "%s of no stated class", name);
    if (!transformers)
        return at;
    return ct_class[0] ? add(out, at, "its transformers class %s", ct_class)
                       : add(out, at, "its transformers of no stated class");
}

const char *agreement_side_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                                enum balance_term term)
{
    const struct agreement_side *side = &agreement->sides[term];
    size_t at = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < side->count; i++) {
        const struct config_meter *meter = &agreement->config->meters[side->meters[i]];
        bool behind = meter->ct_class[0] || meter->ct_primary != meter->ct_secondary;
        at = add_class(out, at, meter->name, meter->accuracy_class, behind, meter->ct_class);
    }
    return out;
}

const char *agreement_sealed_text(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                                  const struct agreement_row *row)
{
    size_t at = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < agreement->config->sealed_count; i++) {
        const struct config_sealed *meter = &agreement->config->sealed[i];
        bool behind = meter->ct_class[0] || meter->factor_thousandths != 1000;
        if (row->together & UINT32_C(1) << i)
            at = add_class(out, at, meter->name, meter->accuracy_class, behind, meter->ct_class);
    }
    return out;
}

const char *agreement_names(char out[AGREEMENT_TEXT_SIZE], const struct agreement *agreement,
                            const struct agreement_row *row)
{
    size_t at = 0;
    out[0] = '\0';
    for (int32_t i = 0; i < agreement->config->sealed_count && at < AGREEMENT_TEXT_SIZE; i++)
        if (row->together & UINT32_C(1) << i)
            at += (size_t)snprintf(out + at, AGREEMENT_TEXT_SIZE - at, "%s%s", at ? " + " : "",
                                   agreement->config->sealed[i].name);
    return out;
}

/* Per cent of the row's time; never "0.0" of something. */
static const char *time_share(char out[NUMBER_SIZE], const struct agreement_row *row, int64_t seconds)
{
    int64_t part = number_share(seconds, row->to_s - row->from_s);
    return number_print(out, part < 1000 ? 1000 : part, SHARE_SCALE - 2, 1, 0);
}

const char *agreement_remarks(char out[AGREEMENT_TEXT_SIZE], const struct agreement_row *row)
{
    char number[NUMBER_SIZE];
    size_t at = 0;
    out[0] = '\0';
    if (row->theirs == UNKNOWN)
        at = add(out, at, "theirs unclear");
    if (row->shared)
        at = add(out, at, "several sealed meters count it together");
    if (row->ours == UNKNOWN)
        at = add(out, at, "ours lacks %s %% of the time", time_share(number, row, row->lacking_s));
    else if (row->unobserved_s > 0)
        at = add(out, at, "ours filled in for %s %% of the time", time_share(number, row, row->unobserved_s));
    const struct {
        bool holds;
        const char *word;
    } remarks[] = {
        { row->flags & ROW_ENTERED, "ours entered in part" },
        { row->flags & HOW_CORRECTED, "ours corrected" },
        { row->flags & HOW_RUN_CHANGE, "a counter of ours was reset" },
        { row->unlike, "unlike the other periods" },
        { row->passed > 0, "over readings that nobody took" },
        { row->rolled, "rolled over" },
        { row->exchanges > 0, "meter exchanged" },
    };
    for (size_t i = 0; i < sizeof(remarks) / sizeof(remarks[0]); i++)
        if (remarks[i].holds)
            at = add(out, at, "%s", remarks[i].word);
    return out;
}
