/* The lean free-rectangle list: see impose/nest/free_rectangles.py for what it is and where it comes from. */
#include "nest_fill.h"

#define FIRST_ROOM 64
#define NARROWEST 60 /* pieces at the end of an order in which the narrowest side is looked for */

PUBLIC int64_t fill_sheet(const int64_t *kinds, int64_t sizes, int64_t width, int64_t height, const int64_t *order,
                          int64_t pieces, int64_t rule, int64_t straight, int64_t least, int64_t *spots, int64_t *left,
                          int64_t *over);
PUBLIC int64_t fill_all_sheets(const int64_t *kinds, int64_t sizes, int64_t width, int64_t height, int64_t *order,
                               int64_t pieces, int64_t rule, int64_t straight, int64_t *spots, int64_t *counts);

PUBLIC int64_t find_clean_box(int64_t width, int64_t height, const int64_t *spots, int64_t count, int64_t *box);

enum { WEST, EAST, NORTH, SOUTH };

void close_space(FillSpace *space)
{
    free(space->free);
    free(space->failed);
    for (int s = 0; s < 4; s++) {
        free(space->side[s]);
        free(space->rival[s]);
    }
    memset(space, 0, sizeof *space);
}

static int grow_list(void **list, int64_t room, size_t size)
{
    void *grown = (uint64_t)room > SIZE_MAX / size ? NULL : realloc(*list, (size_t)room * size);
    if (grown != NULL)
        *list = grown;
    return grown != NULL;
}

/* Lists for that many boxes. */
static int make_room(FillSpace *space, int64_t room)
{
    if (room <= space->room)
        return 1;
    room = room < FIRST_ROOM ? FIRST_ROOM : 2 * room;
    int made = grow_list((void **)&space->free, room, sizeof(Box));
    for (int s = 0; s < 4; s++)
        made = made && grow_list((void **)&space->side[s], room, sizeof(Box)) &&
               grow_list((void **)&space->rival[s], room, sizeof(int64_t));
    if (made)
        space->room = room;
    return made;
}

int open_space(FillSpace *space, int64_t kinds)
{
    memset(space, 0, sizeof *space);
    space->kinds = kinds;
    space->failed = malloc((size_t)(kinds > 0 ? kinds : 1));
    if (space->failed != NULL && make_room(space, FIRST_ROOM))
        return 1;
    close_space(space);
    return 0;
}

static inline int64_t min_of(int64_t a, int64_t b) { return a < b ? a : b; }
static inline int64_t max_of(int64_t a, int64_t b) { return a > b ? a : b; }

/* Where a rule puts the piece: the row of the free rectangle or -1, and whether turned. Inlined once for each rule. */
static inline __attribute__((always_inline)) int64_t
find_by_rule(const Box *boxes, int64_t count, const Kind *piece, int rule, int *turned)
{
    int64_t row = -1, least = INT64_C(1) << 62, second = 0;
    int ways = piece->turn ? 2 : 1;
    for (int64_t i = 0; i < count; i++) {
        const Box *box = &boxes[i];
        int64_t fw = box->right - box->left, fh = box->bottom - box->top;
        for (int way = 0; way < ways; way++) {
            int64_t w = way ? piece->height : piece->width, h = way ? piece->width : piece->height;
            if (w > fw || h > fh)
                continue;
            int64_t score, tie = 0, across = fw - w, down = fh - h;
            if (rule == 0) {
                score = min_of(across, down);
            } else if (rule == 1) {
                score = box->top + h;
                tie = box->left;
            } else if (rule == 2) {
                score = fw * fh;
                tie = min_of(across, down);
            } else {
                score = max_of(across, down);
            }
            if (score < least || (score == least && tie < second)) {
                least = score;
                second = tie;
                row = i;
                *turned = way;
            }
        }
    }
    return row;
}

static int64_t find_best_spot(const FillSpace *space, const Kind *piece, int64_t rule, int *turned)
{
    switch (rule) {
    case 0:
        return find_by_rule(space->free, space->count, piece, 0, turned);
    case 1:
        return find_by_rule(space->free, space->count, piece, 1, turned);
    case 2:
        return find_by_rule(space->free, space->count, piece, 2, turned);
    default:
        return find_by_rule(space->free, space->count, piece, 3, turned);
    }
}

static inline int holds_box(const Box *outer, const Box *inner)
{
    return outer->left <= inner->left && outer->top <= inner->top && outer->right >= inner->right &&
           outer->bottom >= inner->bottom;
}

