/* The configuration, as read from the file by daemon/record/config.c.
 *
 * Loaded whole or not at all: config_load() collects every problem of the file
 * and of the maps it names before it gives up. Everything is allocated at load
 * time and never changes after; a reload makes a second struct. */
#ifndef METERBOOK_CONFIG_H
#define METERBOOK_CONFIG_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "map.h"

enum {
    CONFIG_NAME_SIZE = 48,
    CONFIG_PATH_SIZE = 256,
    CONFIG_MAX_BUSES = 32,
    CONFIG_MAX_METERS = 64,
    CONFIG_MAX_SEALED = 16,
    CONFIG_SERIAL_SIZE = 33,
    METER_NUMBER_MAX = 999, /* a meter's number in the record: 1..999 */
    METER_DERIVED = 1023,   /* the derived grid meter's number */
};

enum meter_role {
    ROLE_PRODUCTION,
    ROLE_GRID,
    ROLE_CONSUMPTION,
    ROLE_BRANCH,
    ROLE_PART,
    ROLE_STORAGE,
    ROLE_GENERATOR,
    ROLE_WEATHER,
    ROLE_COUNT
};

enum bus_kind { BUS_RTU, BUS_TCP, BUS_RTU_TCP, BUS_KIND_COUNT };
enum parity { PARITY_EVEN, PARITY_ODD, PARITY_NONE };
enum clock_trust { TRUST_NETWORK, TRUST_BATTERY, TRUST_COUNT };

struct config_site {
    char name[CONFIG_NAME_SIZE];
    char time_zone[CONFIG_NAME_SIZE]; /* exists in the zone data */
    char zone_edition[16];            /* of the zone data, e.g. "2024a"; "" where unknown */
    double latitude, longitude;       /* degrees, north and east positive */
    int32_t interval_s;               /* 10..3600, divides every local midnight of the zone */
    int32_t poll_period_ms;           /* 200..60000 */
    int32_t commit_s;                 /* at most one commit in this time; 0 = each interval */
    enum clock_trust clock_trust;
    double voltage_min, voltage_max;     /* V, reading gate */
    double frequency_min, frequency_max; /* Hz, reading gate */
    double outage_voltage; /* V: a phase of the supply below it is lost; 0 = voltages are not watched */
};

struct config_bus {
    char name[CONFIG_NAME_SIZE];
    enum bus_kind kind;
    char device[CONFIG_PATH_SIZE]; /* RTU: path; TCP: host name or address */
    int32_t port;                  /* TCP */
    int32_t baud;                  /* RTU; RTU over TCP: behind the gateway, 0 = not stated */
    enum parity parity;
    int32_t stop_bits;
    bool rs485;                  /* ask the kernel for RS-485 mode */
    bool echo;                   /* the adapter hears itself */
    bool shared;                 /* another master on this bus is accepted */
    bool close_after_cycle;      /* TCP: for devices that allow one client */
    int32_t fifo_wait_us;        /* how much later than the wire a UART hands bytes over */
    int32_t gap_us;              /* least silence before a request; 0 = t3.5 */
    int32_t response_timeout_ms; /* default 1000 */
    int32_t listen_ms;           /* RTU: time to listen for another master before the first request */
};

struct config_meter {
    int32_t number;              /* 1..999: identity in the record, outlives the name */
    char name[CONFIG_NAME_SIZE]; /* label, may change */
    int32_t bus;                 /* index in buses */
    int32_t unit_id;             /* 1..247; 0..255 over TCP */
    int32_t map;                 /* index in maps */
    enum meter_role role;
    bool delivers_by_export; /* production, part, storage, generator: which counter is delivery to the site */
    bool gross;              /* production: sold whole, not behind the house meter */
    bool phases_apart;       /* counts each phase by itself (else netted across phases) */
    int32_t phases;          /* 1 or 3 */
    bool reversed;           /* direction: import and export exchanged by the wiring */
    int64_t rated_w;         /* highest power that can flow, W; for the reading gate */
    int64_t peak_w;          /* parts and production: Wp */
    int64_t ac_rating_w;     /* parts and production: of the inverters' output; 0 not stated */
    int32_t temperature_ppm; /* the same: power gained per degC, negative, millionths; 0 not stated */
    int32_t plane_azimuth;   /* degrees from north, clockwise; -1 unknown */
    int32_t tilt;            /* degrees from horizontal; -1 unknown */
    char accuracy_class[8];  /* "1", "0.5S", "B" ...; "" unknown */
    char ct_class[8];        /* of its current transformers, "0.5", "0.2S" ...; "" not stated */
    char serial[CONFIG_SERIAL_SIZE];  /* as printed on it; "" not stated */
    int32_t ct_primary, ct_secondary; /* 1/1 without */
    int32_t vt_primary, vt_secondary;
    int32_t gap_us;              /* a silence of its own before requests; 0 = the bus's */
    int32_t response_timeout_ms; /* 0 = the bus's */
    int32_t max_registers;       /* 0 = the map's */
    int32_t sunspec_base;        /* for walked maps: -1 = try 40000, 0, 50000 */
    bool grid_sign_export;       /* a walked meter model counts power > 0 as export */
};

/* Registers of a sealed meter. Those of tariff periods are parts of its import, and of its export. */
enum sealed_register {
    SEALED_IMPORT,
    SEALED_EXPORT,
    SEALED_T1,
    SEALED_T2,
    SEALED_T3,
    SEALED_T4,
    SEALED_EXPORT_T1,
    SEALED_EXPORT_T2,
    SEALED_EXPORT_T3,
    SEALED_EXPORT_T4,
    SEALED_DEMAND, /* the highest of a billing period, kW or kVA */
    SEALED_REGISTERS
};

