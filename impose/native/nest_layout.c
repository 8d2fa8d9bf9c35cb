/* How a set lies on its sheet: every arrangement of a few pieces, else by rule. Twin: SharingJudge.find_layout. */
#include "nest_exact.h"

#define TRIED_MOST 8   /* pieces whose every arrangement is tried */
#define LAYING 50      /* nodes that laying a set counts for */
#define LAID_NODES 200 /* of `pack_sheet` for a set that filling does not lay */
#define ORDERS 4
#define RULES 4
#define MOST_WORK INT64_C(400000000) /* row_lengths.MOST_WORK */

static int64_t find_divisor(int64_t a, int64_t b)
{
    while (b) {
        int64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

static int64_t side_of(Paper way, int down) { return down ? way.height : way.width; }

/* The greatest sum within `room` of one side of the pieces from `at` on, each one of its ways or none. */
static int64_t find_sum(const SharingPiece *const *pieces, int count, int at, int down, int64_t room)
{
    if (at == count || room == 0)
        return 0;
    int64_t most = find_sum(pieces, count, at + 1, down, room);
    for (int64_t way = 0; way < pieces[at]->ways && most < room; way++) {
        int64_t side = side_of(pieces[at]->lie[way], down);
        if (side > room || (way == 1 && side == side_of(pieces[at]->lie[0], down)))
            continue;
        int64_t sum = side + find_sum(pieces, count, at + 1, down, room - side);
        most = sum > most ? sum : most;
    }
    return most;
}

/* `row_lengths.find_reachable_length` for a few pieces. */
static int64_t find_reach(const SharingPiece *const *pieces, int count, int down, int64_t room)
{
    int64_t unit = 0;
    for (int i = 0; i < count; i++)
        for (int64_t way = 0; way < pieces[i]->ways; way++)
            unit = find_divisor(side_of(pieces[i]->lie[way], down), unit);
    int64_t top = room / (unit ? unit : 1);
    if (top > MOST_WORK / count)
        return room;
    return find_sum(pieces, count, 0, down, top * (unit ? unit : 1));
}

static int64_t area_of(const SharingPiece *piece) { return piece->lie[0].width * piece->lie[0].height; }

static int compare_ways(Paper a, Paper b)
{
    if (a.width != b.width)
        return a.width < b.width ? -1 : 1;
    return a.height < b.height ? -1 : a.height > b.height;
}

/* Both ways of a piece in order, as a transposed box sees them; the second like the first where there is none. */
static void sort_ways(const SharingPiece *piece, int across, Paper *ways)
{
    for (int64_t way = 0; way < 2; way++) {
        Paper lie = piece->lie[way < piece->ways ? way : 0];
        ways[way] = across ? (Paper){lie.height, lie.width} : lie;
    }
    if (compare_ways(ways[0], ways[1]) > 0) {
        Paper first = ways[0];
        ways[0] = ways[1];
        ways[1] = first;
    }
}

/* Larger first, then by ways, fewer first where they begin alike. */
static int comes_before(const SharingPiece *a, const SharingPiece *b, int across)
{
    Paper of_a[2], of_b[2];
    if (area_of(a) != area_of(b))
        return area_of(a) > area_of(b);
    sort_ways(a, across, of_a);
    sort_ways(b, across, of_b);
    int order = compare_ways(of_a[0], of_b[0]);
    if (order != 0 || (a->ways == 1 && b->ways == 1))
        return order < 0;
    if (a->ways != b->ways)
        return a->ways < b->ways;
    return compare_ways(of_a[1], of_b[1]) < 0;
}

static int are_alike(const SharingPiece *a, const SharingPiece *b)
{
    Paper of_a[2], of_b[2];
    sort_ways(a, 0, of_a);
    sort_ways(b, 0, of_b);
    return compare_ways(of_a[0], of_b[0]) == 0 && compare_ways(of_a[1], of_b[1]) == 0;
}

static int keep_spots(Judge *judge, uint64_t chosen, const Spot *spots, size_t count)
{
    int64_t *row = find_value(&judge->layouts, chosen, (int64_t)judge->spots_used);
    if (row == NULL || !grow_rows((void **)&judge->spots, &judge->spots_held, judge->spots_used + count, sizeof *spots)) {
        judge->nodes->spent = judge->nodes->exhausted = 1;
        return 0;
    }
    memcpy(judge->spots + judge->spots_used, spots, count * sizeof *spots);
    judge->spots_used += count;
    return 1;
}

/* The pieces as `fit_box` takes them, the box transposed where it is wider `across` than it is high. */
static void list_rows(const SharingPiece *const *pieces, int count, int across, int64_t *rows)
{
    for (int i = 0; i < count; i++) {
        const SharingPiece *p = pieces[i];
        int64_t *row = rows + 7 * i;
        int both = p->ways > 1 && compare_ways(p->lie[0], p->lie[1]) != 0;
        for (int way = 0; way < 2; way++) {
            row[3 * way] = way && !both ? 0 : side_of(p->lie[way], across);
            row[3 * way + 1] = way && !both ? 0 : side_of(p->lie[way], !across);
            row[3 * way + 2] = 0;
        }
        row[6] = i > 0 && are_alike(p, pieces[i - 1]);
    }
}

/* A layout if there is one: 1, or 0 and whether that is `sure`, since it may be too much to try. */
static int try_every_way(Judge *judge, uint64_t chosen, int *sure)
{
    const SharingPiece *pieces[TRIED_MOST];
    int64_t rows[7 * TRIED_MOST], laid[4 * TRIED_MOST], places = judge->places, area = 0, found = 0;
    int count = 0, across = judge->paper.height > judge->paper.width;
    for (uint64_t rest = chosen; rest; rest &= rest - 1) {
        const SharingPiece *piece = &judge->pieces[lowest_bit(rest)];
        int at = count++;
        for (; at > 0 && comes_before(piece, pieces[at - 1], across); at--)
            pieces[at] = pieces[at - 1];
        pieces[at] = piece;
        area += area_of(piece);
    }
    int64_t width = find_reach(pieces, count, across, across ? judge->paper.height : judge->paper.width);
    int64_t height = find_reach(pieces, count, !across, across ? judge->paper.width : judge->paper.height);
    if (width * height >= area) {
        list_rows(pieces, count, across, rows);
        found = fit_box(rows, count, width, height, width * height - area, &places, judge->nodes->is_over, laid);
    }
    if (found < 0)
        judge->nodes->spent = judge->nodes->exhausted = 1;
    *sure = found > 0 || places >= 0;
    if (found < 0 || !take_nodes(judge->nodes, judge->places - (places > 0 ? places : 0)) || !found)
        return 0;
    Spot spots[TRIED_MOST];
    for (int i = 0; i < count; i++) {
        const int64_t *at = laid + 4 * i;
        int64_t kind = pieces[i]->kind;
        spots[i] = across ? (Spot){kind, at[1], at[0], at[3], at[2]} : (Spot){kind, at[0], at[1], at[2], at[3]};
    }
    return keep_spots(judge, chosen, spots, (size_t)count);
}

/* The kinds of the set in one of `list_orders`. */
static void sort_kinds(const Judge *judge, uint64_t chosen, const int64_t *ranks, int64_t *order)
{
    int count = 0;
    for (; chosen; chosen &= chosen - 1) {
        int64_t kind = judge->pieces[lowest_bit(chosen)].kind;
        int at = count++;
        for (; at > 0 && ranks[order[at - 1]] > ranks[kind]; at--)
            order[at] = order[at - 1];
        order[at] = kind;
    }
}

/* A layout by a short search that fills gaps. */
static int pack_set(const Judge *judge, uint64_t chosen, Spot *spots)
{
    int64_t sizes[4 * PIECES_MOST], named[PIECES_MOST], kinds = 0, pieces = 0;
    int64_t spare = judge->paper.width * judge->paper.height;
    for (; chosen; chosen &= chosen - 1, pieces++) {
        int64_t kind = judge->pieces[lowest_bit(chosen)].kind;
        const Kind *size = &judge->kinds[kind];
        spare -= size->width * size->height;
        if (kinds == 0 || named[kinds - 1] != kind) {
            int64_t row[] = {size->width, size->height, size->turn, 0};
            memcpy(sizes + 4 * kinds, row, sizeof row);
            named[kinds++] = kind;
        }
        sizes[4 * kinds - 1]++;
    }
    if (spare < 0 || !pack_sheet(sizes, kinds, judge->paper.width, judge->paper.height, spare, pieces, LAID_NODES,
                                 judge->nodes->is_over, (int64_t *)spots))
        return 0;
    for (int64_t i = 0; i < pieces; i++)
        spots[i].kind = named[spots[i].kind];
    return 1;
}

/* A layout by filling in several orders by every rule, else by a short search. */
static int lay_by_rule(Judge *judge, uint64_t chosen)
{
    int64_t order[PIECES_MOST], left[PIECES_MOST], over, pieces = count_bits(chosen);
    Spot spots[PIECES_MOST];
    for (int way = 0; way < ORDERS; way++) {
        sort_kinds(judge, chosen, judge->ranks + way * judge->sizes, order);
        for (int rule = 0; rule < RULES; rule++) {
            Offer offer = {judge->kinds, NULL, order, pieces, rule, 0, NO_LIMIT, 0};
            int64_t placed = fill_paper(&judge->space, judge->paper, &offer, spots, left, &over);
            if (placed == NO_MEMORY)
                judge->nodes->spent = judge->nodes->exhausted = 1;
            if (placed == pieces)
                return keep_spots(judge, chosen, spots, (size_t)pieces);
        }
    }
    return pack_set(judge, chosen, spots) && keep_spots(judge, chosen, spots, (size_t)pieces);
}

/* Whether a layout of the pieces is found. If not, they are taken not to share a sheet. */
int find_layout(Judge *judge, uint64_t chosen)
{
    const int64_t *known = look_up(&judge->known, chosen);
    int laid = 0, sure = 0;
    if (look_up(&judge->layouts, chosen) != NULL)
        return 1;
    if (known != NULL && !*known)
        return 0;
    if (count_bits(chosen) <= TRIED_MOST)
        laid = try_every_way(judge, chosen, &sure);
    if (!judge->nodes->spent && !sure && take_nodes(judge->nodes, LAYING))
        laid = lay_by_rule(judge, chosen);
    if (judge->nodes->spent || laid)
        return laid && !judge->nodes->spent;
    keep_known(judge, chosen, 0);
    judge->open |= !sure;
    return 0;
}

/* Whether no arrangement of the pieces is there, as far as trying tells: asked before a set is built upon. */
int is_denied(Judge *judge, uint64_t chosen)
{
    int sure = 0;
    const int64_t *known = look_up(&judge->known, chosen);
    if (known != NULL && !*known)
        return 1;
    if (look_up(&judge->layouts, chosen) != NULL || look_up(&judge->tried, chosen) != NULL ||
        count_bits(chosen) > TRIED_MOST)
        return 0;
    if (find_value(&judge->tried, chosen, 1) == NULL)
        judge->nodes->spent = judge->nodes->exhausted = 1;
    if (try_every_way(judge, chosen, &sure) || !sure || judge->nodes->spent)
        return 0;
    keep_known(judge, chosen, 0);
    return 1;
}
