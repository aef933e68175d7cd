#include "bill_paper.h"

#include <stdio.h>
#include <string.h>

#include "bill_words.h"
#include "stamp.h"

void bill_paper_make(struct bill_paper *made, const struct bills *bills, const struct bill_pair *pair)
{
    const struct bill_basis basis = bills_basis(bills, pair);
    const struct paper_bill *paper = pair->paper;
    *made = (struct bill_paper){ .bills = bills, .pair = pair };
    made->has_estimates =
        !pair->period.by_readings && rebill_without_estimates(&basis, &made->without_estimates);
    made->has_reading = paper && rebill_of_reading(&basis, paper, &made->by_reading);
    made->has_known = rebill_as_known(&basis, pair->period.to_day, &made->late, &made->as_known);
}

const struct paper_item *bill_paper_item(const struct paper_bill *paper, const char *name)
{
    for (int32_t i = 0; paper && i < paper->item_count; i++)
        if (strcmp(paper->items[i].name, name) == 0)
            return &paper->items[i];
    return NULL;
}

static int64_t amount_of(const struct bill *bill, const char *item)
{
    return item ? bill_item_amount(bill, item) : bill->total;
}

const char *bill_paper_reason(const struct bill_paper *made, const char *item)
{
    static const char *const words[DIFFERENCE_COUNT] = {
        [DIFFERENCE_NONE] = "",
        [DIFFERENCE_ROUNDING] = "rounding",
        [DIFFERENCE_QUANTITY] = "quantity, by their reading",
        [DIFFERENCE_SCHEDULE] = "rate, of a schedule before",
        [DIFFERENCE_RATE] = "rate or rule",
    };
    const struct bill *ours = &made->pair->with;
    const struct paper_bill *paper = made->pair->paper;
    int64_t theirs = item ? bill_paper_item(paper, item)->amount : paper->total;
    return words[difference_of(amount_of(ours, item), theirs,
                               made->has_reading ? amount_of(&made->by_reading, item) : UNKNOWN,
                               made->has_known ? amount_of(&made->as_known, item) : UNKNOWN,
                               rebill_rounding(made->bills->tariff, ours, item))];
}

static const char *money(const struct bill_paper *made, char out[NUMBER_SIZE], int64_t amount)
{
    return number_print(out, amount, 6, made->bills->tariff->decimals, ',');
}

/* ---- registers ---- */

/* The register of ours that a reading on paper is of; SEALED_REGISTERS: none. */
static enum sealed_register register_of(const struct bills *bills, const struct paper_reading *reading)
{
    bool import = reading->of == MEASURE_IMPORT;
    if (!reading->block[0])
        return import ? SEALED_IMPORT : SEALED_EXPORT;
    for (int32_t t = 0; t < CONTRACT_REGISTERS; t++)
        if (strcmp(bills->contract->registers[t], reading->block) == 0)
            return (enum sealed_register)((import ? SEALED_T1 : SEALED_EXPORT_T1) + t);
    return SEALED_REGISTERS;
}

/* What the logbook has for it on a day, as shown; UNKNOWN. */
static int64_t shown_on(const struct bills *bills, enum sealed_register reg, int64_t day)
{
    const struct session *session = &bills->asked->session;
    int32_t sealed = bills->billing.sealed;
    int64_t shown = LOGBOOK_NOTHING;
    for (int32_t i = 0;
         session->logbook && sealed >= 0 && reg < SEALED_REGISTERS && i < session->logbook->count; i++) {
        const struct logbook_entry *entry = &session->logbook->entries[i];
        if (entry->kind == LOGBOOK_READING && !entry->revoked && !entry->refused &&
            strcmp(entry->subject, session->config->sealed[sealed].name) == 0 &&
            billing_day(&bills->billing, entry->at_s) == day &&
            entry->number[LOGBOOK_REGISTER + reg] != LOGBOOK_NOTHING)
            shown = entry->number[LOGBOOK_REGISTER + reg];
    }
    return shown == LOGBOOK_NOTHING ? UNKNOWN : shown;
}

int64_t bill_paper_reading(const struct bill_paper *made, const struct paper_reading *reading,
                           char out[PAPER_WORDS_SIZE])
{
    char kwh[NUMBER_SIZE];
    const struct bill_basis basis = bills_basis(made->bills, made->pair);
    int64_t ours = rebill_energy(&basis, reading), off = ours - reading->energy;
    out[0] = '\0';
    if (off != 0)
        snprintf(out, PAPER_WORDS_SIZE, "ours %s kWh %s",
                 number_print(kwh, off < 0 ? -off : off, ENERGY_SCALE,
                              bill_decimals(off, off % 100000 ? 3 : 1), ','),
                 off < 0 ? "less" : "more");
    return ours;
}

static void note_shown(const struct bill_paper *made, struct sheet *sheet,
                       const struct paper_reading *reading, const char *which, int64_t theirs, int64_t day)
{
    char a[NUMBER_SIZE], b[NUMBER_SIZE], from[STAMP_SIZE];
    const struct civil *civil = made->bills->asked->session.civil;
    int64_t ours = shown_on(made->bills, register_of(made->bills, reading), day);
    if (theirs == UNKNOWN || ours == UNKNOWN || theirs == ours)
        return;
    sheet_note(sheet, "bill from %s: %s%s%s, %s reading on paper %s, in the logbook %s",
               stamp_date(from, civil, civil_day_start(civil, made->pair->period.from_day)),
               measure_name(reading->of), reading->block[0] ? ", " : "", reading->block, which,
               number_print(a, theirs, 6, bill_decimals(theirs, 0), ','),
               number_print(b, ours, 6, bill_decimals(ours, 0), ','));
}

