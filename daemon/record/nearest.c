#include "nearest.h"

#include <stddef.h>
#include <string.h>

enum { LONGEST = 24 };

static int smallest(int a, int b, int c)
{
    int least = a < b ? a : b;
    return least < c ? least : c;
}

/* Number of letters to insert, remove, change or exchange with their neighbour. */
static int distance(const char *a, const char *b)
{
    size_t rows = strlen(a), columns = strlen(b);
    int cost[LONGEST + 1][LONGEST + 1];
    if (rows > LONGEST || columns > LONGEST)
        return LONGEST;
    for (size_t i = 0; i <= rows; i++) {
        for (size_t j = 0; j <= columns; j++) {
            if (i == 0 || j == 0) {
                cost[i][j] = (int)(i + j);
                continue;
            }
            int changed = cost[i - 1][j - 1] + (a[i - 1] != b[j - 1]);
            cost[i][j] = smallest(cost[i - 1][j] + 1, cost[i][j - 1] + 1, changed);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] &&
                cost[i - 2][j - 2] + 1 < cost[i][j])
                cost[i][j] = cost[i - 2][j - 2] + 1;
        }
    }
    return cost[rows][columns];
}

const char *nearest(const char *word, const char *const *names)
{
    const char *best = NULL;
    int least = 3; /* from three changes on it is another word */
    for (; *names; names++) {
        int steps = distance(word, *names);
        if (steps < least && (size_t)steps < strlen(*names)) {
            least = steps;
            best = *names;
        }
    }
    return best;
}
