#include <stdio.h>
#include <stdlib.h>

#include "logbook_session.h"
#include "sheet.h"

static const struct sheet_column columns[] = {
    { "line", { "", "line" }, "", SHEET_NUMBER, 0, false },
    { "date", { "", "date" }, "", SHEET_INSTANT, 0, false },
    { "kind", { "", "kind" }, "", SHEET_TEXT, 0, false },
    { "subject", { "", "about" }, "", SHEET_TEXT, 0, false },
    { "values", { "", "values" }, "", SHEET_TEXT, 0, false },
    { "state", { "", "state" }, "", SHEET_TEXT, 0, false },
    { "text", { "", "text" }, "", SHEET_TEXT, 0, false },
};
enum { COLUMN_COUNT = sizeof(columns) / sizeof(columns[0]), VALUES_SIZE = 400 };

static void join_values(const struct logbook_entry *entry, const struct civil *civil, char out[VALUES_SIZE])
{
    char value[CONFIG_NAME_SIZE];
    size_t at = 0;
    out[0] = '\0';
    for (int32_t key = 0; key < LOGBOOK_KEYS && at < VALUES_SIZE; key++)
        if (logbook_value(entry, (enum logbook_key)key, civil, value, sizeof(value)))
            at += (size_t)snprintf(out + at, VALUES_SIZE - at, "%s%s=%s", at ? " " : "",
                                   logbook_key_name((enum logbook_key)key), value);
}

static enum exit_code list(const struct logbook *logbook, const struct logbook_session *session,
                           const struct options *options)
{
    struct sheet sheet;
    char title[CONFIG_PATH_SIZE + CONFIG_NAME_SIZE + 20];
    char(*values)[VALUES_SIZE] = calloc((size_t)logbook->count + 1, sizeof(*values));
    sheet_init(&sheet, "logbook", session->civil, columns, COLUMN_COUNT);
    snprintf(title, sizeof(title), "%s, logbook '%s'", session->config->site.name, session->config->logbook);
    sheet.title = title;
    sheet.failed = !values;
    if (session->problems.errors > 0)
        sheet_note(&sheet, "lines with errors: %d", (int)session->problems.errors);
    for (int32_t i = 0; values && i < logbook->count; i++) {
        const struct logbook_entry *entry = &logbook->entries[i];
        struct sheet_cell *row = sheet_row(&sheet);
        if (!row)
            break;
        join_values(entry, session->civil, values[i]);
        row[0].value = entry->line;
        row[1].value = entry->at_s;
        row[2].text = logbook_kind_words[entry->kind];
        row[3].text = entry->subject;
        row[4].text = values[i];
        row[5].text = entry->refused ? "refused" : entry->revoked ? "revoked" : "";
        row[6].text = entry->text;
    }
    bool good = sheet_print(&sheet, options);
    sheet_free(&sheet);
    free(values);
    return good && session->problems.errors == 0 ? EXIT_ANSWERED : EXIT_RECORD;
}

enum exit_code cmd_logbook(const struct options *options, const char *const *arguments)
{
    struct logbook_session session;
    (void)arguments;
    enum exit_code code = logbook_session_open(&session, options);
    if (code == EXIT_ANSWERED) {
        struct logbook *logbook = logbook_load(session.config->logbook, &session.site, &session.problems);
        if (logbook)
            logbook_sort(logbook);
        code = logbook ? list(logbook, &session, options) : EXIT_RECORD;
        logbook_free(logbook);
    }
    logbook_session_close(&session);
    return code;
}
