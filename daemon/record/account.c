#include "account.h"

/* 1 mWh = 3.6 Ws = 3 600 000 mW ms */
#define WORK_PER_MWH 3600000

void account_begin(struct account *account, int64_t value, int64_t step)
{
    *account = (struct account){ .value = value, .step = step, .account = value };
}

void account_resume(struct account *account, int64_t at, int64_t step)
{
    *account = (struct account){ .value = at, .step = step, .account = at };
}

void account_read(struct account *account, int64_t value, int64_t step, int64_t power, int64_t span_ms)
{
    account->work += power * span_ms;
    int64_t predicted = account->account + account->work / WORK_PER_MWH;
    account->work %= WORK_PER_MWH;
    if (predicted < value)
        predicted = value;
    if (predicted > value + step - 1)
        predicted = value + step - 1;
    if (predicted < account->account)
        predicted = account->account; /* jitter, or a finer step: the register will catch up */
    account->value = value;
    account->step = step;
    account->account = predicted;
}
