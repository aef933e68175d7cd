/* What the cleanings that the logbook notes brought. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "washed.h"

enum { DATE, WHAT, BY, BEFORE, AFTER, GAIN, REACH, VERDICT, TEXT, COLUMNS, MOST = 400 };

static const struct sheet_column columns[COLUMNS] = {
    [DATE] = { "date", { "", "cleaned" }, "", SHEET_DATE, 0, false },
    [WHAT] = { "what", { "", "what" }, "", SHEET_TEXT, 0, false },
    [BY] = { "by", { "", "compared by" }, "", SHEET_TEXT, 0, false },
    [BEFORE] = { "days_before", { "days", "before" }, "", SHEET_NUMBER, 0, false },
    [AFTER] = { "days_after", { "", "after" }, "", SHEET_NUMBER, 0, false },
    [GAIN] = { "gain_share", { "", "gain" }, "%", SHEET_SHARE, 0, false },
    [REACH] = { "gain_interval_95_share", { "", "+- (95 %)" }, "%", SHEET_SHARE, 0, false },
    [VERDICT] = { "verdict", { "", "" }, "", SHEET_TEXT, 0, false },
    [TEXT] = { "text", { "", "" }, "", SHEET_TEXT, 0, true },
};

static const char *const ways[WASHED_WAYS + 1] = {
    [WASHED_PEERS] = "the parts beside it",
    [WASHED_LIGHT] = "performance ratio",
    [WASHED_CLEAR] = "clear days",
    [WASHED_WAYS] = NULL,
};

static const char *const verdicts[] = {
    [CLEANING_TOO_FEW] = "not determinable: too few days before or after",
    [CLEANING_UNCERTAIN] = "not determinable: the interval holds zero",
    [CLEANING_DETERMINED] = "determined",
};

struct work {
    struct inquiry inquiry;
    struct yield yield;
    struct sheet sheet;
    struct washed *list; /* heap */
    int32_t count;
};

static void add_row(struct work *work, const struct washed *washed)
{
    const struct cleaning_gain *gain = &washed->gain;
    struct sheet_cell *cells = sheet_row(&work->sheet);
    if (!cells)
        return;
    cells[DATE].value = washed->entry->at_s;
    cells[WHAT].text = washed->entry->subject[0] ? washed->entry->subject : "plant";
    cells[BY].text = ways[washed->way];
    cells[VERDICT].text = verdicts[gain->verdict];
    cells[TEXT].text = washed->entry->text;
    if (gain->verdict == CLEANING_TOO_FEW)
        return;
    cells[BEFORE].value = gain->before;
    cells[AFTER].value = gain->after;
    cells[REACH] = (struct sheet_cell){ .value = llround(gain->reach * SHARE_ONE), .decimals = 1 };
    if (gain->verdict == CLEANING_DETERMINED)
        cells[GAIN] = (struct sheet_cell){ .value = llround(gain->gain * SHARE_ONE), .decimals = 1 };
}

static void add_notes(struct work *work)
{
    struct sheet *sheet = &work->sheet;
    bool light = false;
    for (int32_t i = 0; i < work->count; i++)
        light = light || (work->list[i].way == WASHED_LIGHT && work->list[i].entry->subject[0]);
    inquiry_head(&work->inquiry, sheet);
    sheet_note(sheet,
               "up to %d days before and after, up to the next thing that the logbook notes; at least %d on "
               "each side; rain may have washed too",
               CLEANING_WINDOW_DAYS, CLEANING_LEAST_DAYS);
    sheet_note(sheet, "dirt that grew until the cleaning is more than the mean of the days before");
    if (light)
        sheet_note(sheet,
                   "a part without two others in its plane is told by the whole plant: its gain there");
}

static bool print(struct work *work, const struct options *options)
{
    char title[CONFIG_NAME_SIZE + 40];
    sheet_init(&work->sheet, "cleaning", work->inquiry.session.civil, columns, COLUMNS);
    snprintf(title, sizeof title, "%s, what cleanings brought", work->inquiry.head.site.name);
    work->sheet.title = title;
    for (int32_t i = 0; i < work->count; i++)
        add_row(work, &work->list[i]);
    add_notes(work);
    bool good = sheet_print(&work->sheet, options);
    sheet_free(&work->sheet);
    return good;
}

static enum exit_code answer(struct work *work, const struct options *options)
{
    struct session *session = &work->inquiry.session;
    if (!session->logbook && !session_logbook(session))
        return EXIT_RECORD;
    work->list = calloc(MOST, sizeof *work->list);
    if (!work->list) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    if (!yield_read(&work->yield, &work->inquiry))
        return EXIT_RECORD;
    work->count = washed_read(&work->inquiry, &work->yield, work->list, MOST);
    if (work->count == 0) {
        fputs("meterbook: the logbook notes no cleaning in that span\n", stderr);
        return EXIT_NO_DATA;
    }
    return work->count > 0 && print(work, options) ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_cleaning(const struct options *options, const char *const *arguments)
{
    struct work work = { 0 };
    enum exit_code code =
        inquiry_open_of(&work.inquiry, options, arguments[0], "all", (struct answer_what){ .fine = true });
    if (code == EXIT_ANSWERED)
        code = answer(&work, options);
    free(work.list);
    yield_free(&work.yield);
    inquiry_close(&work.inquiry);
    return code;
}
