/* Few entries sorted in place (Shell 1959). Entries equal in all are alike, so any way of sorting gives the same. */
#ifndef IMPOSE_NEST_SORT_H
#define IMPOSE_NEST_SORT_H

#include "loops.h"

static inline int64_t find_first_gap(int64_t count)
{
    int64_t gap = 1;
    while (gap < count / 3)
        gap = 3 * gap + 1;
    return gap;
}

/* By key, then by what is sorted. */
static inline void sort_by_keys(double *keys, int64_t *order, int64_t count)
{
    for (int64_t gap = find_first_gap(count); gap > 0; gap /= 3)
        for (int64_t i = gap; i < count; i++) {
            double key = keys[i];
            int64_t k = order[i], j = i;
            while (j >= gap && (keys[j - gap] > key || (keys[j - gap] == key && order[j - gap] > k))) {
                keys[j] = keys[j - gap];
                order[j] = order[j - gap];
                j -= gap;
            }
            keys[j] = key;
            order[j] = k;
        }
}

static inline void sort_ascending(int64_t *order, int64_t count)
{
    for (int64_t gap = find_first_gap(count); gap > 0; gap /= 3)
        for (int64_t i = gap; i < count; i++) {
            int64_t k = order[i], j = i;
            for (; j >= gap && order[j - gap] > k; j -= gap)
                order[j] = order[j - gap];
            order[j] = k;
        }
}

#endif
