/* What every command over a span begins with: the record, the span that the words name,
 * who speaks in it, and its balance, which knows what must be said of every figure over it. */
#ifndef METERBOOK_INQUIRY_H
#define METERBOOK_INQUIRY_H

#include "answer.h"
#include "command.h"
#include "period.h"
#include "session.h"
#include "sheet.h"
#include "sources.h"

struct inquiry {
    struct session session;
    struct period period;
    int64_t from_s, to_s;          /* of the period, UTC */
    const struct sources *sources; /* NULL: the record alone speaks */
    struct answer_what what;       /* whose figures: the balance as it counts, unless asked for otherwise */
    struct answer head;            /* the balance by days, of more than two months by months */
    struct sources own_sources;
};

/* Opens the record that the options name and reads `word` (NULL: `otherwise`) as period_any() does.
 * Returns EXIT_ANSWERED, else the code to end with, said on stderr; inquiry_close() takes it in any case. */
enum exit_code inquiry_open(struct inquiry *inquiry, const struct options *options, const char *word,
                            const char *otherwise);
/* The same of other figures: commands that look at single intervals use no sealed readings, and their head
 * line says that they are left out (`fine`). */
enum exit_code inquiry_open_of(struct inquiry *inquiry, const struct options *options, const char *word,
                               const char *otherwise, struct answer_what what);
/* The same in two steps: the record and the span alone, then the sources and the head, of other figures
 * than the balance as it counts where `what` says so; of one meter by its name or number (NULL: none). */
enum exit_code inquiry_open_span(struct inquiry *inquiry, const struct options *options, const char *word);
/* Another span than the words named, before the head is read. */
void inquiry_set_period(struct inquiry *inquiry, struct period period);
enum exit_code inquiry_read_head(struct inquiry *inquiry, const char *meter, struct answer_what what);
void inquiry_close(struct inquiry *inquiry);

/* The head line's marks and the notes of the balance, for a sheet over the span. */
void inquiry_head(const struct inquiry *inquiry, struct sheet *sheet);

/* What sealed meters say of a span, where the configuration has any: *of is then `sources`, else NULL.
 * False, said on stderr, without memory or a logbook; what the record refuses, its query says. */
bool inquiry_read_sources(struct session *session, const struct period *period, struct sources *sources,
                          const struct sources **of);

/* The civil days from the first to the last that the record or a reading that speaks may reach. */
struct period inquiry_reach(struct session *session);

#endif
