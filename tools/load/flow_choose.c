/* What --of and --meter ask for. */
#include <stdio.h>

#include "flow.h"
#include "meters.h"

enum { NOT_OF_METER = FLOW_COUNT, NO_FLOW };

/* Which flow a word stands for: of the balance, of one meter. */
static const struct {
    int32_t balance, meter; /* enum flow_of */
} flows[] = {
    [OF_IMPORT] = { FLOW_IMPORT, FLOW_IMPORT },
    [OF_EXPORT] = { FLOW_EXPORT, FLOW_EXPORT },
    [OF_CONSUMPTION] = { FLOW_CONSUMPTION, NOT_OF_METER },
    [OF_PRODUCTION] = { FLOW_PRODUCTION, NOT_OF_METER },
    [OF_SELF_CONSUMPTION] = { NO_FLOW, NOT_OF_METER },
    [OF_APPARENT] = { FLOW_APPARENT, FLOW_APPARENT },
};

static const struct arranged_meter *find_number(const struct history *history, int32_t number)
{
    for (int32_t i = history->count - 1; i >= 0; i--)
        for (int32_t j = 0; j < history->arrangements[i].meter_count; j++)
            if (history->arrangements[i].meters[j].number == number)
                return &history->arrangements[i].meters[j];
    return NULL;
}

/* The one grid meter of the newest settings; a derived one has no apparent energy. */
static const struct arranged_meter *find_grid(const struct history *history)
{
    const struct arrangement *newest = &history->arrangements[history->count - 1];
    for (int32_t j = 0; j < newest->meter_count; j++)
        if (newest->meters[j].use == USE_GRID && newest->count[USE_GRID] == 1 && !newest->derived)
            return &newest->meters[j];
    return NULL;
}

static bool refuse(const char *word, const char *command)
{
    fprintf(stderr, "meterbook: '--of %s': it is of '%s' only\n", word, command);
    return false;
}

static bool choose_meter(struct flow *flow, struct inquiry *inquiry, const struct options *options)
{
    int32_t number;
    if (meters_find(&inquiry->session, options->meter, &number) != EXIT_ANSWERED)
        return false;
    const struct arranged_meter *meter = find_number(&inquiry->head.history, number);
    if (!meter) {
        fprintf(stderr, "meterbook: '%s' was no meter of the site in that span\n", options->meter);
        return false;
    }
    bool delivers =
        meter->role == ROLE_PRODUCTION || meter->role == ROLE_PART || meter->role == ROLE_GENERATOR;
    int32_t of = delivers && meter->delivers_by_export ? FLOW_EXPORT : FLOW_IMPORT;
    if (options->of != OF_DEFAULT)
        of = flows[options->of].meter;
    if (of >= FLOW_COUNT) {
        fputs("meterbook: '--of' of one meter: allowed are import, export and, of demand, apparent\n",
              stderr);
        return false;
    }
    flow_init_meter(flow, inquiry, (enum flow_of)of, meter);
    return true;
}

static bool choose_apparent(struct flow *flow, const struct inquiry *inquiry)
{
    const struct arranged_meter *meter = find_grid(&inquiry->head.history);
    if (!meter) {
        fputs("meterbook: '--of apparent': the site has not one grid meter, --meter names which\n", stderr);
        return false;
    }
    flow_init_meter(flow, inquiry, FLOW_APPARENT, meter);
    return true;
}

bool flow_choose(struct flow *flow, struct inquiry *inquiry, enum flow_of otherwise, bool apparent,
                 const struct options *options)
{
    if (options->of == OF_APPARENT && !apparent)
        return refuse("apparent", "demand");
    if (options->meter)
        return choose_meter(flow, inquiry, options);
    if (options->of == OF_APPARENT)
        return choose_apparent(flow, inquiry);
    bool consumption_known = inquiry->head.total.balance.consumption != UNKNOWN;
    int32_t of = otherwise == FLOW_CONSUMPTION && !consumption_known ? FLOW_IMPORT : otherwise;
    if (options->of != OF_DEFAULT)
        of = flows[options->of].balance;
    if (of == NO_FLOW)
        return refuse("self_consumption", "extremes");
    flow_init(flow, inquiry, (enum flow_of)of);
    return true;
}

enum exit_code flow_open(struct inquiry *inquiry, const struct options *options, const char *word)
{
    enum exit_code code = inquiry_open_span(inquiry, options, word ? word : "all");
    return code == EXIT_ANSWERED
               ? inquiry_read_head(inquiry, options->meter, (struct answer_what){ .fine = true })
               : code;
}

enum exit_code flow_missing(const struct flow *flow)
{
    if (flow->meters.first > flow->meters.last)
        fprintf(stderr, "meterbook: no meter of the site counts %s, '--of' names another flow\n", flow->name);
    else
        fprintf(stderr, "meterbook: the record has no observed interval of %s in that span\n", flow->name);
    return EXIT_NO_DATA;
}
