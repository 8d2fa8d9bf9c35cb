/* The weakest sheet emptied into the others. Twin: SheetEmptying.absorb_pool in impose/nest/search.py: the same draws in
 * the same order, the same comparisons, the same ties. */
#include <float.h>

#include "nest_fill.h"
#include "nest_random.h"
#include "nest_sort.h"

#if FLT_EVAL_METHOD != 0
#error "doubles are not rounded after each operation here: the plain loops would give other answers"
#endif

/* What drawing and sorting takes for a move and for each of its pieces, in free rectangles looked at. */
#define MOVE_WORK 32
#define PIECE_WORK 16
#define TOGETHER 3 /* sheets emptied at once, at most */

/* As Python lays it out; `work` is how much more is done before the caller is asked. */
typedef struct {
    int64_t most, patience, done, gain, work;
} Budget;

typedef struct {
    const Kind *ways; /* all kinds free to turn, then all lying, then all standing */
    const double *area;
    const int64_t *burden;
    int64_t kinds, rows, sheets, straight;
    Paper paper;
    Spot *spots; /* `rows` for each sheet */
    int64_t *counts, *pool, pooled, least;
    uint32_t *state;
    Budget *budget;
    int64_t *gathered, *order, *left, chosen[TOGETHER], made[TOGETHER];
    double *keys, *noise;
    Spot *fresh; /* `rows` for each of TOGETHER */
    Kind *turn;
    FillSpace space;
} Emptying;

PUBLIC int64_t absorb_pool(const int64_t *ways, const double *area, const int64_t *burden, int64_t kinds, int64_t width,
                           int64_t height, int64_t straight, int64_t *spots, int64_t rows, int64_t *counts, int64_t sheets, int64_t *pool,
                           int64_t pooled, uint32_t *state, int64_t *budget);

static int is_spent(const Budget *budget)
{
    if (budget->most != NO_LIMIT && budget->done >= budget->most)
        return 1;
    return budget->patience != NO_LIMIT && budget->done - budget->gain >= budget->patience;
}

/* Different sheets at random. */
static int64_t choose_sheets(Emptying *e)
{
    int64_t wanted = 1 + draw_below(e->state, 2.5), some = 0;
    if (wanted > e->sheets)
        wanted = e->sheets;
    while (some < wanted) {
        int64_t number = draw_below(e->state, (double)e->sheets);
        int known = 0;
        for (int64_t i = 0; i < some; i++)
            known = known || e->chosen[i] == number;
        if (!known)
            e->chosen[some++] = number;
    }
    return wanted;
}

/* What lies on the chosen sheets, then the pool. */
static int64_t gather_pieces(Emptying *e, int64_t wanted)
{
    int64_t pieces = 0;
    for (int64_t i = 0; i < wanted; i++) {
        const Spot *sheet = e->spots + e->chosen[i] * e->rows;
        for (int64_t j = 0; j < e->counts[e->chosen[i]]; j++)
            e->gathered[pieces++] = sheet[j].kind;
    }
    for (int64_t i = 0; i < e->pooled; i++)
        e->gathered[pieces++] = e->pool[i];
    return pieces;
}

/* Largest first, more or less; half the time the pieces of one size together, else each on its own. */
static void blur_order(Emptying *e, int64_t pieces)
{
    static const double BLURS[] = {0.1, 0.3, 0.6};
    double blur = BLURS[draw_below(e->state, 3)];
    memcpy(e->order, e->gathered, (size_t)pieces * sizeof *e->order);
    if (draw_random(e->state) < 0.5) {
        for (int64_t i = 0; i < pieces; i++)
            e->keys[i] = -e->area[e->order[i]] * (1 + blur * (draw_random(e->state) - 0.5));
    } else {
        for (int64_t i = 0; i < pieces; i++)
            e->noise[e->order[i]] = -e->area[e->order[i]] * (1 + blur * (draw_random(e->state) - 0.5));
        for (int64_t i = 0; i < pieces; i++)
            e->keys[i] = e->noise[e->order[i]];
    }
    sort_by_keys(e->keys, e->order, pieces);
}

/* All free to turn as the rule likes, or now and then each kind free, lying or standing at random. */
static void turn_kinds(Emptying *e, int64_t pieces)
{
    int free_to_turn = draw_random(e->state) < 0.6;
    for (int64_t i = 0; i < pieces; i++) {
        int64_t k = e->gathered[i], way = free_to_turn ? 0 : draw_below(e->state, 3);
        e->turn[k] = e->ways[way * e->kinds + k];
    }
}

