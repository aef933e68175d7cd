/* A page of pictures, tables and sentences over a span: what is read once for all sections, and the sections.
 *
 * report_read() walks the span once; each section writes itself from that and from analyses of its own, or
 * says by report_omit() why it is not there. The page is written as it is made. */
#ifndef METERBOOK_REPORT_H
#define METERBOOK_REPORT_H

#include <stdio.h>

#include "baseload.h"
#include "demand.h"
#include "duration.h"
#include "flow.h"
#include "hours.h"
#include "inquiry.h"
#include "words.h"

/* What a bar is of. */
enum report_step { STEP_HOUR, STEP_DAY, STEP_MONTH, STEP_YEAR };

enum { REPORT_BEST = 3, REPORT_OMITTED = 24, REPORT_SENTENCE = 400 };

struct report_bar {
    int32_t slot; /* its place from the span's begin on */
    struct answer_row row;
};

/* A day of much or little production or consumption. */
struct report_day {
    int64_t day, energy;
    bool estimated;
};

struct report_days {
    int32_t count; /* of whole days of which the figure is known */
    int32_t most_count, least_count;
    struct report_day most[REPORT_BEST], least[REPORT_BEST]; /* the first is the most extreme */
};

struct report_money;

/* Large: for the heap. */
struct report {
    FILE *out;
    const struct options *options;
    struct inquiry *inquiry;
    struct report_money *money; /* heap; NULL: no bill of the span (report_money.h) */
    char span[WORDS_SIZE];      /* "March 2026" */
    enum report_step step;
    int32_t slot_count;
    struct report_bar *bars; /* heap; by time */
    int32_t bar_count, bar_room;
    struct hours hours;
    struct demand demand;                           /* of import */
    struct baseload baseload;                       /* of `load` */
    int64_t base;                                   /* mW; UNKNOWN */
    enum flow_of load;                              /* consumption, or import where that is not known */
    struct duration load_duration, import_duration; /* of what was observed */
    struct report_days production, consumption;     /* the same */
    int64_t seam_s;         /* where the record takes over from sealed readings, if it does */
    bool has_seam;          /* in the span */
    const char *id, *title; /* of the section that is being written, and whether its head is */
    bool opened;
    int32_t omitted_count;
    struct {
        const char *head;
        char why[NOTE_SIZE];
    } omitted[REPORT_OMITTED];
};

/* Windows of demand. */
enum { REPORT_WINDOWS = 2 };
extern const int64_t report_windows_s[REPORT_WINDOWS];

/* Reads what the sections share into a report that is all zeros. False, said on stderr, where the record
 * cannot be read or memory is out; report_free() takes it in any case. */
bool report_read(struct report *report, struct inquiry *inquiry, const struct options *options);
void report_free(struct report *report);

/* Writes the page. False, said on stderr, where an analysis failed. */
bool report_write(struct report *report, FILE *out);

/* Says at the page's end why a section is not in it. */
void report_omit(struct report *report, const char *head, const char *why, ...)
    __attribute__((format(printf, 3, 4)));

/* report_flows.c: the one reading of intervals. */
bool report_read_flows(struct report *report);

/* ---- for sections ---- */

/* report_section.c. Writes the section's head, once it is sure that there is something to write. */
void report_open(struct report *report);

bool report_is_day(const struct report *report);
/* Says so; false. */
bool report_out_of_memory(void);
/* The name of a bar's slot: in an axis' label, and in a sentence or a table. */
const char *report_slot_label(const struct report *report, int32_t slot, char buffer[WORDS_SIZE]);
const char *report_slot_name(const struct report *report, int32_t slot, char buffer[WORDS_SIZE]);
/* UTC of a slot's begin: of a first month or year that is cut, its own. */
int64_t report_slot_start(const struct report *report, int32_t slot);
/* Where an instant stands across the span's slots, in hundredths of a per cent. */
int32_t report_slot_place(const struct report *report, int64_t at_s);
/* "a day", "a month" ... */
extern const char *const report_step_words[];
/* Decimals of a kWh that the registers of all figures allow. */
int32_t report_decimals(const struct report *report);
/* A paragraph; a figure's opening and its caption. */
void report_sentence(const struct report *report, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* What the page begins with. */
void report_head(struct report *report);

/* A section writes itself or omits itself; false where it failed, said on stderr. */
typedef bool report_section(struct report *report);
report_section section_totals;
report_section section_bars;
report_section section_curve;
report_section section_rasters;
report_section section_days;
report_section section_demand;
report_section section_duration;
report_section section_yield;
report_section section_parts;
report_section section_voltage;
report_section section_agreement;
report_section section_outages;
report_section section_completeness;
report_section section_omitted;

#endif
