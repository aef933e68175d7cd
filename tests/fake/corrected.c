#include "corrected.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>

#include "audit.h"
#include "disk.h"
#include "log.h"

static const char *const names[] = { "house", "roof", "barn", "shed" };

void corrected_begin(struct site *site, uint64_t seed, int count, const enum meter_role roles[])
{
    disk_install(seed);
    disk_format();
    log_set_level(LOG_ERROR - 1);
    site_init(site, seed, count, roles, 300, 1000);
    for (int i = 0; i < count; i++) {
        snprintf(site->config.meters[i].name, sizeof site->config.meters[i].name, "%s", names[i]);
        site->config.meters[i].delivers_by_export = roles[i] == ROLE_PRODUCTION;
    }
    assert_true(site_start(site));
}

void corrected_live(struct site *site, int64_t seconds)
{
    for (int64_t s = 0; s < seconds; s++) {
        for (int i = 0; i < site->config.meter_count; i++) {
            struct site_meter *meter = &site->meters[i];
            enum meter_role role = site->config.meters[i].role;
            if (s % 37 != i)
                continue;
            int64_t power = (int64_t)(site_random(site) % 6000000);
            meter->power_mw = role == ROLE_CONSUMPTION  ? power
                              : role == ROLE_PRODUCTION ? -power
                                                        : power - 3000000;
        }
        site_second(site);
    }
}

void corrected_settle(struct site *site)
{
    for (int i = 0; i < 20; i++)
        collect_turn(site->collect);
    assert_int_equal(audit_ask("SELECT count(*) FROM correction_due"), 0);
}

void corrected_write(struct site *site, const char *text)
{
    assert_true(site_write_logbook(site, text));
    corrected_settle(site);
}

static uint64_t hash_table(sqlite3 *db, const char *table)
{
    char sql[100];
    sqlite3_stmt *s;
    uint64_t hash = 14695981039346656037U;
    snprintf(sql, sizeof sql, "SELECT * FROM %s ORDER BY 1, 2", table);
    assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &s, NULL), SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW)
        for (int c = 0; c < sqlite3_column_count(s); c++) {
            const unsigned char *text = sqlite3_column_text(s, c);
            for (const unsigned char *at = text ? text : (const unsigned char *)"\1"; *at; at++)
                hash = (hash ^ *at) * 1099511628211U;
            hash = (hash ^ 0xff) * 1099511628211U;
        }
    sqlite3_finalize(s);
    return hash;
}

void dump_record(struct dump *dump)
{
    sqlite3 *db;
    sqlite3_stmt *s;
    dump->count = 0;
    assert_int_equal(sqlite3_open_v2("record.db", &db, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db,
                                        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN "
                                        "('event', 'correction_due') ORDER BY name",
                                        -1, &s, NULL),
                     SQLITE_OK);
    while (sqlite3_step(s) == SQLITE_ROW) {
        snprintf(dump->tables[dump->count], sizeof dump->tables[0], "%s",
                 (const char *)sqlite3_column_text(s, 0));
        dump->hashes[dump->count] = hash_table(db, dump->tables[dump->count]);
        dump->count++;
    }
    sqlite3_finalize(s);
    sqlite3_close(db);
}

void dump_same(const struct dump *a, const struct dump *b)
{
    assert_true(a->count >= 15);
    assert_int_equal(a->count, b->count);
    for (int i = 0; i < a->count; i++)
        if (a->hashes[i] != b->hashes[i])
            fail_msg("table %s differs", a->tables[i]);
}

void corrected_audit(const struct site *site)
{
    audit_conservation(site);
    audit_days();
    assert_int_equal(
        audit_ask(
            "SELECT count(*) FROM day_as_corrected AS d WHERE (import, export, estimated, unobserved) "
            "IS NOT (SELECT sum(import), sum(export), sum(estimated), sum(unobserved) + (d.expected - "
            "d.rows) * 300 FROM interval_as_corrected AS i WHERE i.meter = d.meter AND ts >= from_s AND "
            "ts < to_s)"),
        0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected_day WHERE corrected IS NOT (SELECT count(*) "
                               "FROM corrected AS c WHERE c.meter = corrected_day.meter AND ts >= from_s AND "
                               "ts < to_s) OR flags & 512 = 0"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM corrected WHERE how & 512 = 0 OR id NOT IN "
                               "(SELECT id FROM interval)"),
                     0);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval WHERE how & 512 <> 0"), 0);
    assert_int_equal(audit_ask("SELECT count(*) FROM interval_as_corrected WHERE import < 0 OR export < 0 OR "
                               "estimated > import + export"),
                     0);
}

void corrected_audit_anew(struct site *site)
{
    struct dump before, after;
    dump_record(&before);
    audit_ask("INSERT INTO correction_due SELECT DISTINCT ts / 86400 FROM interval WHERE true ON CONFLICT DO "
              "NOTHING RETURNING 1");
    corrected_settle(site);
    dump_record(&after);
    dump_same(&before, &after);
}