enum phase_method { PHASES_UNKNOWN, PHASES_NETTED, PHASES_APART, PHASES_ABSOLUTE };

/* The utility's or the production meter, read by eye; its readings stand in the logbook. */
struct config_sealed {
    char name[CONFIG_NAME_SIZE];
    char serial[CONFIG_SERIAL_SIZE]; /* of the first one: exchanges stand in the logbook; "" unknown */
    enum meter_role role;            /* ROLE_GRID or ROLE_PRODUCTION */
    bool delivers_by_export;         /* production: the register that counts it */
    uint32_t registers;              /* 1 << enum sealed_register */
    int32_t digits;                  /* before the decimal sign: 5 roll over at 100000 */
    int32_t decimals;                /* shown behind it */
    int32_t factor_thousandths;      /* multiplying factor: what is shown times this is kWh */
    enum phase_method phase_method;
    char accuracy_class[8]; /* "" unknown */
    char ct_class[8];       /* of the current transformers in front of it; "" not stated */
    bool whole_units;       /* readings are cut to whole units before they are subtracted */
    bool standard_time;     /* its clock has no summer time */
};

/* Thresholds of the checks that look over the record afterwards. In per cent unless said;
 * meterbook.conf(5) says where each comes from. */
struct config_checks {
    int32_t spike_percent;       /* the highest block of a day above its third highest, of that */
    int32_t spike_block_s;       /* length of these blocks */
    int32_t spike_floor_percent; /* of rated power: below it nothing is a spike */
    int32_t day_high_percent, day_low_percent;     /* a day's use, of that of its reference days */
    int32_t month_high_percent, month_low_percent; /* a month's, of that of last year's month */
    int32_t clear_sky_percent;                     /* production, of what a clear sky would bring */
    int32_t residual_percent;                      /* between meters that count the same, of one of them */
};

/* What the supply is held against by `meterbook supply`. Voltages in 0.01 V, phase to neutral. */
struct config_supply {
    int32_t nominal_voltage;
    int32_t nominal_frequency;   /* mHz: 50000 or 60000 */
    int32_t band_low, band_high; /* a national band; 0 = no such end */
    int32_t band_percent;        /* the same in 0.1 % of the nominal voltage, both ways; 0 = none */
    int32_t throttle_voltage;    /* from which on inverters throttle; 0 = the upper end of +-10 % */
    int32_t valid_percent;       /* of a week's ten minutes that must be valid for a verdict */
};

/* What a plant was expected to make when it was bought, by calendar month. */
struct config_expected {
    bool given;
    int32_t kwh_per_kwp[12]; /* thousandths of a kWh per kWp; all 0: not given so */
    int32_t kwh[12];         /* thousandths of a kWh */
    int32_t uncertainty_ppm; /* of a year's sum, as promised; 0 not stated */
};

struct civil;

struct config {
    struct config_site site;
    struct config_expected expected;
    struct config_checks checks;
    struct config_supply supply;
    char database[CONFIG_PATH_SIZE];
    char runtime[CONFIG_PATH_SIZE];  /* directory: latest, boot id, pause files */
    char logbook[CONFIG_PATH_SIZE];  /* "" = none */
    char contract[CONFIG_PATH_SIZE]; /* what bills are made from; "" = none; the collector does not read it */
    char hash[17];                   /* of all bytes read (file and includes) */
    char *text;                      /* the file and its includes, as loaded */
    size_t text_size;
    int32_t bus_count, meter_count, map_count, sealed_count;
    struct config_bus buses[CONFIG_MAX_BUSES];
    struct config_meter meters[CONFIG_MAX_METERS];
    struct config_sealed sealed[CONFIG_MAX_SEALED];
    struct register_map *maps;
    char **map_texts;    /* the maps' files as loaded; "" for a walked one */
    struct civil *civil; /* of site.time_zone */
};

/* Every problem of a load, in file order, as "file:line: what, what is allowed". */
struct problems {
    int32_t errors, warnings;
    void (*say)(void *self, bool error, const char *line); /* called once per problem */
    void *self;
};

/* Reads the file, its includes and its maps. Returns the configuration, to be
 * given to config_free(), or NULL after at least one error was said. */
struct config *config_load(const char *path, struct problems *problems);
/* The same without its maps, for who only answers from the record: map_count is 0, and the edition of the
 * zone data is not looked for. */
struct config *config_load_site(const char *path, struct problems *problems);
/* The same from the text of a configuration as the record keeps it, for what it says of
 * the site, its meters and the checks: no map is read and no path is set. NULL, without a word, where
 * the text is not a whole configuration. */
struct config *config_load_stored(const char *text);
/* The thresholds that hold where no configuration says otherwise. */
struct config_checks config_default_checks(void);
/* The same for the supply. */
struct config_supply config_default_supply(void);
void config_free(struct config *config);

/* Were both read from the same bytes, maps included? */
bool config_same(const struct config *a, const struct config *b);

/* Names of the enumerations, as written in the file. */
const char *role_name(enum meter_role role);
const char *bus_kind_name(enum bus_kind kind);
const char *phase_method_name(enum phase_method method);
/* "import", "export", "t1" ... as in the configuration and the logbook; ends with NULL. */
extern const char *const sealed_register_words[SEALED_REGISTERS + 1];

/* Says what this configuration makes impossible to answer, a line each,
 * without a file position. Part of `meterbookd -n`. */
void config_impossible(const struct config *config, void (*say)(void *self, const char *line), void *self);

#endif