/* Whether another carved rectangle of the same side holds the one; of equal ones the first stays. */
static int is_held(const Box *side, int64_t count, int64_t i)
{
    for (int64_t j = 0; j < count; j++)
        if (j != i && holds_box(&side[j], &side[i]) &&
            (j < i || side[j].right - side[j].left > side[i].right - side[i].left ||
             side[j].bottom - side[j].top > side[i].bottom - side[i].top))
            return 1;
    return 0;
}

/* Whether an old free rectangle that touches the same edge of the piece holds the carved one. */
static int has_rival(const Box *boxes, const int64_t *rival, int64_t rivals, const Box *carved)
{
    for (int64_t t = 0; t < rivals; t++)
        if (holds_box(&boxes[rival[t]], carved))
            return 1;
    return 0;
}

/* The maximal free rectangles once `taken` is; those narrower than `least` are dropped. */
static int carve_free(FillSpace *space, const Box *taken, int64_t least)
{
    if (!make_room(space, 4 * space->count + 4))
        return 0;
    Box *boxes = space->free;
    int64_t kept = 0, found[4] = {0}, rivals[4] = {0};
    int64_t x = taken->left, y = taken->top, r = taken->right, b = taken->bottom;
    for (int64_t i = 0; i < space->count; i++) {
        Box f = boxes[i];
        int side = f.right <= x ? WEST : f.left >= r ? EAST : f.bottom <= y ? NORTH : f.top >= b ? SOUTH : -1;
        if (side >= 0) {
            boxes[kept] = f;
            if (side == WEST ? f.right == x : side == EAST ? f.left == r : side == NORTH ? f.bottom == y : f.top == b)
                space->rival[side][rivals[side]++] = kept;
            kept++;
            continue;
        }
        if (x - f.left >= least)
            space->side[WEST][found[WEST]++] = (Box){f.left, f.top, x, f.bottom};
        if (f.right - r >= least)
            space->side[EAST][found[EAST]++] = (Box){r, f.top, f.right, f.bottom};
        if (y - f.top >= least)
            space->side[NORTH][found[NORTH]++] = (Box){f.left, f.top, f.right, y};
        if (f.bottom - b >= least)
            space->side[SOUTH][found[SOUTH]++] = (Box){f.left, b, f.right, f.bottom};
    }
    for (int s = 0; s < 4; s++)
        for (int64_t i = 0; i < found[s]; i++)
            if (!is_held(space->side[s], found[s], i) &&
                !has_rival(boxes, space->rival[s], rivals[s], &space->side[s][i]))
                boxes[kept++] = space->side[s][i];
    space->count = kept;
    return 1;
}

/* The free rectangle of that row split in two for good, so that the larger of both ways' largest leftovers stays whole. */
static int split_free(FillSpace *space, int64_t row, const Box *taken, int64_t least)
{
    if (!make_room(space, space->count + 2))
        return 0;
    Box *boxes = space->free, whole = boxes[row];
    int64_t w = taken->right - taken->left, h = taken->bottom - taken->top;
    int64_t fw = whole.right - whole.left, fh = whole.bottom - whole.top;
    int upright = max_of((fw - w) * fh, w * (fh - h)) >= max_of((fw - w) * h, fw * (fh - h));
    Box parts[2] = {{taken->right, taken->top, whole.right, upright ? whole.bottom : taken->bottom},
                    {taken->left, taken->bottom, upright ? taken->right : whole.right, whole.bottom}};
    memmove(boxes + row, boxes + row + 1, (size_t)(space->count - row - 1) * sizeof *boxes);
    space->count--;
    for (int i = 0; i < 2; i++)
        if (parts[i].right - parts[i].left >= least && parts[i].bottom - parts[i].top >= least)
            boxes[space->count++] = parts[i];
    return 1;
}

int64_t find_narrowest(const Kind *kinds, const int64_t *order, int64_t start, int64_t end)
{
    int64_t least = INT64_C(1) << 62;
    for (int64_t i = start; i < end; i++)
        least = min_of(least, min_of(kinds[order[i]].width, kinds[order[i]].height));
    return least;
}

static int64_t list_rest(const Offer *offer, int64_t start, int64_t *left, int64_t over)
{
    for (int64_t i = start; i < offer->pieces; i++)
        left[over++] = offer->order[i];
    return over;
}

