#include "parts.h"

/* The k-th smallest in place (C. A. R. Hoare's quickselect). */
static int32_t nth(int32_t *values, int32_t count, int32_t k)
{
    int32_t low = 0, high = count - 1;
    while (low < high) {
        int32_t pivot = values[low + (high - low) / 2], i = low, j = high;
        while (i <= j) {
            while (values[i] < pivot)
                i++;
            while (values[j] > pivot)
                j--;
            if (i <= j) {
                int32_t value = values[i];
                values[i++] = values[j];
                values[j--] = value;
            }
        }
        if (k <= j)
            high = j;
        else if (k >= i)
            low = i;
        else
            break;
    }
    return values[k];
}

int32_t parts_median(int32_t *values, int32_t count)
{
    if (count <= 0)
        return 0;
    int32_t upper = nth(values, count, count / 2), lower;
    if (count % 2 == 1)
        return upper;
    lower = values[0];
    for (int32_t i = 1; i < count / 2; i++)
        lower = values[i] > lower ? values[i] : lower;
    return (int32_t)(((int64_t)lower + upper) / 2);
}
