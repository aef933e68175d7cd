/* How complete the record is: shares by meter and month, gaps, events, clocks, residuals. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "completeness_views.h"
#include "stamp.h"

enum view { VIEW_SHARES, VIEW_GAPS, VIEW_EVENTS, VIEW_CLOCK, VIEW_RESIDUAL, VIEW_COUNT };
static const char *const views[] = { "shares", "gaps", "events", "clock", "residual", NULL };

static const struct {
    bool (*add)(struct completeness_work *work);
    const char *what;
    bool reads;  /* the meters' shares and gaps */
    bool causes; /* and what explains the gaps */
} sheets[VIEW_COUNT] = {
    [VIEW_SHARES] = { completeness_add_shares, "completeness of the record", true, false },
    [VIEW_GAPS] = { completeness_add_gaps, "gaps of the record", true, true },
    [VIEW_EVENTS] = { completeness_add_events, "events", false, false },
    [VIEW_CLOCK] = { completeness_add_clocks, "what dated the record", true, false },
    [VIEW_RESIDUAL] = { completeness_add_residuals, "residuals between meters", true, false },
};

static bool print(struct completeness_work *work, enum view view)
{
    const struct inquiry *inquiry = &work->inquiry;
    char from[STAMP_SIZE], to[STAMP_SIZE], title[CONFIG_NAME_SIZE + 80];
    if (sheets[view].reads && !completeness_read(&work->completeness, inquiry, sheets[view].causes))
        return false;
    sheet_init(&work->sheet, "completeness", inquiry->session.civil, NULL, 0);
    snprintf(title, sizeof(title), "%s, %s, %s to %s", inquiry->head.site.name, sheets[view].what,
             stamp_date(from, inquiry->session.civil, inquiry->from_s),
             stamp_date(to, inquiry->session.civil, inquiry->to_s - 1));
    work->sheet.title = title;
    if (!sheets[view].add(work))
        return false;
    inquiry_head(inquiry, &work->sheet);
    return sheet_print(&work->sheet, work->options);
}

static enum exit_code answer(struct completeness_work *work, enum view view)
{
    if (print(work, view))
        return EXIT_ANSWERED;
    if (query_error(work->inquiry.session.query))
        return session_failed(&work->inquiry.session);
    if (!work->sheet.failed)
        fputs("meterbook: out of memory\n", stderr);
    return EXIT_RECORD;
}

enum exit_code cmd_completeness(const struct options *options, const char *const *arguments)
{
    struct completeness_work *work = calloc(1, sizeof(*work));
    int32_t view = options_view(options, views);
    enum exit_code code = EXIT_USAGE;
    if (!work) {
        fputs("meterbook: out of memory\n", stderr);
        return EXIT_RECORD;
    }
    work->options = options;
    if (view >= 0 && options->by != BY_DEFAULT && options->by != BY_MONTH)
        fputs("meterbook: '--by' of completeness: allowed are default, month\n", stderr);
    else if (view >= 0)
        code = inquiry_open_of(&work->inquiry, options, arguments[0], "all",
                               (struct answer_what){ .fine = true, .single = true });
    if (code == EXIT_ANSWERED)
        code = answer(work, (enum view)view);
    completeness_free(&work->completeness);
    sheet_free(&work->sheet);
    free(work->texts);
    inquiry_close(&work->inquiry);
    free(work);
    return code;
}
