/* One sheet filled from a list of pieces. Twins: free_rectangles.py, guillotine.py in impose/nest. Whole micrometres, y down. */
#ifndef IMPOSE_NEST_FILL_H
#define IMPOSE_NEST_FILL_H

#include "loops.h"

#define NO_LIMIT (-1) /* where a limit is a number of steps, a burden or a side */
#define NO_MEMORY (-1)

typedef struct {
    int64_t width, height, turn;
} Kind;

typedef struct {
    int64_t kind, x, y, width, height;
} Spot;

typedef struct {
    int64_t left, top, right, bottom;
} Box;

typedef struct {
    int64_t width, height;
} Paper;

/* What a filling needs, used again by the next; `room` boxes fit each list. */
typedef struct {
    Box *free, *side[4];
    int64_t *rival[4], room, count;
    signed char *failed;
    int64_t kinds;
    int64_t work; /* free rectangles looked at so far: about as long as it took */
} FillSpace;

/* The pieces offered, one kind a piece; those over `most_left` burdens are not tried, NO_LIMIT for all. */
typedef struct {
    const Kind *kinds;
    const int64_t *burden, *order;
    int64_t pieces, rule, most_left, least, straight; /* straight: cuts can part the pieces edge to edge */
} Offer;

/* Both are 0 without memory. */
int open_space(FillSpace *space, int64_t kinds);
void close_space(FillSpace *space);

/* The number of spots made, or NO_MEMORY; what is left goes to `left`, its number to `over`. */
int64_t fill_paper(FillSpace *space, Paper paper, const Offer *offer, Spot *spots, int64_t *left, int64_t *over);

/* The shortest side of the pieces from `start` to `end`. */
int64_t find_narrowest(const Kind *kinds, const int64_t *order, int64_t start, int64_t end);

#endif
