#include "inquiry.h"

#include <stdio.h>

#include "doubt.h"
#include "meters.h"

enum { MOST_DAYS_BY_DAY = 62 };

/* Over a span in which the record alone speaks, readings change nothing. It speaks from its begin on, where
 * no line of the logbook says otherwise: then the logbook need not be taken apart. */
static bool record_speaks(struct session *session, int64_t from_s, int64_t to_s, struct sources *sources)
{
    static const struct logbook no_entries;
    if (session->logbook || !session->config->logbook[0] ||
        session_logbook_has(session, logbook_kind_words[LOGBOOK_PRECEDENCE]))
        return false;
    if (sources_read(sources, session->query, session->civil, session->config, &no_entries, from_s, to_s) ==
            0 &&
        sources_sealed(sources, from_s) == 0)
        return true;
    sources_free(sources);
    return false;
}

bool inquiry_read_sources(struct session *session, const struct period *period, struct sources *sources,
                          const struct sources **of)
{
    *of = NULL;
    if (!session->config || session->config->sealed_count == 0)
        return true;
    int64_t from_s = civil_day_start(session->civil, period->from_day);
    int64_t to_s = civil_day_start(session->civil, period->to_day);
    *of = sources;
    if (record_speaks(session, from_s, to_s, sources))
        return true;
    *of = NULL;
    if (!session->logbook && !session_logbook(session))
        return false;
    if (!session->logbook)
        return true;
    sources_read(sources, session->query, session->civil, session->config, session->logbook, from_s, to_s);
    sources->logbook_errors = session->logbook_errors;
    *of = sources;
    if (sources->memory_out)
        session_failed(session);
    return !sources->memory_out;
}

/* The first and last day that any entry of the logbook is of. */
static void reach_readings(const struct session *session, struct period *reach)
{
    const struct logbook *logbook = session->logbook;
    for (int32_t i = 0; logbook && i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        if (entry->kind != LOGBOOK_READING)
            continue;
        int64_t day = civil_day_of(session->civil, entry->at_s);
        reach->from_day = day < reach->from_day ? day : reach->from_day;
        reach->to_day = day + 1 > reach->to_day ? day + 1 : reach->to_day;
    }
}

struct period inquiry_reach(struct session *session)
{
    struct site site;
    struct period reach = { session->today, session->today + 1 };
    query_begin(session->query);
    bool known = query_site(session->query, &site) && site.has_rows;
    query_end(session->query);
    if (known) {
        reach.from_day = civil_day_of(session->civil, site.first_s);
        reach.to_day = civil_day_of(session->civil, site.last_s) + 1;
    }
    if (session->config && session->config->sealed_count > 0 &&
        (session->logbook || session_logbook(session)))
        reach_readings(session, &reach);
    return reach;
}

void inquiry_set_period(struct inquiry *inquiry, struct period period)
{
    inquiry->period = period;
    inquiry->from_s = civil_day_start(inquiry->session.civil, period.from_day);
    inquiry->to_s = civil_day_start(inquiry->session.civil, period.to_day);
}

static enum exit_code read_period(struct inquiry *inquiry, const char *word)
{
    struct session *session = &inquiry->session;
    struct period reach = { session->today, session->today + 1 };
    if (period_is_open(word))
        reach = inquiry_reach(session);
    const char *allowed = period_any(&inquiry->period, word, session->today, &reach);
    if (allowed) {
        fprintf(stderr, "meterbook: '%s': %s\n", word, allowed);
        return EXIT_USAGE;
    }
    inquiry_set_period(inquiry, inquiry->period);
    return EXIT_ANSWERED;
}

/* Where the logbook lets sealed readings speak for all of the span, and these are left out, the record has
 * rows of its own all the same. */
static enum answer_result build_head(struct inquiry *inquiry, enum row_unit unit)
{
    const struct session *session = &inquiry->session;
    enum answer_result result = answer_build_of(&inquiry->head, session->query, session->civil,
                                                inquiry->sources, inquiry->period, unit, inquiry->what);
    if (result != ANSWER_NO_DATA || !inquiry->what.fine || !inquiry->sources)
        return result;
    struct answer own;
    if (answer_build_of(&own, session->query, session->civil, NULL, inquiry->period, unit, inquiry->what) !=
        ANSWER_READY) {
        answer_free(&own);
        return result;
    }
    answer_free(&inquiry->head);
    inquiry->head = own;
    answer_note(&inquiry->head,
                "sealed readings speak for this span, and know no hours: what follows is our own "
                "account");
    return ANSWER_READY;
}

static enum exit_code read_head(struct inquiry *inquiry)
{
    struct session *session = &inquiry->session;
    const struct period *period = &inquiry->period;
    enum row_unit unit = period->to_day - period->from_day > MOST_DAYS_BY_DAY ? ROW_MONTH : ROW_DAY;
    bool readings = !inquiry->what.meter && !inquiry->what.measured_only && !inquiry->what.record_alone;
    if (readings && !inquiry_read_sources(session, period, &inquiry->own_sources, &inquiry->sources))
        return EXIT_RECORD;
    switch (build_head(inquiry, unit)) {
    case ANSWER_READY:
        return doubt_add(&inquiry->head, session->query) == 0 && !query_error(session->query)
                   ? EXIT_ANSWERED
                   : session_failed(session);
    case ANSWER_NO_DATA:
        fprintf(stderr, "meterbook: %s\n", inquiry->head.notes[0]);
        return EXIT_NO_DATA;
    case ANSWER_FAILED:
        break;
    }
    return session_failed(session);
}

enum exit_code inquiry_open_span(struct inquiry *inquiry, const struct options *options, const char *word)
{
    *inquiry = (struct inquiry){ 0 };
    enum exit_code code = session_open(&inquiry->session, options);
    return code == EXIT_ANSWERED ? read_period(inquiry, word) : code;
}

enum exit_code inquiry_read_head(struct inquiry *inquiry, const char *meter, struct answer_what what)
{
    enum exit_code code = EXIT_ANSWERED;
    inquiry->what = what;
    if (meter)
        code = meters_find(&inquiry->session, meter, &inquiry->what.meter);
    return code == EXIT_ANSWERED ? read_head(inquiry) : code;
}

enum exit_code inquiry_open_of(struct inquiry *inquiry, const struct options *options, const char *word,
                               const char *otherwise, struct answer_what what)
{
    enum exit_code code = inquiry_open_span(inquiry, options, word ? word : otherwise);
    return code == EXIT_ANSWERED ? inquiry_read_head(inquiry, NULL, what) : code;
}

enum exit_code inquiry_open(struct inquiry *inquiry, const struct options *options, const char *word,
                            const char *otherwise)
{
    return inquiry_open_of(inquiry, options, word, otherwise, (struct answer_what){ 0 });
}

void inquiry_close(struct inquiry *inquiry)
{
    answer_free(&inquiry->head);
    sources_free(&inquiry->own_sources);
    session_close(&inquiry->session);
}

void inquiry_head(const struct inquiry *inquiry, struct sheet *sheet)
{
    for (int32_t i = 0; i < inquiry->head.mark_count; i++)
        sheet_mark(sheet, "%s", inquiry->head.marks[i]);
    for (int32_t i = 0; i < inquiry->head.note_count; i++)
        sheet_note(sheet, "%s", inquiry->head.notes[i]);
}
