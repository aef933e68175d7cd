/* Private to contract*.c. */
#ifndef METERBOOK_CONTRACT_CASES_H
#define METERBOOK_CONTRACT_CASES_H

#include "contract.h"
#include "setting.h"

/* A list of groups of a key: how many it has, at most `most`; 0 where it is absent or was complained of. */
int32_t contract_list_of(struct source *source, const config_setting_t *group, const char *key, int32_t most,
                         const config_setting_t **list);
/* A day as written; with `before`, not before that one, which is then it. INT64_MIN where it was complained
 * of. */
int64_t contract_date_of(struct source *source, const config_setting_t *place, const char *key,
                         const char *text, int64_t *before);

/* The line of its file in which a key of a group stands; the group's where it is absent. */
int32_t contract_line_of(const struct source *source, const config_setting_t *group, const char *key);

/* Reads the list `paper`. */
void contract_read_papers(struct source *source, const config_setting_t *root, struct contract_file *file);

/* Reads the groups `cases` and `sweep`; `path` is the contract's. */
void contract_read_cases(struct source *source, const char *path, const config_setting_t *root,
                         struct contract_file *file);

#endif
