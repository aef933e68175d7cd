/* links: tools/enter/csv.c tools/enter/enter_file.c tools/enter/enter_header.c tools/enter/enter_time.c daemon/record/?*.c */
/* A file that is entered: read, judged and written into a record in memory in
 * which the collector has an account with a gap. The first byte says how the
 * file is declared. libFuzzer. */
#include <stdlib.h>
#include <string.h>

#include "enter_file.h"
#include "schema.h"
#include "store_private.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Quarters of an hour from 2026-05-04 12:00 in Berlin; four of them filled. */
static const char fixture[] =
    "DELETE FROM interval; DELETE FROM energy; DELETE FROM run; DELETE FROM day; DELETE FROM setting; "
    "DELETE FROM meter_setting;"
    "INSERT INTO setting VALUES(1, 1777888800000, 'b', 0, 'h', 'Mill', 'Europe/Berlin', '2026a', 900, 1000, "
    "'0', '');"
    "INSERT INTO meter_setting VALUES(1, 1, 'Roof', 'production', 'export', 0, 'netted', 3, 9000, 0, NULL, "
    "NULL, '', '');"
    "INSERT INTO meter_setting VALUES(1, 2, 'House', 'grid', 'import', 0, 'netted', 3, 9000, 0, NULL, NULL, "
    "'', '');"
    "INSERT INTO run SELECT NULL, 2, value, 1, 1777889040000, 5000000, 5000, 1000, 1777888800, 5000000, "
    "1777892400, "
    "5400000, NULL, '', 'first reading', NULL, NULL, NULL, NULL FROM json_each('[0,1]');"
    "INSERT INTO interval(id, import, export, estimated, unobserved, how) SELECT (1777888800 + key * 900) * "
    "1024 + 2, "
    "100000, 100000, iif(value = 2, 200000, 0), iif(value = 2, 900, 0), value FROM "
    "json_each('[0,0,2,2,2,2,0,0]');";

static struct store *store;
static struct store_enter *enter;
static struct civil *civil;

static int64_t ask(const char *sql)
{
    sqlite3_stmt *statement;
    if (sqlite3_prepare_v2(store->db, sql, -1, &statement, NULL) != SQLITE_OK ||
        sqlite3_step(statement) != SQLITE_ROW)
        abort();
    int64_t value = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return value;
}

static void open_record(void)
{
    char why[256];
    if (!store &&
        (store_open(&store, ":memory:", why) != STORE_OK || store_enter_open(&enter, store) != STORE_OK))
        abort();
    if (!civil && !(civil = civil_open("Europe/Berlin")))
        abort();
    if (sqlite3_exec(store->db, fixture, NULL, NULL, NULL) != SQLITE_OK)
        abort();
}

static void check_record(void)
{
    if (ask("SELECT count(*) FROM interval WHERE import < 0 OR export < 0 OR estimated < 0 OR unobserved < "
            "0") != 0 ||
        ask("SELECT sum(import) * 3 + sum(export) FROM interval WHERE meter = 2 AND ts > 1777888800") !=
            2800000 ||
        ask("SELECT count(*) FROM run WHERE began <> 'entered' AND base + (SELECT sum(iif(counter, export, "
            "import)) "
            "FROM interval AS i WHERE i.meter = 2 AND ts >= base_s) IS NOT anchor + (SELECT "
            "sum(iif(counter, export, import)) FROM interval AS i WHERE i.meter = 2 AND ts >= anchor_s)") !=
            0 ||
        ask("SELECT count(*) FROM day WHERE rows IS NOT (SELECT count(*) FROM interval AS i WHERE i.meter = "
            "day.meter "
            "AND ts >= from_s AND ts < to_s)") != 0)
        abort();
}

static void enter_text(FILE *stream, const struct enter_form *form, bool replace)
{
    static struct enter_file file;
    int64_t from_s[4], length_s[4];
    struct enter_setup setup = {
        .store = store, .enter = enter, .civil = civil, .replace = replace, .fit = replace, .name = "f"
    };
    setup.grid = (struct enter_grid){ store_enter_grid(enter, from_s, length_s, 4), from_s, length_s };
    struct enter_batch *batch = enter_batch_create(&setup);
    enum enter_result result = ENTER_OK;
    struct enter_form measured = *form;
    if (!batch)
        abort();
    int code = enter_file_begin(&file, stream, "f", form, civil, enter);
    if (code == 0)
        code = enter_file_measure(&file);
    measured.length = file.form.length;
    rewind(stream);
    if (code == 0)
        code = enter_file_begin(&file, stream, "f", &measured, civil, enter);
    if (code == 0)
        code = enter_file_attach(&file, batch) == 0 ? 1 : -1;
    /* a file of a few bytes can stand for years: what a fuzzer has time for */
    for (int32_t lines = 0; code == 1 && lines < 200; lines++)
        code = enter_file_line(&file, batch, &result);
    if (code == 0)
        result = (enum enter_result)enter_batch_finish(batch);
    if (result == ENTER_FAILED)
        abort();
    enter_batch_destroy(batch);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char separators[] = { ',', ';', '\t', ',' };
    static const char *const lengths[] = { NULL, "15min", "day", "month" };
    if (size < 2)
        return 0;
    unsigned how = data[0];
    struct enter_form form = { .separator = separators[how & 3],
                               .decimal = how & 4 ? ',' : '.',
                               .stamp_end = how & 8,
                               .same_register = how & 16,
                               .order = (enum date_order)((how >> 5) % 3),
                               .has_length = how >= 128 };
    if (form.has_length)
        enter_length_read(&form.length, lengths[1 + how % 3]);
    open_record();
    char *text = malloc(size);
    if (!text)
        abort();
    memcpy(text, data + 1, size - 1);
    FILE *stream = fmemopen(text, size - 1, "r");
    if (!stream)
        abort();
    for (int again = 0; again < 2; again++) {
        rewind(stream);
        enter_text(stream, &form, how & 32);
        check_record();
    }
    fclose(stream);
    free(text);
    return 0;
}
