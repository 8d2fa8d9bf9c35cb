/* Sheet after sheet, each the best filled of several tries. Twin: chunks.nest_chunk in impose/nest: the same draws in
 * the same order, the same ties. */
#include "nest_fill.h"
#include "nest_random.h"
#include "nest_sort.h"

/* As Python lays it out. `held`, `placed` and `remaining` are of the best try of the sheet at hand, `tried` its tries. */
typedef struct {
    int64_t left, sheets, spots, tried, held, placed, remaining, work;
} Progress;

typedef struct {
    const Kind *kinds;
    const int64_t *worth;
    Paper paper;
    int64_t *left, *rest, *counts, tries, straight;
    uint32_t *state;
    Spot *spots;
    Progress *at;
    int64_t *order, *over, *offered, start, some, least;
    Spot *trial;
    FillSpace space;
} Nesting;

PUBLIC int64_t nest_chunk(const int64_t *kinds, const int64_t *worth, int64_t sizes, int64_t width, int64_t height,
                          int64_t straight, int64_t *left, int64_t pieces, int64_t tries, uint32_t *state, int64_t *spots, int64_t *counts,
                          int64_t *rest, int64_t *progress);

static int64_t area_of(const Kind *kind) { return kind->width * kind->height; }

/* The largest, and all that is not larger than the rest of the paper: more cannot lie beside it. */
static void offer_pieces(Nesting *n)
{
    int64_t count = n->at->left;
    sort_ascending(n->left, count);
    int64_t room = n->paper.width * n->paper.height - area_of(&n->kinds[n->left[0]]);
    n->start = 1;
    while (n->start < count && area_of(&n->kinds[n->left[n->start]]) > room)
        n->start++;
    n->some = count - n->start + 1;
    n->offered[0] = n->left[0];
    memcpy(n->offered + 1, n->left + n->start, (size_t)(n->some - 1) * sizeof *n->offered);
    n->least = find_narrowest(n->kinds, n->offered, 0, n->some);
}

/* What is `at` moves to `place`, those between go back by one. */
static void promote_piece(int64_t *order, int64_t place, int64_t at)
{
    int64_t k = order[at];
    memmove(order + place + 1, order + place, (size_t)(at - place) * sizeof *order);
    order[place] = k;
}

/* The order of a try and its rule: by size, from the third try on with one or two pieces at random behind the first. */
static int64_t draw_order(Nesting *n, int64_t number)
{
    memcpy(n->order, n->offered, (size_t)n->some * sizeof *n->order);
    if (number < 2)
        return number;
    int64_t promoted = 2 + draw_below(n->state, 2);
    for (int64_t place = 1; place < promoted && place < n->some; place++)
        promote_piece(n->order, place, place + draw_below(n->state, (double)(n->some - place)));
    return draw_below(n->state, 4);
}

/* One try; kept if it holds more. 0 without memory. */
static int try_order(Nesting *n, int64_t number)
{
    int64_t rule = draw_order(n, number), remaining = 0, held = 0;
    Offer offer = {n->kinds, n->worth, n->order, n->some, rule, NO_LIMIT, n->least, n->straight};
    int64_t placed = fill_paper(&n->space, n->paper, &offer, n->trial, n->over, &remaining);
    n->space.work += n->some;
    for (int64_t i = 0; i < placed; i++)
        held += n->worth[n->trial[i].kind];
    if (placed >= 0 && held > n->at->held) {
        n->at->held = held;
        n->at->placed = placed;
        n->at->remaining = remaining;
        memcpy(n->spots + n->at->spots, n->trial, (size_t)placed * sizeof(Spot));
        memcpy(n->rest, n->over, (size_t)remaining * sizeof *n->rest);
    }
    return placed >= 0;
}

static void take_best_try(Nesting *n)
{
    Progress *at = n->at;
    n->counts[at->sheets++] = at->placed;
    memmove(n->left, n->left + 1, (size_t)(n->start - 1) * sizeof *n->left);
    memcpy(n->left + n->start - 1, n->rest, (size_t)at->remaining * sizeof *n->left);
    at->left = n->start - 1 + at->remaining;
    at->spots += at->placed;
    at->tried = 0;
    at->held = -1;
}

/* Until nothing is left or `work` is done; 0 without memory. */
static int nest_pieces(Nesting *n)
{
    while (n->at->left > 0) {
        offer_pieces(n);
        while (n->at->tried < n->tries) {
            if (n->space.work >= n->at->work)
                return 1;
            if (!try_order(n, n->at->tried++))
                return 0;
        }
        take_best_try(n);
    }
    return 1;
}

/* Called again with all the same it goes on. `left` is what is to be nested, `spots` gets the spots of all sheets one
 * after another, `counts` how many each has, `rest` what the best try of the sheet at hand leaves. 0, or NO_MEMORY. */
int64_t nest_chunk(const int64_t *kinds, const int64_t *worth, int64_t sizes, int64_t width, int64_t height, int64_t straight, int64_t *left,
                   int64_t pieces, int64_t tries, uint32_t *state, int64_t *spots, int64_t *counts, int64_t *rest,
                   int64_t *progress)
{
    Nesting n = {
        .kinds = (const Kind *)kinds, .worth = worth, .paper = {width, height}, .straight = straight, .left = left, .rest = rest,
        .counts = counts, .tries = tries, .state = state, .spots = (Spot *)spots, .at = (Progress *)progress,
    };
    size_t size = (size_t)pieces + 1;
    n.order = malloc(size * sizeof *n.order);
    n.over = malloc(size * sizeof *n.over);
    n.offered = malloc(size * sizeof *n.offered);
    n.trial = malloc(size * sizeof *n.trial);
    int done = n.order && n.over && n.offered && n.trial && open_space(&n.space, sizes) && nest_pieces(&n);
    free(n.order);
    free(n.over);
    free(n.offered);
    free(n.trial);
    close_space(&n.space);
    return done ? 0 : NO_MEMORY;
}
