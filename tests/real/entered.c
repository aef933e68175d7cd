#include "entered.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "log.h"
#include "panel_site.h"
#include "store.h"

static char directory[32];

const char *entered_path(const char *name)
{
    static char paths[4][64];
    static int next;
    char *path = paths[next++ % 4];
    snprintf(path, sizeof paths[0], "%s/%s", directory, name);
    return path;
}

static FILE *make_file(const char *name)
{
    FILE *file = fopen(entered_path(name), "w");
    assert_non_null(file);
    return file;
}

int entered_set_up(void **state)
{
    (void)state;
    log_set_level(LOG_ERROR - 1);
    snprintf(directory, sizeof directory, "/tmp/real-enter-XXXXXX");
    return mkdtemp(directory) ? 0 : -1;
}

void entered_drop_record(void)
{
    static const char *const names[] = { "record.db", "record.db-wal", "record.db-shm" };
    for (int i = 0; i < 3; i++)
        unlink(entered_path(names[i]));
}

int entered_tear_down(void **state)
{
    (void)state;
    static const char *const names[] = { "data.csv", "registers.map", "meterbook.conf", "out" };
    entered_drop_record();
    for (int i = 0; i < 4; i++)
        unlink(entered_path(names[i]));
    return rmdir(directory);
}

/* ---- files ---- */

void entered_write_config(const struct dataset *series)
{
    const struct series_info *info = &series->info;
    FILE *file = make_file("registers.map");
    fputs("name = \"entered\"; function = 4; max_registers = 60;\n"
          "points = ( { quantity = \"active_import\"; address = 0; type = \"uint64\"; },"
          " { quantity = \"active_export\"; address = 4; type = \"uint64\"; } );\n",
          file);
    fclose(file);
    file = make_file("meterbook.conf");
    fprintf(
        file,
        "site = { name = \"%s\"; time_zone = \"%s\"; latitude = %.1f; longitude = %.1f; interval = %d; };\n"
        "record = { database = \"%s/record.db\"; runtime = \"%s\"; };\n"
        "buses = ( { name = \"wire\"; kind = \"tcp\"; host = \"127.0.0.1\"; } );\nmeters = (",
        series->name, info->zone, info->latitude, info->longitude, (int)info->interval_s, directory,
        directory);
    for (int m = 0; m < SERIES_METERS && info->meters[m].name; m++) {
        fprintf(file,
                "%s { number = %d; name = \"%s\"; role = \"%s\"; bus = \"wire\"; unit_id = %d; "
                "map = \"registers.map\"; rated_power = %lld;",
                m ? "," : "", m + 1, info->meters[m].name, role_name(info->meters[m].role), m + 1,
                (long long)panel_site_rated_w(series, m));
        if (info->meters[m].role == ROLE_PRODUCTION)
            fputs(" delivers = \"export\";", file);
        if (info->azimuth >= 0 && info->meters[m].role == ROLE_PRODUCTION)
            fprintf(file, " azimuth = %d; tilt = %d;", (int)info->azimuth, (int)info->tilt);
        fputs(" }", file);
    }
    fputs(" );\n", file);
    fclose(file);
}

static void say(void *self, bool error, const char *line)
{
    (void)self;
    if (error)
        printf("%s\n", line);
}

/* A record whose collector takes over when the series is at its end. */
void entered_make_record(const struct dataset *series)
{
    struct problems problems = { .say = say };
    struct store *store;
    char why[256];
    int64_t setting;
    entered_drop_record();
    entered_write_config(series);
    struct config *config = config_load(entered_path("meterbook.conf"), &problems);
    assert_non_null(config);
    assert_int_equal(store_open(&store, entered_path("record.db"), why), STORE_OK);
    assert_int_equal(store_begin(store), STORE_OK);
    assert_int_equal(store_put_setting(store, config, "boot", 0,
                                       (series->at_s[series->count - 1] + 86400) * 1000, &setting),
                     STORE_OK);
    assert_int_equal(store_commit(store), STORE_OK);
    store_close(store);
    config_free(config);
}

/* ---- entering ---- */

void entered_file(const char *options)
{
    const char *build = getenv("BUILD");
    char command[400];
    snprintf(command, sizeof command, "'%s/meterbook' -c %s enter %s %s >%s 2>&1", build ? build : "build",
             entered_path("meterbook.conf"), options, entered_path("data.csv"), entered_path("out"));
    if (system(command) == 0) // NOLINT(cert-env33-c)
        return;
    char line[400];
    FILE *out = fopen(entered_path("out"), "r");
    while (out && fgets(line, sizeof line, out))
        fputs(line, stdout);
    fail_msg("%s", command);
}
