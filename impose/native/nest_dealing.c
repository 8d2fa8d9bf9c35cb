/* Few pieces on several papers: the least cost, every deal tried. Twin: MixSearch in impose/nest/exact_mix.py. */
#include "nest_exact.h"

#define DEALT_MOST 24  /* pieces, as mix.DEALT_MOST: so many bits of a key */
#define COUNT_BITS 5   /* of a key for the sheets taken of a counted paper */
#define COUNTED_MOST 8 /* counted papers that a key has room for */
#define PAPERS_MOST 64
#define UNLIMITED (-1)

typedef __int128 Wide;

/* A paper as Python gives it: addresses of its pieces and weights, and how many rows of these; `limit` sheets of it. */
typedef struct {
    int64_t pieces, width, height, weights, duals, cost, limit;
} Offered;

/* What a piece is worth, in two halves of 62 bits. */
typedef struct {
    int64_t low, high;
} Worth;

typedef struct {
    uint64_t set;
    int64_t paper;
} Dealt;

typedef struct {
    Judge judges[PAPERS_MOST];
    int64_t costs[PAPERS_MOST], limits[PAPERS_MOST], papers, cheapest[PAPERS_MOST];
    int shifts[PAPERS_MOST]; /* of the count of a counted paper in a key */
    Wide worth[DEALT_MOST], fine;
    int64_t areas[DEALT_MOST], best, summed;
    const int64_t *sums; /* that prices can make, ascending; `summed` of them, none where there are too many */
    SetTable seen;
    Dealt sets[DEALT_MOST], kept[DEALT_MOST];
    int dealt, found, early;
    uint64_t taken; /* counts of counted papers, where they stand in a key */
    Nodes nodes;
} Dealing;

PUBLIC int64_t deal_pieces(const int64_t *offered, int64_t papers, int64_t count, const int64_t *kinds, int64_t sizes,
                           const int64_t *ranks, int64_t places, const int64_t *worth, const int64_t *sums, int64_t summed,
                           int64_t early, Question is_over, int64_t *numbers, int64_t *spots, int64_t *counts,
                           int64_t *stocks);

static Wide sum_worth(const Dealing *d, uint64_t set)
{
    Wide sum = 0;
    for (; set; set &= set - 1)
        sum += d->worth[lowest_bit(set)];
    return sum;
}

/* The least that sheets for pieces of that worth can cost. */
static int64_t bound_rest(const Dealing *d, Wide worth)
{
    Wide cost = worth <= 0 ? 0 : (worth + d->fine - 1) / d->fine;
    int64_t from = 0, to = d->summed;
    if (d->summed < 0)
        return cost > d->best ? d->best : (int64_t)cost;
    while (from < to) {
        int64_t middle = (from + to) / 2;
        if (d->sums[middle] < cost)
            from = middle + 1;
        else
            to = middle;
    }
    return from < d->summed ? d->sums[from] : d->best;
}

/* Whether the sheets that are left have the area of these pieces. */
static int has_room(const Dealing *d, uint64_t set)
{
    Wide room = 0;
    for (int64_t s = 0; s < d->papers; s++) {
        if (d->limits[s] == UNLIMITED)
            return 1;
        room += (Wide)d->limits[s] * d->judges[s].paper.width * d->judges[s].paper.height;
    }
    return sum_over(d->areas, set) <= room;
}

/* All sets laid: a cheaper deal. Else what was given up here may do with other sets before it. */
static void lay_deal(Dealing *d, int64_t spent)
{
    int laid = 1;
    for (int i = 0; i < d->dealt && laid; i++)
        laid = find_layout(&d->judges[d->sets[i].paper], d->sets[i].set);
    if (!laid) {
        free_table(&d->seen);
        return;
    }
    d->best = spent;
    d->found = d->dealt;
    memcpy(d->kept, d->sets, sizeof d->kept);
}

static void deal_rest(Dealing *d, uint64_t left, int64_t spent);

/* Every set of `chosen` and some of `joining` that none of `left` could join too; the rest dealt after it. */
static void deal_set(Dealing *d, int64_t paper, uint64_t chosen, uint64_t joining, uint64_t left, Wide worth, int64_t spent)
{
    Judge *judge = &d->judges[paper];
    if (d->nodes.spent || !take_nodes(&d->nodes, 1))
        return;
    if (spent + bound_rest(d, worth - sum_worth(d, chosen | joining)) >= d->best || !has_room(d, left & ~chosen & ~joining))
        return;
    if (!joining) {
        if (may_any_join(judge, chosen, left & ~chosen) || d->nodes.spent || (d->early && is_denied(judge, chosen)))
            return;
        d->sets[d->dealt++] = (Dealt){chosen, paper};
        deal_rest(d, left & ~chosen, spent);
        d->dealt--;
        return;
    }
    uint64_t more = chosen | (joining & -joining);
    deal_set(d, paper, more, list_joining(judge, more, joining & (joining - 1)), left, worth, spent);
    deal_set(d, paper, chosen, joining & ~list_equal(judge, joining), left, worth, spent); /* equal pieces in order */
}