static void note_readings(const struct bill_paper *made, struct sheet *sheet)
{
    const struct paper_bill *paper = made->pair->paper;
    for (int32_t i = 0; i < paper->reading_count; i++) {
        const struct paper_reading *reading = &paper->readings[i];
        note_shown(made, sheet, reading, "opening", reading->opening, paper->from_day);
        note_shown(made, sheet, reading, "closing", reading->closing, paper->to_day);
    }
}

static void note_reading(const struct bill_paper *made, struct sheet *sheet, const char *what,
                         enum measure measure, int64_t theirs)
{
    char a[NUMBER_SIZE], b[NUMBER_SIZE], from[STAMP_SIZE];
    const struct civil *civil = made->bills->asked->session.civil;
    int64_t ours = made->pair->with.energy[measure];
    if (theirs == UNKNOWN || theirs == ours)
        return;
    sheet_note(sheet, "bill from %s: %s on paper %s kWh, ours %s kWh",
               stamp_date(from, civil, civil_day_start(civil, made->pair->period.from_day)), what,
               number_print(a, theirs, ENERGY_SCALE, 1, ','), number_print(b, ours, ENERGY_SCALE, 1, ','));
}

static void note_late(const struct bill_paper *made, struct sheet *sheet)
{
    char from[STAMP_SIZE], known[STAMP_SIZE], bill[STAMP_SIZE], a[NUMBER_SIZE], b[NUMBER_SIZE];
    const struct civil *civil = made->bills->asked->session.civil;
    stamp_date(from, civil, civil_day_start(civil, made->late->from_day));
    stamp_date(known, civil, civil_day_start(civil, made->late->known_day));
    stamp_date(bill, civil, civil_day_start(civil, made->pair->period.from_day));
    sheet_note(
        sheet,
        "bill from %s: its schedule of %s became known on %s, after it was due: as written then it is %s %s, "
        "and %s belong on a later bill",
        bill, from, known, money(made, a, made->as_known.total), made->bills->tariff->currency,
        money(made, b, made->pair->with.total - made->as_known.total));
}

void bill_paper_notes(const struct bill_paper *made, struct sheet *sheet)
{
    const struct paper_bill *paper = made->pair->paper;
    const struct civil *civil = made->bills->asked->session.civil;
    char from[STAMP_SIZE], a[NUMBER_SIZE], credit[NUMBER_SIZE];
    const struct bill *ours = &made->pair->with;
    stamp_date(from, civil, civil_day_start(civil, made->pair->period.from_day));
    if (made->has_estimates)
        sheet_note(sheet, "bill from %s: what was estimated stands for at most %s %s of it%s%s%s", from,
                   money(made, a, ours->total - made->without_estimates.total), made->bills->tariff->currency,
                   made->without_estimates.credit.out > ours->credit.out ? ", and for " : "",
                   made->without_estimates.credit.out > ours->credit.out
                       ? number_print(credit, made->without_estimates.credit.out - ours->credit.out,
                                      ENERGY_SCALE, 1, ',')
                       : "",
                   made->without_estimates.credit.out > ours->credit.out ? " kWh of credit" : "");
    else if (ours->estimated > 0)
        sheet_note(sheet, "bill from %s: import and export are the registers', whatever was estimated", from);
    if (made->has_known)
        note_late(made, sheet);
    if (!paper)
        return;
    note_reading(made, sheet, "import", MEASURE_IMPORT, paper->import);
    note_reading(made, sheet, "export", MEASURE_EXPORT, paper->export);
    note_readings(made, sheet);
    if (paper->estimated)
        sheet_note(sheet, "bill from %s: a reading on paper was estimated; the next one makes up for it",
                   from);
    if (paper->note[0])
        sheet_note(sheet, "bill from %s: %s", from, paper->note);
}

static bool has_period(const struct billing *billing, const struct paper_bill *paper)
{
    for (int32_t i = 0; i < billing->count; i++)
        if (billing->periods[i].from_day == paper->from_day && billing->periods[i].to_day == paper->to_day)
            return true;
    return false;
}

void bill_paper_unmatched(const struct bills *bills, struct sheet *sheet)
{
    const struct period *asked = &bills->asked->period;
    const struct civil *civil = bills->asked->session.civil;
    char from[STAMP_SIZE], to[STAMP_SIZE];
    for (int32_t i = 0; i < bills->contract->paper_count; i++) {
        const struct paper_bill *paper = &bills->contract->papers[i];
        if (paper->to_day <= asked->from_day || paper->from_day >= asked->to_day ||
            has_period(&bills->billing, paper))
            continue;
        stamp_date(from, civil, civil_day_start(civil, paper->from_day));
        stamp_date(to, civil, civil_day_start(civil, paper->to_day));
        sheet_note(sheet,
                   "the paper bill of %s to %s is compared with nothing: no bill of ours has these days",
                   from, to);
    }
}
