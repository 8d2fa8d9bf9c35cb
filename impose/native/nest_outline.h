/* The outline of a part-filled strip, a row of steps. Twin: raise_outline in impose/nest/roll_beam.py. */
#ifndef IMPOSE_NEST_OUTLINE_H
#define IMPOSE_NEST_OUTLINE_H

#include "loops.h"

typedef struct {
    int64_t top, left, width;
} Step;

static inline int64_t find_lowest(const Step *line, int64_t steps)
{
    int64_t at = 0;
    for (int64_t i = 1; i < steps; i++)
        if (line[i].top < line[at].top) /* the leftmost of equals comes first */
            at = i;
    return at;
}

/* The outline once `width` of step `at`, from `left`, stands at `top`; level neighbours become one step. */
static inline int64_t raise_outline(const Step *line, int64_t steps, int64_t at, int64_t left, int64_t width, int64_t top, Step *out)
{
    Step low = line[at];
    int64_t made = at, next = at + 1, rest = low.left + low.width - left - width;
    memcpy(out, line, (size_t)at * sizeof *out);
    if (left > low.left) {
        out[made++] = (Step){low.top, low.left, left - low.left};
    } else if (made > 0 && out[made - 1].top == top) {
        made--;
        left = out[made].left;
        width += out[made].width;
    }
    if (rest <= 0 && next < steps && line[next].top == top)
        width += line[next++].width;
    out[made++] = (Step){top, left, width};
    if (rest > 0)
        out[made++] = (Step){low.top, low.left + low.width - rest, rest};
    memcpy(out + made, line + next, (size_t)(steps - next) * sizeof *out);
    return made + steps - next;
}

#endif
