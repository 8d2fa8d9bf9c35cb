/* Pieces covered by sheets of several papers. Twin: cover.py in impose/nest. */
#ifndef IMPOSE_NEST_COVER_H
#define IMPOSE_NEST_COVER_H

#include "nest_fill.h"

#define ORDERS 4 /* orders by size and rules that are tried where nothing is drawn */

typedef int (*Question)(void); /* whether it is over */

/* As Python lays it out; `limit` sheets are left of it, or NO_LIMIT. */
typedef struct {
    int64_t width, height, price, limit;
} CoverPaper;

/* How sheets are tried: by simple orders (all of them or the first), in random ones, or in a blurred one. */
enum { BY_ALL_ORDERS, BY_SIZE, BY_PROMOTION, BY_BLUR };

typedef struct {
    const Kind *kinds;
    int64_t sizes;
    CoverPaper *papers;
    int64_t count;
    const double *floors;  /* what each paper costs for its area */
    const int64_t *takes;  /* a row of all kinds for each paper: whether it fits */
    const int64_t *ranks;  /* of each kind in each of ORDERS */
    int64_t straight;
    uint32_t *state;
    Question is_over;
    int over;
    int64_t asked, steps;
    FillSpace space;
    int64_t *taken, *others, *order, *unplaced, *rest;
    double *dearer, *floor;
    int64_t *by_floor;
    double *keys;
    Spot *trial;
} Cover;

/* Sheets one after another: their spots, how many each has, and their papers. */
typedef struct {
    Spot *spots;
    int64_t *counts, *stocks, sheets, used;
} CoverSheets;

/* For so many pieces at most; 0 without memory. What `cover` was given before it was opened stays. */
int open_cover(Cover *cover, int64_t pieces);
void close_cover(Cover *cover);

/* `left` is used up as far as the limits allow, its number in `pieces`; 0 without memory. Where all is `given_up` once
 * it is over, `over` says so. */
int cover_greedily(Cover *cover, int64_t *left, int64_t *pieces, int64_t way, int64_t tries, int given_up, CoverSheets *made);

/* Whether it is over, as far as it was asked. */
int ask_whether_over(Cover *cover);

/* A whole number below `end`, as `random.Random.randrange(end)` draws it. */
int64_t draw_whole(uint32_t *state, int64_t end);

#endif
