/* Makes a record for a test: the schema, then SQL files.
 *
 *     make_record RECORD FILE.sql ...
 *
 * Closed as the collector closes it: WAL, its two side files left in place. */
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include "schema.h"

static void run(sqlite3 *database, const char *what, const char *sql)
{
    char *error = NULL;
    if (sqlite3_exec(database, sql, NULL, NULL, &error) == SQLITE_OK)
        return;
    fprintf(stderr, "make_record: %s: %s\n", what, error);
    exit(1);
}

static void run_file(sqlite3 *database, const char *path)
{
    enum { MOST = 65536 };
    static char text[MOST];
    FILE *file = fopen(path, "r");
    if (!file) {
        perror(path);
        exit(1);
    }
    size_t size = fread(text, 1, MOST - 1, file);
    text[size] = '\0';
    fclose(file);
    run(database, path, text);
}

int main(int argc, char **argv)
{
    sqlite3 *database;
    char identity[120];
    int keep = 1;
    if (argc < 2 || (unlink(argv[1]), sqlite3_open(argv[1], &database)) != SQLITE_OK) {
        fputs("usage: make_record RECORD FILE.sql ...\n", stderr);
        return 1;
    }
    sqlite3_file_control(database, "main", SQLITE_FCNTL_PERSIST_WAL, &keep);
    snprintf(identity, sizeof(identity),
             "PRAGMA journal_mode = WAL; PRAGMA application_id = %d; PRAGMA user_version = %d",
             SCHEMA_APPLICATION_ID, SCHEMA_VERSION);
    run(database, "identity", identity);
    run(database, "schema", schema_sql);
    run(database, "begin", "BEGIN");
    for (int i = 2; i < argc; i++)
        run_file(database, argv[i]);
    run(database, "commit", "COMMIT");
    return sqlite3_close(database) == SQLITE_OK ? 0 : 1;
}
