/* Each time the sheet that costs least for the area it holds. Twin: SheetCover in impose/nest/cover.py: the same draws in
 * the same order, the same comparisons, the same ties. */
#include <float.h>

#include "nest_cover.h"
#include "nest_random.h"
#include "nest_sort.h"

#if FLT_EVAL_METHOD != 0
#error "doubles are not rounded after each operation here: the plain loops would give other answers"
#endif

#define GIVEN_UP (-2)
#define RULES 4
#define TRIES_LOOK 16      /* tries between looks at whether it is over, as in the twin */
#define ASK_WORK 400000    /* free rectangles looked at between questions: some milliseconds */
#define BIASED 0.3         /* of the times that a few sheets are covered anew, papers seem dearer than they are */
static const double DEARER[] = {1.0, 1.0, 1.5, 3.0, 10.0};

PUBLIC int64_t cover_pieces(const int64_t *kinds, int64_t sizes, int64_t *papers, int64_t count, const double *floors,
                            const int64_t *takes, const int64_t *ranks, int64_t straight, int64_t *left, int64_t *pieces,
                            int64_t way, int64_t tries, int64_t given_up, uint32_t *state, Question is_over,
                            int64_t *spots, int64_t *counts, int64_t *stocks, int64_t *steps);

int64_t draw_whole(uint32_t *state, int64_t end)
{
    int bits = 1;
    while (end >> bits)
        bits++;
    int64_t drawn = draw_word(state) >> (32 - bits);
    while (drawn >= end)
        drawn = draw_word(state) >> (32 - bits);
    return drawn;
}

int open_cover(Cover *c, int64_t pieces)
{
    size_t size = (size_t)pieces + 1, papers = (size_t)c->count;
    c->taken = malloc(size * sizeof(int64_t));
    c->others = malloc(size * sizeof(int64_t));
    c->order = malloc(size * sizeof(int64_t));
    c->unplaced = malloc(size * sizeof(int64_t));
    c->rest = malloc(size * sizeof(int64_t));
    c->keys = malloc(size * sizeof(double));
    c->trial = malloc(size * sizeof(Spot));
    c->dearer = malloc(papers * sizeof(double));
    c->floor = malloc(papers * sizeof(double));
    c->by_floor = malloc(papers * sizeof(int64_t));
    return open_space(&c->space, c->sizes) && c->taken && c->others && c->order && c->unplaced && c->rest && c->keys &&
           c->trial && c->dearer && c->floor && c->by_floor;
}

void close_cover(Cover *c)
{
    void *lists[] = {c->taken, c->others, c->order, c->unplaced, c->rest, c->keys, c->trial, c->dearer, c->floor, c->by_floor};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        free(lists[i]);
    close_space(&c->space);
}

int ask_whether_over(Cover *c)
{
    if (!c->over && c->is_over != NULL && c->space.work >= c->asked) {
        c->asked = c->space.work + ASK_WORK;
        c->over = c->is_over() != 0;
    }
    return c->over;
}

/* How much dearer each paper seems, and the papers by what they then cost for their area. */
static void rank_papers(Cover *c, int drawn)
{
    int biased = drawn && draw_random(c->state) < BIASED;
    for (int64_t i = 0; i < c->count; i++) {
        c->dearer[i] = biased ? DEARER[draw_whole(c->state, sizeof DEARER / sizeof *DEARER)] : 1.0;
        double floor = c->floor[i] = c->floors[i] * c->dearer[i];
        int64_t j = i;
        for (; j > 0 && c->floor[c->by_floor[j - 1]] > floor; j--)
            c->by_floor[j] = c->by_floor[j - 1];
        c->by_floor[j] = i;
    }
}

/* What the paper takes of `left`, in order, and what it does not; returns how many it takes. */
static int64_t part_pieces_by_paper(Cover *c, int64_t paper, const int64_t *left, int64_t pieces)
{
    const int64_t *takes = c->takes + paper * c->sizes;
    int64_t some = 0, others = 0;
    for (int64_t i = 0; i < pieces; i++) {
        if (takes[left[i]])
            c->taken[some++] = left[i];
        else
            c->others[others++] = left[i];
    }
    return some;
}

/* One or two pieces at random come behind the first, and a rule at random. */
static int64_t promote_pieces(Cover *c, int64_t some)
{
    memcpy(c->order, c->taken, (size_t)some * sizeof *c->order);
    int64_t promoted = 2 + draw_below(c->state, 2);
    for (int64_t place = 1; place < promoted && place < some; place++) {
        int64_t at = place + draw_below(c->state, (double)(some - place)), k = c->order[at];
        memmove(c->order + place + 1, c->order + place, (size_t)(at - place) * sizeof *c->order);
        c->order[place] = k;
    }
    return draw_whole(c->state, RULES);
}

static int64_t blur_order(Cover *c, int64_t some)
{
    memcpy(c->order, c->taken, (size_t)some * sizeof *c->order);
    for (int64_t i = 0; i < some; i++) {
        const Kind *kind = &c->kinds[c->order[i]];
        c->keys[i] = -(double)(kind->width * kind->height) * (1 + 0.5 * draw_random(c->state));
    }
    sort_by_keys(c->keys, c->order, some);
    return draw_whole(c->state, RULES);
}

