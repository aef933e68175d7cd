/* Do the sealed meters agree with our own account? */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "agreement.h"
#include "inquiry.h"
#include "muldiv.h"
#include "nearest.h"
#include "stamp.h"

enum column {
    METER,
    REGISTER,
    SCOPE, /* period, or what the remarks say of a last row */
    FROM,
    TO,
    DAYS,
    THEIRS,
    OURS,
    DIFFERENCE,
    DIFFERENCE_SHARE,
    ALLOWED_SHARE,
    LIKELY_SHARE,
    ALLOWED,
    LIKELY,
    CLASSES,
    STEPS,
    TIMES,
    VERDICT,
    FITS,
    FIGURES,
    REMARKS,
    COLUMN_COUNT
};

static const struct sheet_column columns[COLUMN_COUNT] = {
    [METER] = { "meter", { "", "meter" }, "", SHEET_TEXT, 0, false },
    [REGISTER] = { "register", { "", "register" }, "", SHEET_TEXT, 0, false },
    [SCOPE] = { "scope", { "", "" }, "", SHEET_TEXT, 0, true },
    [FROM] = { "from", { "", "from" }, "", SHEET_DATE, 0, false },
    [TO] = { "to", { "", "to" }, "", SHEET_DATE, 0, false },
    [DAYS] = { "days", { "", "" }, "", SHEET_NUMBER, 3, true },
    [THEIRS] = { "sealed_kwh", { "", "theirs" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    [OURS] = { "own_kwh", { "our own", "account" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    [DIFFERENCE] = { "difference_kwh", { "ours less", "theirs" }, "kWh", SHEET_NUMBER, ENERGY_SCALE, false },
    [DIFFERENCE_SHARE] = { "difference_share", { "of", "theirs" }, "%", SHEET_SHARE, 0, false },
    [ALLOWED_SHARE] = { "allowed_share", { "allowed", "at worst" }, "%", SHEET_SHARE, 0, false },
    [LIKELY_SHARE] = { "likely_share", { "as root", "of squares" }, "%", SHEET_SHARE, 0, false },
    [ALLOWED] = { "allowed_kwh", { "", "" }, "", SHEET_NUMBER, ENERGY_SCALE, true },
    [LIKELY] = { "likely_kwh", { "", "" }, "", SHEET_NUMBER, ENERGY_SCALE, true },
    [CLASSES] = { "classes_kwh", { "", "" }, "", SHEET_NUMBER, ENERGY_SCALE, true },
    [STEPS] = { "steps_kwh", { "", "" }, "", SHEET_NUMBER, ENERGY_SCALE, true },
    [TIMES] = { "times_kwh", { "", "" }, "", SHEET_NUMBER, ENERGY_SCALE, true },
    [VERDICT] = { "verdict", { "", "verdict" }, "", SHEET_TEXT, 0, false },
    [FITS] = { "fits", { "", "what fits" }, "", SHEET_TEXT, 0, false },
    [FIGURES] = { "fit_figures", { "", "" }, "", SHEET_TEXT, 0, true },
    [REMARKS] = { "remarks", { "", "remarks" }, "", SHEET_TEXT, 0, false },
};
enum { UP_TO = 3, DAY_S = 86400 };

/* What a row's cells point to. */
struct words {
    char names[AGREEMENT_TEXT_SIZE], fits[AGREEMENT_TEXT_SIZE],
        figures[AGREEMENT_FIT_KINDS * AGREEMENT_TEXT_SIZE], remarks[2 * AGREEMENT_TEXT_SIZE];
};

struct work {
    const struct options *options;
    struct inquiry inquiry;
    struct agreement agreement;
    struct sheet sheet;
    struct sheet_column columns[COLUMN_COUNT]; /* a table without a difference has no column for what fits */
    struct words *words;                       /* heap */
    int32_t word_count;
    char title[CONFIG_NAME_SIZE + 80];
};

static void set(struct sheet_cell *cell, int64_t value, int32_t decimals)
{
    *cell = (struct sheet_cell){ .value = value, .decimals = decimals, .thousands = true };
}

static void set_allowance(struct sheet_cell *row, const struct agreement_row *of, int32_t decimals)
{
    const int64_t *worst = of->allowance.worst;
    bool open = of->allowance.open_theirs + of->allowance.open_ours > 0;
    int64_t classes = worst[PART_THEIR_CLASS] + worst[PART_THEIR_CT] + worst[PART_OUR_CLASS] +
                      worst[PART_OUR_CT] + worst[PART_DERIVED];
    /* of a class that is not stated no limit is known */
    row[ALLOWED_SHARE] =
        (struct sheet_cell){ .value = open ? UNKNOWN : number_share(of->worst, of->theirs), .decimals = 2 };
    row[LIKELY_SHARE] =
        (struct sheet_cell){ .value = open ? UNKNOWN : number_share(of->likely, of->theirs), .decimals = 2 };
    set(&row[ALLOWED], open ? UNKNOWN : of->worst, decimals);
    set(&row[LIKELY], open ? UNKNOWN : of->likely, decimals);
    set(&row[CLASSES], open ? UNKNOWN : classes, decimals);
    set(&row[STEPS], worst[PART_THEIR_STEP] + worst[PART_OUR_STEP], decimals);
    set(&row[TIMES], worst[PART_BEGIN] + worst[PART_END], decimals);
}

static void write_fits(const struct work *work, const struct agreement_row *of, struct words *words)
{
    char text[AGREEMENT_TEXT_SIZE];
    size_t at = 0, figures = 0;
    for (int32_t i = 0; i < of->fit_count && at < sizeof(words->fits); i++) {
        const char *between = i ? ", " : "";
        agreement_fit_text(text, &work->agreement, work->inquiry.session.civil, of, &of->fits[i]);
        at += (size_t)snprintf(words->fits + at, sizeof(words->fits) - at, "%s%s", between,
                               agreement_fit_words[of->fits[i].kind]);
        figures += (size_t)snprintf(words->figures + figures, sizeof(words->figures) - figures, "%s%s",
                                    i ? "; " : "", text);
    }
}

static void add_row(struct work *work, const struct agreement_row *of, const char *scope)
{
    struct sheet_cell *row = sheet_row(&work->sheet);
    struct words *words = &work->words[work->word_count++];
    char remarks[AGREEMENT_TEXT_SIZE];
    if (!row)
        return;
    int32_t decimals = number_decimals_of_step(
        of->allowance.worst[PART_THEIR_STEP] > 0 ? of->allowance.worst[PART_THEIR_STEP] : 1, UP_TO);
    row[METER].text = agreement_names(words->names, &work->agreement, of);
    row[REGISTER].text = sealed_register_words[of->reg];
    row[SCOPE].text = *scope ? scope : "period";
    row[FROM].value = of->from_s;
    row[TO].value = of->to_s;
    set(&row[DAYS], mul_div(of->to_s - of->from_s, 1000, DAY_S), 1);
    set(&row[THEIRS], of->theirs, decimals);
    set(&row[OURS], of->ours, decimals);
    if (of->verdict != VERDICT_NONE) {
        set(&row[DIFFERENCE], of->ours - of->theirs, decimals);
        row[DIFFERENCE_SHARE] =
            (struct sheet_cell){ .value = number_share(of->ours - of->theirs, of->theirs), .decimals = 2 };
        set_allowance(row, of, decimals);
    }
    row[VERDICT].text = agreement_verdict_words[of->verdict];
    write_fits(work, of, words);
    row[FITS].text = words->fits;
    row[FIGURES].text = words->figures;
    agreement_remarks(remarks, of);
    snprintf(words->remarks, sizeof(words->remarks), "%s%s%s", scope, *scope && *remarks ? ", " : "",
             remarks);
    row[REMARKS].text = words->remarks;
}

static bool add_rows(struct work *work)
{
    const struct agreement *agreement = &work->agreement;
    work->words = calloc((size_t)(agreement->count + agreement->register_count) + 1, sizeof(*work->words));
    if (!work->words)
        return false;
    for (int32_t i = 0; i < agreement->register_count; i++) {
        const struct agreement_register *of = &agreement->registers[i];
        for (int32_t r = 0; r < of->count; r++)
            add_row(work, &agreement->rows[of->first + r], "");
        if (of->count - of->verdicts[VERDICT_NONE] > 1)
            add_row(work, &of->whole, of->gapless ? "first to last" : "all that are compared");
    }
    return true;
}

/* ---- what is said ---- */

/* Where a cause fits: "in 1 of 4 rows", "in all 3 rows from 2026-03-15 on". */
static void say_where(char *out, size_t size, const struct work *work, const struct agreement_register *of,
                      const struct agreement_common *common)
{
    char at[STAMP_SIZE];
    int32_t compared = of->count - of->verdicts[VERDICT_NONE];
    if (compared == 1)
        out[0] = '\0';
    else if (common->rows == compared)
        snprintf(out, size, " (in all %d periods)", (int)compared);
    else if (common->tail == common->rows)
        snprintf(out, size, " (in all %d periods from %s on)", (int)common->rows,
                 stamp_date(at, work->inquiry.session.civil, common->since_s));
    else if (common->head == common->rows)
        snprintf(out, size, " (in all %d periods until %s)", (int)common->rows,
                 stamp_date(at, work->inquiry.session.civil, common->until_s));
    else
        snprintf(out, size, " (in %d of %d periods)", (int)common->rows, (int)compared);
}

static void note_fits(struct work *work, const struct agreement_register *of, const char *name)
{
    const struct agreement *agreement = &work->agreement;
    char text[AGREEMENT_TEXT_SIZE], where[64];
    for (int32_t kind = 0; kind < AGREEMENT_FIT_KINDS; kind++) {
        const struct agreement_common *common = &of->common[kind];
        if (common->rows == 0)
            continue;
        const struct agreement_row *row = &agreement->rows[common->example];
        const struct agreement_fit *fit = row->fits;
        while ((int32_t)fit->kind != kind)
            fit++;
        say_where(where, sizeof(where), work, of, common);
        sheet_note(&work->sheet, "%s, fits: %s%s", name,
                   agreement_fit_text(text, agreement, work->inquiry.session.civil, row, fit), where);
    }
}

/* The name of a register, for sentences. */
static void name_register(char *out, size_t size, const struct agreement *agreement,
                          const struct agreement_register *of)
{
    char names[AGREEMENT_TEXT_SIZE];
    snprintf(out, size, "%s, %s", agreement_names(names, agreement, &of->whole),
             sealed_register_words[of->whole.reg]);
}

static void note_verdicts(struct work *work)
{
    const struct agreement *agreement = &work->agreement;
    char name[AGREEMENT_TEXT_SIZE + 16], text[AGREEMENT_TEXT_SIZE], number[NUMBER_SIZE];
    for (int32_t i = 0; i < agreement->register_count; i++) {
        const struct agreement_register *of = &agreement->registers[i];
        name_register(name, sizeof(name), agreement, of);
        sheet_note(&work->sheet, "%s: %s", name, agreement_whole_text(text, of));
        note_fits(work, of, name);
        if (of->unlike > 0)
            sheet_note(
                &work->sheet,
                "%s: %d of %d periods unlike the others, in the middle of which ours less theirs is %s %%",
                name, (int)of->unlike, (int)(of->count - of->verdicts[VERDICT_NONE]),
                number_print(number, of->usual, SHARE_SCALE - 2, 2, 0));
        if (of->verdicts[VERDICT_NONE] < of->count)
            sheet_note(&work->sheet, "%s, drift: %s", name,
                       agreement_drift_text(text, work->inquiry.session.civil, &of->drift));
    }
}

static void note_limits(struct work *work)
{
    const struct agreement *agreement = &work->agreement;
    char text[AGREEMENT_TEXT_SIZE], theirs[AGREEMENT_TEXT_SIZE];
    bool differs = false, below = false, by_load = false, compared = false;
    for (int32_t i = 0; i < agreement->register_count; i++) {
        const struct agreement_row *whole = &agreement->registers[i].whole;
        differs |= agreement->registers[i].verdicts[VERDICT_DIFFERS] > 0;
        below |= whole->below;
        by_load |= whole->by_load;
        compared |= whole->verdict != VERDICT_NONE;
        bool again = i > 0 && whole->together == agreement->registers[i - 1].whole.together;
        if (whole->verdict != VERDICT_NONE && !again)
            sheet_note(&work->sheet, "limits: %s; ours: %s", agreement_sealed_text(theirs, agreement, whole),
                       agreement_side_text(text, agreement, whole->term));
    }
    if (!compared)
        return;
    sheet_note(&work->sheet,
               by_load
                   ? "limits are those of rated current, of ours behind transformers those of its mean load"
                   : "limits are those of rated current: no load behind transformers is known");
    if (below)
        sheet_note(&work->sheet,
                   "the mean load is below what a class promises anything for: the limit of its lowest "
                   "load stands");
    sheet_note(&work->sheet,
               "a reading with a time may be five minutes off, or an interval, one with a date alone "
               "all of its day: what flowed in that time is allowed for");
    if (agreement->left_out > 0)
        sheet_note(&work->sheet, "reading periods of which our account has nothing, left out: %d",
                   (int)agreement->left_out);
    if (differs)
        sheet_note(&work->sheet,
                   "a difference accuses nobody: what fits is named, readings alone cannot choose");
}

/* ---- words of the command line ---- */

/* Parts "[METER] [SPAN | FROM TO]"; what can be a span is none's name. */
static const char *part_words(const char *const *words, char span[2 * STAMP_SIZE], const char **word)
{
    struct period period, reach = { 0, 1 };
    const char *meter = NULL;
    *word = "all";
    bool joined = words[0] && strchr(words[0], '/');
    if (words[0] && !joined && period_any(&period, words[0], 0, &reach) != NULL)
        meter = *words++;
    if (!words[0])
        return meter;
    snprintf(span, 2 * STAMP_SIZE, "%s%s%s", words[0], words[1] ? "/" : "", words[1] ? words[1] : "");
    *word = span;
    return meter;
}

/* Index of a sealed meter; -1 where there is none of that name, said on stderr. */
static int32_t find_meter(const struct config *config, const char *name)
{
    const char *names[CONFIG_MAX_SEALED + 1] = { NULL };
    for (int32_t i = 0; i < config->sealed_count; i++) {
        names[i] = config->sealed[i].name;
        if (strcmp(names[i], name) == 0)
            return i;
    }
    const char *near = nearest(name, names);
    fprintf(
        stderr,
        near
            ? "meterbook: there is no sealed meter '%s', did you mean '%s'?\n"
            : "meterbook: '%s' is no sealed meter of the configuration and no span, see 'meterbook agreement "
              "--help'\n",
        name, near);
    return -1;
}

static bool has_readings(const struct work *work)
{
    const struct session *session = &work->inquiry.session;
    const char *missing = !session->config                     ? "a configuration"
                          : session->config->sealed_count == 0 ? "'sealed_meters' in the configuration"
                          : !session->config->logbook[0]       ? "a logbook in the configuration"
                                                               : NULL;
    if (missing)
        fprintf(stderr, "meterbook: agreement needs %s\n", missing);
    return !missing;
}

static bool any_fits(const struct agreement *agreement)
{
    bool any = false;
    for (int32_t i = 0; i < agreement->count; i++)
        any |= agreement->rows[i].fit_count > 0;
    return any;
}

static enum exit_code answer(struct work *work, const char *meter)
{
    struct session *session = &work->inquiry.session;
    if (!has_readings(work) || (!session->logbook && !session_logbook(session)))
        return EXIT_RECORD;
    int32_t only = meter ? find_meter(session->config, meter) : -1;
    if (meter && only < 0)
        return EXIT_USAGE;
    if (agreement_read(&work->agreement, session, only, work->inquiry.from_s, work->inquiry.to_s) != 0)
        return session_failed(session);
    if (work->agreement.count == 0) {
        fprintf(
            stderr,
            work->agreement.left_out > 0
                ? "meterbook: our account has nothing of the time between the readings in the logbook '%s'\n"
                : "meterbook: the logbook '%s' has no two readings of a sealed meter in this span\n",
            session->config->logbook);
        return EXIT_NO_DATA;
    }
    memcpy(work->columns, columns, sizeof(columns));
    work->columns[FITS].data_only = !any_fits(&work->agreement);
    sheet_init(&work->sheet, "agreement", session->civil, work->columns, COLUMN_COUNT);
    snprintf(work->title, sizeof(work->title), "%s, sealed meters against our own account",
             session->config->site.name);
    work->sheet.title = work->title;
    work->sheet.failed |= !add_rows(work);
    note_verdicts(work);
    note_limits(work);
    if (session->logbook_errors > 0)
        sheet_note(&work->sheet, "lines of the logbook with errors, left out: %d",
                   (int)session->logbook_errors);
    inquiry_head(&work->inquiry, &work->sheet);
    return sheet_print(&work->sheet, work->options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_agreement(const struct options *options, const char *const *arguments)
{
    struct work work = { .options = options };
    char span[2 * STAMP_SIZE];
    const char *word, *meter = part_words(arguments, span, &word);
    enum exit_code code = inquiry_open_span(&work.inquiry, options, word);
    if (code == EXIT_ANSWERED)
        code = inquiry_read_head(&work.inquiry, NULL, (struct answer_what){ .record_alone = true });
    if (code == EXIT_ANSWERED)
        code = answer(&work, meter);
    sheet_free(&work.sheet);
    free(work.words);
    agreement_free(&work.agreement);
    inquiry_close(&work.inquiry);
    return code;
}