static void deal_rest(Dealing *d, uint64_t left, int64_t spent)
{
    if (d->nodes.spent)
        return;
    if (!left) {
        lay_deal(d, spent);
        return;
    }
    int64_t *seen = find_value(&d->seen, left | d->taken, INT64_MAX);
    if (seen == NULL)
        d->nodes.spent = d->nodes.exhausted = 1;
    if (seen == NULL || *seen <= spent)
        return;
    *seen = spent;
    if (!take_nodes(&d->nodes, 1))
        return;
    Wide worth = sum_worth(d, left);
    uint64_t first = left & -left;
    for (int64_t i = 0; i < d->papers && !d->nodes.spent; i++) {
        int64_t s = d->cheapest[i];
        if (d->limits[s] == 0 || !may_share(&d->judges[s], first))
            continue;
        int counted = d->limits[s] != UNLIMITED;
        d->limits[s] -= counted;
        d->taken += counted ? UINT64_C(1) << d->shifts[s] : 0;
        deal_set(d, s, first, list_joining(&d->judges[s], first, left ^ first), left, worth, spent + d->costs[s]);
        d->limits[s] += counted;
        d->taken -= counted ? UINT64_C(1) << d->shifts[s] : 0;
    }
}

/* The papers by cost, then by number; whether a key has room for the counts of all counted ones. */
static int sort_papers(Dealing *d)
{
    int counted = 0;
    for (int64_t s = 0; s < d->papers; s++) {
        int64_t at = s;
        for (; at > 0 && d->costs[d->cheapest[at - 1]] > d->costs[s]; at--)
            d->cheapest[at] = d->cheapest[at - 1];
        d->cheapest[at] = s;
        d->shifts[s] = DEALT_MOST + COUNT_BITS * counted;
        counted += d->limits[s] != UNLIMITED;
    }
    return counted <= COUNTED_MOST;
}

/* All pieces of the best deal; returns its sheets. */
static int64_t write_deal(const Dealing *d, int64_t *spots, int64_t *counts, int64_t *stocks)
{
    for (int i = 0; i < d->found; i++) {
        const Judge *judge = &d->judges[d->kept[i].paper];
        counts[i] = count_bits(d->kept[i].set);
        stocks[i] = d->kept[i].paper;
        memcpy(spots, judge->spots + *look_up(&judge->layouts, d->kept[i].set), (size_t)counts[i] * sizeof(Spot));
        spots += 5 * counts[i];
    }
    return d->found;
}

static int open_papers(Dealing *d, const Offered *offered, int64_t count, const Kind *kinds, int64_t sizes,
                       const int64_t *ranks, int64_t places)
{
    int opened = 1;
    for (int64_t s = 0; s < d->papers; s++) {
        const Offered *o = &offered[s];
        d->costs[s] = o->cost;
        d->limits[s] = o->limit;
        d->judges[s] = (Judge){.pieces = (const SharingPiece *)(intptr_t)o->pieces, .count = count, .places = places,
                               .paper = {o->width, o->height}, .weights = (const int64_t *)(intptr_t)o->weights,
                               .duals = o->duals, .kinds = kinds, .sizes = sizes, .ranks = ranks, .nodes = &d->nodes};
        opened = opened && open_judge(&d->judges[s]);
    }
    for (int64_t i = 0; i < count; i++) {
        const Kind *kind = &kinds[d->judges[0].pieces[i].kind];
        d->areas[i] = kind->width * kind->height;
    }
    return opened && sort_papers(d);
}

/* The cheapest deal of the pieces to sheets of the papers that costs less than the best known. `worth` has the pieces',
 * then the parts of a cost unit; `numbers` the nodes, which count down, the best cost, and gets whether it is open. `spots`
 * gets those of all sheets one after another, `counts` how many each has, `stocks` its paper. The sheets, 0 where none cost
 * less, or NO_MEMORY. */
int64_t deal_pieces(const int64_t *offered, int64_t papers, int64_t count, const int64_t *kinds, int64_t sizes,
                    const int64_t *ranks, int64_t places, const int64_t *worth, const int64_t *sums, int64_t summed,
                    int64_t early, Question is_over, int64_t *numbers, int64_t *spots, int64_t *counts, int64_t *stocks)
{
    Dealing *d = papers > PAPERS_MOST || count > DEALT_MOST || count < 1 ? NULL : calloc(1, sizeof *d);
    const Worth *halves = (const Worth *)worth;
    if (d == NULL)
        return NO_MEMORY;
    d->nodes = (Nodes){numbers[0], 0, is_over, 0, 0};
    d->best = numbers[1];
    d->papers = papers;
    d->sums = sums;
    d->summed = summed;
    d->early = (int)early;
    for (int64_t i = 0; i < count; i++)
        d->worth[i] = ((Wide)halves[i].high << 62) + halves[i].low;
    d->fine = ((Wide)halves[count].high << 62) + halves[count].low;
    int opened = open_papers(d, (const Offered *)offered, count, (const Kind *)kinds, sizes, ranks, places);
    if (opened)
        deal_rest(d, (UINT64_C(1) << count) - 1, 0);
    int64_t made = opened && !d->nodes.exhausted ? write_deal(d, spots, counts, stocks) : NO_MEMORY;
    numbers[0] = d->nodes.left;
    numbers[2] = d->nodes.spent;
    for (int64_t s = 0; s < papers; s++) {
        numbers[2] |= d->judges[s].open;
        close_judge(&d->judges[s]);
    }
    free_table(&d->seen);
    free(d);
    return made;
}
