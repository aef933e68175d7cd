/* The rule at the end of a zone file ("CET-1CEST,M3.5.0,M10.5.0/3"), which
 * holds after the last transition of its table: POSIX TZ with the extension of
 * RFC 8536, 3.3.1 (times of -167..167 h). */
#ifndef METERBOOK_ZONE_RULE_H
#define METERBOOK_ZONE_RULE_H

#include <stdbool.h>
#include <stdint.h>

struct zone_change {
    char kind; /* 'M' month, week, weekday; 'J' day 1..365 without 29 February; 'N' day 0..365 */
    int32_t month, week, day;
    int32_t time_s; /* local time of the change, s after midnight */
};

struct zone_rule {
    int32_t standard_s, summer_s; /* local - UTC */
    bool changes;                 /* else standard all year */
    struct zone_change to_summer, to_standard;
};

/* Reads the rule. Returns 0, or -1 where the text is none. */
int zone_rule_read(struct zone_rule *rule, const char *text);

/* UTC instant of a change in a year, from the offset in force before it. */
int64_t zone_change_at(const struct zone_change *change, int64_t year, int32_t offset_before_s);

#endif
