#include "told.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "query_state.h"

void told_outages(struct outages *outages, int64_t now_ms)
{
    static struct arrangement arrangement;
    struct query query = { .path = "record.db" };
    struct site site;
    assert_int_equal(sqlite3_open_v2(query.path, &query.database, SQLITE_OPEN_READWRITE, NULL), SQLITE_OK);
    query_begin(&query);
    assert_true(query_site(&query, &site));
    struct setting_row newest = { .id = site.setting, .interval_s = site.interval_s };
    assert_true(query_meters(&query, &newest, &arrangement));
    outages_read(outages, &query, now_ms);
    outages_infer(outages, &query, &arrangement);
    outages_find_inverters(outages, &query, &arrangement, site.first_s, site.last_s + site.interval_s);
    outages_cut(outages, &query);
    outages_estimate(outages, &query, &arrangement);
    query_end(&query);
    if (query_error(&query))
        fail_msg("%s", query_error(&query));
    for (int i = 0; i < STATEMENT_COUNT; i++)
        sqlite3_finalize(query.statements[i]);
    sqlite3_close(query.database);
}