int64_t fill_paper(FillSpace *space, Paper paper, const Offer *offer, Spot *spots, int64_t *left, int64_t *over)
{
    int64_t placed = 0, remaining = 0, burdened = 0, least = offer->least;
    memset(space->failed, 0, (size_t)space->kinds);
    space->work += space->kinds / 32 + 2 * offer->pieces; /* forgetting what failed, and passing it by */
    space->free[0] = (Box){0, 0, paper.width, paper.height};
    space->count = 1;
    if (least == NO_LIMIT)
        least = find_narrowest(offer->kinds, offer->order, offer->straight ? 0 : max_of(0, offer->pieces - NARROWEST),
                               offer->pieces);
    for (int64_t position = 0; position < offer->pieces; position++) {
        int64_t k = offer->order[position], row = -1;
        Kind piece = offer->kinds[k];
        int turned = 0;
        if (!space->failed[k]) {
            space->work += space->count;
            row = find_best_spot(space, &piece, offer->rule, &turned);
        }
        if (row < 0) {
            space->failed[k] = 1;
            left[remaining++] = k;
            if (offer->most_left == NO_LIMIT)
                continue;
            /* The twin counts each kind once: it stops later, where the caller has no use for it either. */
            burdened += offer->burden == NULL ? 1 : offer->burden[k];
            if (burdened <= offer->most_left)
                continue;
            remaining = list_rest(offer, position + 1, left, remaining);
            break;
        }
        int64_t w = turned ? piece.height : piece.width, h = turned ? piece.width : piece.height;
        int64_t x = space->free[row].left, y = space->free[row].top;
        spots[placed++] = (Spot){k, x, y, w, h};
        Box taken = {x, y, x + w, y + h};
        if (!(offer->straight ? split_free(space, row, &taken, least) : carve_free(space, &taken, least)))
            return NO_MEMORY;
        if (space->count == 0) {
            remaining = list_rest(offer, position + 1, left, remaining);
            break;
        }
    }
    *over = remaining;
    return placed;
}

/* Sheet after sheet until nothing is left of `pieces` in `order`, which is used up; each piece must fit an empty one.
 * `spots` gets the spots of all sheets one after another, `counts` how many each has. The sheets, or NO_MEMORY. */
int64_t fill_all_sheets(const int64_t *kinds, int64_t sizes, int64_t width, int64_t height, int64_t *order, int64_t pieces,
                        int64_t rule, int64_t straight, int64_t *spots, int64_t *counts)
{
    FillSpace space;
    int64_t *left = malloc((size_t)(pieces + 1) * sizeof *left), sheets = 0;
    int made = open_space(&space, sizes) && left != NULL;
    for (Spot *next = (Spot *)spots; made && pieces > 0; next += counts[sheets++]) {
        Offer offer = {(const Kind *)kinds, NULL, order, pieces, rule, NO_LIMIT, NO_LIMIT, straight};
        counts[sheets] = fill_paper(&space, (Paper){width, height}, &offer, next, left, &pieces);
        made = counts[sheets] > 0;
        memcpy(order, left, (size_t)pieces * sizeof *order);
    }
    free(left);
    close_space(&space);
    return made ? sheets : NO_MEMORY;
}

/* One sheet: the number of spots, or NO_MEMORY; what is left goes to `left`, its number to `over`. */
int64_t fill_sheet(const int64_t *kinds, int64_t sizes, int64_t width, int64_t height, const int64_t *order, int64_t pieces,
                   int64_t rule, int64_t straight, int64_t least, int64_t *spots, int64_t *left, int64_t *over)
{
    FillSpace space;
    if (!open_space(&space, sizes))
        return NO_MEMORY;
    Offer offer = {(const Kind *)kinds, NULL, order, pieces, rule, NO_LIMIT, least, straight};
    int64_t placed = fill_paper(&space, (Paper){width, height}, &offer, (Spot *)spots, left, over);
    close_space(&space);
    return placed;
}

/* The largest rectangle that no spot touches: its corner, width and height. 1; 0 if there is none, or NO_MEMORY. */
int64_t find_clean_box(int64_t width, int64_t height, const int64_t *spots, int64_t count, int64_t *box)
{
    FillSpace space;
    int made = open_space(&space, 0);
    if (made) {
        space.free[0] = (Box){0, 0, width, height};
        space.count = 1;
    }
    for (int64_t i = 0; made && i < count; i++) {
        const Spot *spot = (const Spot *)spots + i;
        made = carve_free(&space, &(Box){spot->x, spot->y, spot->x + spot->width, spot->y + spot->height}, 1);
    }
    int64_t most = 0;
    for (int64_t i = 0; made && i < space.count; i++) {
        Box free = space.free[i];
        int64_t area = (free.right - free.left) * (free.bottom - free.top);
        if (area > most || (area == most && (free.top < box[1] || (free.top == box[1] && free.left < box[0])))) {
            most = area;
            box[0] = free.left;
            box[1] = free.top;
            box[2] = free.right - free.left;
            box[3] = free.bottom - free.top;
        }
    }
    close_space(&space);
    return made ? most > 0 : NO_MEMORY;
}
