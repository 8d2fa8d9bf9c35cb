/* The exact searches of few pieces. Twins: exact_roll.py, exact_sheet.py, exact_sets.py, exact_sheets.py in impose/nest. */
#ifndef IMPOSE_NEST_EXACT_H
#define IMPOSE_NEST_EXACT_H

#include "nest_fill.h"

#define PIECES_MOST 40
#define BOX_MOST 16 /* pieces in a box that is swept */
#define LOOK 64     /* nodes between questions to the caller; nest_pack.c has to agree with its twin */

typedef int (*Question)(void); /* whether it is over; NULL where it never is */

/* How many sets may still be looked at; `spent` for good once there are none left, it is over or memory is out. */
typedef struct {
    int64_t left, asked;
    Question is_over;
    int spent, exhausted;
} Nodes;

/* One of a few pieces: its kind, the ways it lies on the paper (0 to 2) and its area. */
typedef struct {
    int64_t kind, ways;
    Paper lie[2];
} SharingPiece;

/* From sets of pieces (never empty) to numbers. */
typedef struct {
    uint64_t *keys;
    int64_t *values;
    size_t slots, used;
} SetTable;

/* What `exact_sets.SharingJudge` knows. */
typedef struct {
    const SharingPiece *pieces;
    int64_t count, places;
    Paper paper;
    const int64_t *weights;
    int64_t duals; /* a row of `count` weights for each pair of functions; how many rows */
    const Kind *kinds;
    int64_t sizes;
    const int64_t *ranks; /* of each kind in each of ORDERS */
    Nodes *nodes;
    SetTable known, tried, boxes, layouts; /* 0 or 1; 1; rows of `box_list`, the first holding how many; of `spots` */
    Paper *box_list;
    Spot *spots;
    size_t boxes_used, boxes_held, spots_used, spots_held;
    FillSpace space;
    int open;
} Judge;

int take_nodes(Nodes *nodes, int64_t count);
int64_t *find_value(SetTable *table, uint64_t set, int64_t missing);
const int64_t *look_up(const SetTable *table, uint64_t set);
void free_table(SetTable *table);
int grow_rows(void **rows, size_t *held, size_t needed, size_t size);

int open_judge(Judge *judge);
void close_judge(Judge *judge);
void keep_known(Judge *judge, uint64_t chosen, int64_t value);
int may_share(Judge *judge, uint64_t chosen);
uint64_t list_joining(Judge *judge, uint64_t chosen, uint64_t joining);
int may_any_join(Judge *judge, uint64_t chosen, uint64_t others);
uint64_t list_equal(const Judge *judge, uint64_t set);
int part_by_cut(Judge *judge, uint64_t chosen);
int fit_corners(const Judge *judge, uint64_t chosen);
int find_layout(Judge *judge, uint64_t chosen);
int is_denied(Judge *judge, uint64_t chosen);

PUBLIC int64_t fit_box(const int64_t *pieces, int64_t count, int64_t width, int64_t height, int64_t spare, int64_t *nodes,
                Question is_over, int64_t *laid);
PUBLIC int64_t pack_sheet(int64_t *sizes, int64_t kinds, int64_t width, int64_t height, int64_t spare, int64_t pieces,
                   int64_t nodes, Question is_over, int64_t *spots);

static inline int lowest_bit(uint64_t set) { return __builtin_ctzll(set); }

static inline int count_bits(uint64_t set) { return __builtin_popcountll(set); }

/* The sum of numbers of the pieces of a set. */
static inline int64_t sum_over(const int64_t *numbers, uint64_t set)
{
    int64_t sum = 0;
    for (; set; set &= set - 1)
        sum += numbers[lowest_bit(set)];
    return sum;
}

#endif