/* The chosen sheets filled anew as far as steps last; what is left is in `order`. Sheets filled, or NO_MEMORY. */
static int64_t refill_sheets(Emptying *e, int64_t wanted, int64_t *pieces, int64_t rule)
{
    int64_t filled = 0;
    while (filled < wanted && !is_spent(e->budget)) {
        e->budget->done++;
        Offer offer = {e->turn, e->burden, e->order, *pieces, rule, filled == wanted - 1 ? e->least : NO_LIMIT, NO_LIMIT, e->straight};
        int64_t placed = fill_paper(&e->space, e->paper, &offer, e->fresh + filled * e->rows, e->left, pieces);
        if (placed < 0)
            return NO_MEMORY;
        int64_t *emptied = e->order;
        e->order = e->left;
        e->left = emptied;
        e->made[filled++] = placed;
    }
    return filled;
}

static int64_t sum_burdens(const Emptying *e, const int64_t *pieces, int64_t count)
{
    int64_t sum = 0;
    for (int64_t i = 0; i < count; i++)
        sum += e->burden[pieces[i]];
    return sum;
}

static void keep_refilled(Emptying *e, int64_t wanted, int64_t pieces, int64_t over)
{
    if (over < e->least)
        e->budget->gain = e->budget->done;
    e->least = over;
    e->pooled = pieces;
    memcpy(e->pool, e->order, (size_t)pieces * sizeof *e->pool);
    for (int64_t i = 0; i < wanted; i++) {
        e->counts[e->chosen[i]] = e->made[i];
        memcpy(e->spots + e->chosen[i] * e->rows, e->fresh + i * e->rows, (size_t)e->made[i] * sizeof(Spot));
    }
}

/* Moves until all is absorbed, the budget is spent or `work` is done; 0 without memory. */
static int empty_pool(Emptying *e)
{
    e->least = sum_burdens(e, e->pool, e->pooled);
    while (e->pooled > 0 && e->sheets > 0 && e->space.work < e->budget->work && !is_spent(e->budget)) {
        int64_t wanted = choose_sheets(e), pieces = gather_pieces(e, wanted), rule = draw_below(e->state, 4);
        blur_order(e, pieces);
        turn_kinds(e, pieces);
        e->space.work += MOVE_WORK + PIECE_WORK * pieces;
        int64_t filled = refill_sheets(e, wanted, &pieces, rule);
        if (filled < 0)
            return 0;
        int64_t over = sum_burdens(e, e->order, pieces);
        if (filled == wanted && over <= e->least)
            keep_refilled(e, wanted, pieces, over);
    }
    return 1;
}

static int open_emptying(Emptying *e, size_t size, size_t kinds, size_t rows)
{
    size += 1;
    e->gathered = malloc(size * sizeof(int64_t));
    e->order = malloc(size * sizeof(int64_t));
    e->left = malloc(size * sizeof(int64_t));
    e->keys = malloc(size * sizeof(double));
    e->noise = malloc((kinds + 1) * sizeof(double));
    e->turn = malloc((kinds + 1) * sizeof(Kind));
    e->fresh = malloc((rows + 1) * TOGETHER * sizeof(Spot));
    return open_space(&e->space, (int64_t)kinds) && e->gathered && e->order && e->left && e->keys && e->noise && e->turn &&
           e->fresh;
}

static void close_emptying(Emptying *e)
{
    void *lists[] = {e->gathered, e->order, e->left, e->keys, e->noise, e->turn, e->fresh};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        free(lists[i]);
    close_space(&e->space);
}

/* `spots`, `counts`, `pool`, `state` and `budget` change in place; returns what is left in the pool, or NO_MEMORY. */
int64_t absorb_pool(const int64_t *ways, const double *area, const int64_t *burden, int64_t kinds, int64_t width,
                    int64_t height, int64_t straight, int64_t *spots, int64_t rows, int64_t *counts, int64_t sheets, int64_t *pool,
                    int64_t pooled, uint32_t *state, int64_t *budget)
{
    Emptying e = {
        .ways = (const Kind *)ways, .area = area, .burden = burden, .kinds = kinds, .rows = rows, .sheets = sheets, .straight = straight,
        .paper = {width, height}, .spots = (Spot *)spots, .counts = counts, .pool = pool, .pooled = pooled,
        .state = state, .budget = (Budget *)budget,
    };
    int64_t size = pooled;
    for (int64_t i = 0; i < sheets; i++)
        size += counts[i];
    int done = open_emptying(&e, (size_t)size, (size_t)kinds, (size_t)rows) && empty_pool(&e);
    close_emptying(&e);
    return done ? e.pooled : NO_MEMORY;
}
