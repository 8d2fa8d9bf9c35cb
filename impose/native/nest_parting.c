/* Whether so many sheets can be enough for a few pieces. Twin: SheetCountSearch in impose/nest/exact_sheets.py. */
#include "nest_exact.h"

#define FINE (INT64_C(1) << 40) /* bounds.FINE */
#define PRESSING 4              /* pairs of functions that a set is held to */
#define COUNT_SHIFT 48          /* a set and a number of sheets as one key */

/* What the sheet at hand must weigh at least in one pair of functions. */
typedef struct {
    int64_t need;
    const int64_t *weights;
} Need;

typedef struct {
    Judge judge;
    SetTable failed;
    uint64_t sets[PIECES_MOST + 1], refused;
    int chosen, early; /* whether sets are laid before they are built upon */
    int64_t areas[PIECES_MOST];
} Parting;

PUBLIC int64_t part_pieces(const int64_t *pieces, int64_t count, int64_t width, int64_t height, const int64_t *weights,
                           int64_t duals, const int64_t *kinds, int64_t sizes, const int64_t *ranks, int64_t places,
                           int64_t sheets, int64_t early, Question is_over, int64_t *nodes, int64_t *spots, int64_t *counts);

static int part_left(Parting *p, uint64_t left, int count);

/* Whether all chosen sets are laid, the densest first; the first that is not is `refused`. */
static int lay_sets(Parting *p)
{
    uint64_t densest[PIECES_MOST + 1];
    for (int i = 0; i < p->chosen; i++) {
        int64_t area = sum_over(p->areas, p->sets[i]);
        int at = i;
        for (; at > 0 && sum_over(p->areas, densest[at - 1]) < area; at--)
            densest[at] = densest[at - 1];
        densest[at] = p->sets[i];
    }
    p->refused = 0;
    for (int i = 0; i < p->chosen && !p->refused; i++)
        if (!find_layout(&p->judge, densest[i]))
            p->refused = densest[i];
    return !p->refused;
}

/* Every set of `chosen` and some of `joining` that none of `left` could join too; the rest parted after it. */
static int part_with_set(Parting *p, uint64_t chosen, uint64_t joining, uint64_t left, int count, const Need *needs)
{
    Judge *judge = &p->judge;
    if (p->refused || judge->nodes->spent || !take_nodes(judge->nodes, 1))
        return 0;
    for (const Need *need = needs; need->weights != NULL; need++)
        if (sum_over(need->weights, chosen | joining) < need->need) /* the other sheets could not hold what is left over */
            return 0;
    if (!joining) {
        if (may_any_join(judge, chosen, left & ~chosen) || judge->nodes->spent)
            return 0;
        if (p->early && is_denied(judge, chosen))
            return 0;
        p->sets[p->chosen++] = chosen;
        if (part_left(p, left & ~chosen, count - 1))
            return 1;
        p->chosen--;
        if (chosen == p->refused)
            p->refused = 0;
        return 0;
    }
    uint64_t more = chosen | (joining & -joining);
    if (part_with_set(p, more, list_joining(judge, more, joining & (joining - 1)), left, count, needs))
        return 1;
    return part_with_set(p, chosen, joining & ~list_equal(judge, joining), left, count, needs); /* equal pieces in order */
}

/* The PRESSING greatest needs of the sheet that takes the largest piece left; 0 if the sheets cannot hold all. */
static int list_needs(const Parting *p, uint64_t left, int count, Need *needs)
{
    const Judge *judge = &p->judge;
    int some = 0;
    for (int64_t row = 0; row < judge->duals; row++) {
        const int64_t *weights = judge->weights + row * judge->count;
        Need need = {sum_over(weights, left) - (count - 1) * FINE, weights};
        if (need.need > FINE)
            return 0;
        int at = some < PRESSING ? some++ : PRESSING;
        for (; at > 0 && needs[at - 1].need < need.need; at--)
            if (at < PRESSING)
                needs[at] = needs[at - 1];
        if (at < PRESSING)
            needs[at] = need;
    }
    needs[some] = (Need){0, NULL};
    return 1;
}

/* Whether the pieces left can be parted into so many sets that are laid. */
static int part_left(Parting *p, uint64_t left, int count)
{
    Need needs[PRESSING + 1];
    uint64_t key = left | (uint64_t)count << COUNT_SHIFT, first = left & -left;
    if (!left)
        return lay_sets(p);
    if (!count || look_up(&p->failed, key) != NULL || !take_nodes(p->judge.nodes, 1))
        return 0;
    if (list_needs(p, left, count, needs) &&
        part_with_set(p, first, list_joining(&p->judge, first, left ^ first), left, count, needs))
        return 1;
    /* Else it was given up because of a set before it. */
    if (!p->refused && !p->judge.nodes->spent && find_value(&p->failed, key, 1) == NULL)
        p->judge.nodes->spent = p->judge.nodes->exhausted = 1;
    return 0;
}

/* `pieces` (kind, ways, two ways as width and height) on so many sheets of a paper or fewer; `weights` has `duals` rows of
 * them, `kinds` all sizes, `ranks` four orders of them;
 * `early` lays sets before it builds upon them. `nodes` counts down. `spots` gets those of all sheets one after
 * another, `counts` how many each has. The sheets; 0 if that is impossible; -2 if none was found; NO_MEMORY. */
int64_t part_pieces(const int64_t *pieces, int64_t count, int64_t width, int64_t height, const int64_t *weights,
                    int64_t duals, const int64_t *kinds, int64_t sizes, const int64_t *ranks, int64_t places,
                    int64_t sheets, int64_t early, Question is_over, int64_t *nodes, int64_t *spots, int64_t *counts)
{
    Nodes budget = {*nodes, 0, is_over, 0, 0};
    Parting p = {.judge = {.pieces = (const SharingPiece *)pieces, .count = count, .places = places,
                           .paper = {width, height}, .weights = weights, .duals = duals, .kinds = (const Kind *)kinds,
                           .sizes = sizes, .ranks = ranks, .nodes = &budget}, .early = (int)early};
    int found = 0;
    for (int64_t i = 0; i < count; i++)
        p.areas[i] = p.judge.kinds[p.judge.pieces[i].kind].width * p.judge.kinds[p.judge.pieces[i].kind].height;
    if (open_judge(&p.judge))
        found = part_left(&p, (UINT64_C(1) << count) - 1, (int)sheets) && !budget.spent;
    for (int i = 0; found && i < p.chosen; i++) {
        counts[i] = count_bits(p.sets[i]);
        memcpy(spots, p.judge.spots + *look_up(&p.judge.layouts, p.sets[i]), (size_t)counts[i] * sizeof(Spot));
        spots += 5 * counts[i];
    }
    int open = budget.spent || p.judge.open;
    *nodes = budget.left;
    close_judge(&p.judge);
    free_table(&p.failed);
    return budget.exhausted ? NO_MEMORY : found ? p.chosen : open ? -2 : 0;
}
