/* Private to contract*.c. */
#ifndef METERBOOK_CONTRACT_CASES_H
#define METERBOOK_CONTRACT_CASES_H

#include "contract.h"
#include "setting.h"

/* Reads the groups `cases` and `sweep`; `path` is the contract's. */
void contract_read_cases(struct source *source, const char *path, const config_setting_t *root,
                         struct contract_file *file);

#endif