/* The order of a try, and its rule. */
static int64_t order_try(Cover *c, int64_t way, int64_t number, int64_t some)
{
    if (way == BY_PROMOTION)
        return promote_pieces(c, some);
    if (way == BY_BLUR)
        return blur_order(c, some);
    if (number % 2 == 0) {
        const int64_t *ranks = c->ranks + number / 2 * c->sizes;
        memcpy(c->order, c->taken, (size_t)some * sizeof *c->order);
        for (int64_t i = 0; i < some; i++)
            c->keys[i] = (double)ranks[c->order[i]];
        sort_by_keys(c->keys, c->order, some);
    }
    return number % 2;
}

static double sum_area(const Spot *spots, int64_t count)
{
    int64_t held = 0;
    for (int64_t i = 0; i < count; i++)
        held += spots[i].width * spots[i].height;
    return (double)held;
}

typedef struct {
    double price;
    int64_t paper, placed, left;
} BestSheet;

/* Every try of one paper; the best of all papers stays behind the spots that were made. 0 without memory. */
static int try_paper(Cover *c, int64_t paper, const int64_t *left, int64_t pieces, int64_t way, int64_t tries, Spot *spots, BestSheet *best)
{
    CoverPaper *offered = &c->papers[paper];
    int64_t some = offered->limit == 0 ? 0 : part_pieces_by_paper(c, paper, left, pieces), others = pieces - some;
    int64_t all = way == BY_PROMOTION ? tries : way == BY_BLUR ? 1 : way == BY_SIZE ? 2 : 2 * ORDERS;
    if (way == BY_PROMOTION)
        sort_ascending(c->taken, some);
    for (int64_t number = 0; some > 0 && number < all; number++) {
        if (number && (tries == 1 || number % TRIES_LOOK == 0) && ask_whether_over(c))
            break;
        int64_t unplaced = 0, rule = order_try(c, way, number, some);
        Offer offer = {c->kinds, NULL, c->order, some, rule, NO_LIMIT, NO_LIMIT, c->straight};
        int64_t placed = fill_paper(&c->space, (Paper){offered->width, offered->height}, &offer, c->trial, c->unplaced, &unplaced);
        c->space.work += 4 * some;
        if (placed < 0)
            return 0;
        if (!placed)
            continue;
        double price = (double)offered->price / sum_area(c->trial, placed) * c->dearer[paper];
        if (best->paper >= 0 && (price > best->price || (price == best->price && paper >= best->paper)))
            continue;
        *best = (BestSheet){price, paper, placed, unplaced + others};
        memcpy(spots, c->trial, (size_t)placed * sizeof *spots);
        memcpy(c->rest, c->unplaced, (size_t)unplaced * sizeof *c->rest);
        memcpy(c->rest + unplaced, c->others, (size_t)others * sizeof *c->rest);
    }
    return 1;
}

int cover_greedily(Cover *c, int64_t *left, int64_t *pieces, int64_t way, int64_t tries, int given_up, CoverSheets *made)
{
    rank_papers(c, way == BY_BLUR);
    while (*pieces > 0 && !(given_up && ask_whether_over(c))) {
        BestSheet best = {0, -1, 0, 0};
        for (int64_t i = 0; i < c->count; i++) {
            int64_t paper = c->by_floor[i];
            if (best.paper >= 0 && c->floor[paper] > best.price)
                break;
            if (tries > 2 && ask_whether_over(c))
                tries = 2;
            c->steps += tries;
            if (!try_paper(c, paper, left, *pieces, way, tries, made->spots + made->used, &best))
                return 0;
        }
        if (best.paper < 0)
            break;
        made->stocks[made->sheets] = best.paper;
        made->counts[made->sheets++] = best.placed;
        made->used += best.placed;
        if (c->papers[best.paper].limit != NO_LIMIT)
            c->papers[best.paper].limit--;
        *pieces = best.left;
        memcpy(left, c->rest, (size_t)best.left * sizeof *left);
    }
    return 1;
}

/* The sheets, NO_MEMORY or GIVEN_UP. `left`, its number `pieces`, the papers' limits and `steps` change in place. */
int64_t cover_pieces(const int64_t *kinds, int64_t sizes, int64_t *papers, int64_t count, const double *floors,
                     const int64_t *takes, const int64_t *ranks, int64_t straight, int64_t *left, int64_t *pieces,
                     int64_t way, int64_t tries, int64_t given_up, uint32_t *state, Question is_over, int64_t *spots,
                     int64_t *counts, int64_t *stocks, int64_t *steps)
{
    Cover c = {
        .kinds = (const Kind *)kinds, .sizes = sizes, .papers = (CoverPaper *)papers, .count = count, .floors = floors,
        .takes = takes, .ranks = ranks, .straight = straight, .state = state, .is_over = is_over,
    };
    CoverSheets made = {(Spot *)spots, counts, stocks, 0, 0};
    int done = open_cover(&c, *pieces) && cover_greedily(&c, left, pieces, way, tries, given_up != 0, &made);
    *steps += c.steps;
    close_cover(&c);
    if (!done)
        return NO_MEMORY;
    return given_up && c.over && *pieces > 0 ? GIVEN_UP : made.sheets;
}
