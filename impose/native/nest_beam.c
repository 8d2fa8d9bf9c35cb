/* A strip filled gap by gap, the most promising part-filled strips kept after every piece. Twin: roll_beam.py in
 * impose/nest: the same ways in the same order, the same comparisons, the same ties. */
#include <float.h>

#include "nest_exact.h"
#include "nest_outline.h"

#if FLT_EVAL_METHOD != 0
#error "doubles are not rounded after each operation here: the plain loops would give other answers"
#endif

#define WIDEST 3 /* pieces tried in a gap: the widest that fit, level with a wall, the largest */
#define LEVEL 2
#define LARGEST 3
#define TRIED_MOST (WIDEST + 2 * LEVEL + LARGEST)
#define ASKED 256  /* strips between questions */

typedef struct {
    int64_t width, height, kind;
} Way;

typedef struct {
    int64_t height, kind;
} Low;

/* `steps` of its outline from `first` on in a list of steps; `counts` is a row of what is left of each kind. */
typedef struct {
    int64_t first, steps, waste, placed, last, row;
    uint64_t code;
} Strip;

typedef struct {
    int64_t before;
    Spot spot;
} Link;

typedef struct {
    double worth;
    int64_t number;
    Strip strip;
    Spot spot;
} Candidate;

/* As Python lays it out: `per_step` strips looked at count for a step, `steps` is what a step of an outline counts. */
typedef struct {
    int64_t width, height, spare, least, breadth, size, kinds, ways, most, patience, done, gain, per_step, steps;
} BeamTask;

typedef struct {
    const Way *by_width, *by_height, *by_area;
    const Low *tallest;
    const uint64_t *codes;
    double placed_weight;
    BeamTask *task;
    Question is_over;
    int64_t asked, strips, made, rows_held;
    Strip *kept;
    Candidate *found;
    Step *outlines, *fresh, *line, *other; /* of the strips kept, of those found; one at work */
    int64_t *counts, *next_counts, *slots;
    Link *links;
    size_t kept_held, found_held, outlines_held, fresh_held, fresh_used, links_held, links_used, slots_held;
} Beam;

PUBLIC int64_t fit_strip(const int64_t *by_width, const int64_t *by_height, const int64_t *by_area, const int64_t *tallest,
                         const int64_t *counts, const int64_t *codes, const double *placed_weight, int64_t *task,
                         Question is_over, int64_t *spots);

static int64_t min_of(int64_t a, int64_t b) { return a < b ? a : b; }

/* Ways come sorted by a side: the row after the last whose side is at most `most`. */
static int64_t find_end(const Way *ways, int64_t count, int by_height, int64_t most)
{
    int64_t low = 0, high = count;
    while (low < high) {
        int64_t middle = (low + high) / 2;
        if ((by_height ? ways[middle].height : ways[middle].width) <= most)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The last `most` of the ways up to `end` that are left and fit, behind those found already, each once. */
static int keep_last(const Way *ways, int64_t end, const int64_t *counts, int64_t gap, int64_t room, int most, Way *found, int many)
{
    int kept = 0;
    for (int64_t i = end - 1; i >= 0 && kept < most; i--) {
        Way way = ways[i];
        if (!counts[way.kind] || way.width > gap || way.height > room)
            continue;
        kept++;
        int known = 0;
        for (int j = 0; j < many; j++)
            known = known || (found[j].width == way.width && found[j].height == way.height && found[j].kind == way.kind);
        if (!known)
            found[many++] = way;
    }
    return many;
}

/* Pieces for a gap: the widest that fit, those that come up to a wall, the largest. */
static int list_candidates(const Beam *b, const int64_t *counts, int64_t gap, int64_t room, int64_t left, int64_t right, Way *found)
{
    int64_t ways = b->task->ways;
    int many = keep_last(b->by_width, find_end(b->by_width, ways, 0, gap), counts, gap, room, WIDEST, found, 0);
    int64_t walls[2] = {left, right};
    for (int i = 0; i < 2; i++)
        many = keep_last(b->by_height, find_end(b->by_height, ways, 1, min_of(walls[i], room)), counts, gap, room, LEVEL, found, many);
    return keep_last(b->by_area, ways, counts, gap, room, LARGEST, found, many);
}

/* How high the walls of a step stand: those of its neighbours, or of the strip. */
static void find_walls(const Beam *b, const Step *line, int64_t steps, int64_t at, int64_t *left, int64_t *right)
{
    *left = at > 0 ? line[at - 1].top : b->task->height;
    *right = at + 1 < steps ? line[at + 1].top : b->task->height;
}

static void swap_lines(Beam *b)
{
    Step *line = b->line;
    b->line = b->other;
    b->other = line;
}

/* Gaps too narrow for any piece given up in `line`; returns how many steps it has then. */
static int64_t close_narrow_gaps(Beam *b, int64_t steps, int64_t *lost)
{
    for (;;) {
        int64_t at = find_lowest(b->line, steps), left, right;
        Step low = b->line[at];
        if (low.width >= b->task->least || low.top >= b->task->height)
            return steps;
        find_walls(b, b->line, steps, at, &left, &right);
        *lost += low.width * (min_of(left, right) - low.top);
        steps = raise_outline(b->line, steps, at, low.left, low.width, min_of(left, right), b->other);
        swap_lines(b);
    }
}

static uint64_t hash_outline(const Step *line, int64_t steps, uint64_t code)
{
    uint64_t hash = code ^ (uint64_t)steps;
    for (int64_t i = 0; i < steps; i++)
        hash = (hash ^ (uint64_t)line[i].top) * UINT64_C(0x9E3779B97F4A7C15) + (uint64_t)line[i].left;
    return hash ^ (hash >> 29);
}

/* The slot of a strip of that outline and code: taken by such a one, or free. */
static size_t find_slot(const Beam *b, int64_t steps, uint64_t code)
{
    size_t slot = (size_t)hash_outline(b->line, steps, code) & (b->slots_held - 1);
    while (b->slots[slot] >= 0) {
        const Strip *known = &b->found[b->slots[slot]].strip;
        if (known->code == code && known->steps == steps &&
            !memcmp(b->fresh + known->first, b->line, (size_t)steps * sizeof *b->line))
            break;
        slot = (slot + 1) & (b->slots_held - 1);
    }
    return slot;
}

/* Room for as many more strips as one can become, in slots at most half taken; 0 without memory. */
static int make_room(Beam *b)
{
    size_t needed = (size_t)(b->strips * TRIED_MOST + 1);
    if (b->slots_held < 2 * needed) {
        size_t slots = 1024;
        while (slots < 2 * needed)
            slots *= 2;
        free(b->slots);
        b->slots = malloc(slots * sizeof *b->slots);
        b->slots_held = b->slots == NULL ? 0 : slots;
    }
    return b->slots != NULL && grow_rows((void **)&b->found, &b->found_held, needed, sizeof *b->found);
}

/* A strip that is found first is kept with what it is worth; 0 without memory. */
static int add_strip(Beam *b, Strip strip, Spot spot)
{
    size_t slot = find_slot(b, strip.steps, strip.code);
    if (b->slots[slot] >= 0)
        return 1;
    if (!grow_rows((void **)&b->fresh, &b->fresh_held, b->fresh_used + (size_t)strip.steps, sizeof *b->fresh))
        return 0;
    strip.first = (int64_t)b->fresh_used;
    memcpy(b->fresh + b->fresh_used, b->line, (size_t)strip.steps * sizeof *b->line);
    b->fresh_used += (size_t)strip.steps;
    double placed = (double)strip.placed;
    double worth = ((double)strip.waste + b->placed_weight * placed) * (double)(b->task->steps + strip.steps);
    b->slots[slot] = b->made;
    b->found[b->made] = (Candidate){worth / (placed * placed), b->made, strip, spot};
    b->made++;
    return 1;
}

/* The strip with one more piece in its lowest gap, in each of the ways worth trying; 0 without memory. */
static int extend_strip(Beam *b, Strip strip)
{
    const int64_t *counts = b->counts + strip.row * b->task->kinds;
    Way ways[TRIED_MOST];
    int64_t steps = strip.steps, at, left, right, tallest = 0;
    int many = 0;
    Step low;
    while (!counts[b->tallest[tallest].kind])
        tallest++;
    Step *base = b->outlines + strip.first;
    for (;;) {
        at = find_lowest(base, steps);
        low = base[at];
        find_walls(b, base, steps, at, &left, &right);
        left -= low.top;
        right -= low.top;
        if (b->tallest[tallest].height > b->task->height - low.top)
            return 1;
        many = list_candidates(b, counts, low.width, b->task->height - low.top, left, right, ways);
        if (many)
            break;
        strip.waste += low.width * min_of(left, right);
        if (strip.waste > b->task->spare)
            return 1;
        steps = raise_outline(base, steps, at, low.left, low.width, low.top + min_of(left, right), b->other);
        memcpy(base, b->other, (size_t)steps * sizeof *base); /* it has fewer steps, and nobody else looks at it */
    }
    for (int i = 0; i < many; i++) {
        Way way = ways[i];
        int beside_left = way.height == left || (way.height != right && left >= right);
        Spot spot = {way.kind, beside_left ? low.left : low.left + low.width - way.width, low.top, way.width, way.height};
        int64_t lost = 0, made = raise_outline(base, steps, at, spot.x, way.width, low.top + way.height, b->line);
        made = close_narrow_gaps(b, made, &lost);
        if (strip.waste + lost > b->task->spare)
            continue;
        Strip fresh = {0, made, strip.waste + lost, strip.placed + way.width * way.height, strip.last, strip.row,
                       strip.code + b->codes[way.kind]};
        if (!add_strip(b, fresh, spot))
            return 0;
    }
    return 1;
}

static int compare_candidates(const void *one, const void *two)
{
    const Candidate *a = one, *b = two;
    if (a->worth != b->worth)
        return a->worth < b->worth ? -1 : 1;
    return a->number < b->number ? -1 : a->number > b->number;
}

/* The best of those found, with their own account of what is left; 0 without memory. */
static int keep_best(Beam *b)
{
    qsort(b->found, (size_t)b->made, sizeof *b->found, compare_candidates);
    int64_t kinds = b->task->kinds, kept = min_of(b->made, b->task->breadth);
    size_t steps = 0;
    for (int64_t i = 0; i < kept; i++)
        steps += (size_t)b->found[i].strip.steps;
    if (!grow_rows((void **)&b->outlines, &b->outlines_held, steps, sizeof *b->outlines) ||
        !grow_rows((void **)&b->kept, &b->kept_held, (size_t)kept, sizeof *b->kept) ||
        !grow_rows((void **)&b->links, &b->links_held, b->links_used + (size_t)kept, sizeof *b->links))
        return 0;
    if (kept > b->rows_held) {
        int64_t *more = realloc(b->next_counts, (size_t)(2 * kept * kinds) * sizeof *more);
        b->next_counts = more == NULL ? b->next_counts : more;
        int64_t *others = more == NULL ? NULL : realloc(b->counts, (size_t)(2 * kept * kinds) * sizeof *more);
        if (others == NULL)
            return 0;
        b->counts = others;
        b->rows_held = 2 * kept;
    }
    steps = 0;
    for (int64_t i = 0; i < kept; i++) {
        Strip strip = b->found[i].strip;
        memcpy(b->outlines + steps, b->fresh + strip.first, (size_t)strip.steps * sizeof *b->outlines);
        strip.first = (int64_t)steps;
        steps += (size_t)strip.steps;
        memcpy(b->next_counts + i * kinds, b->counts + strip.row * kinds, (size_t)kinds * sizeof *b->counts);
        b->next_counts[i * kinds + b->found[i].spot.kind]--;
        strip.row = i;
        b->links[b->links_used] = (Link){strip.last, b->found[i].spot};
        strip.last = (int64_t)b->links_used++;
        b->kept[i] = strip;
    }
    int64_t *counts = b->counts;
    b->counts = b->next_counts;
    b->next_counts = counts;
    b->strips = kept;
    return 1;
}

static int is_spent(const BeamTask *t)
{
    if (t->most != NO_LIMIT && t->done >= t->most)
        return 1;
    return t->patience != NO_LIMIT && t->done - t->gain >= t->patience;
}

/* Piece after piece; 1 once all are placed, 0 where no strip got there or it is over, NO_MEMORY. */
static int64_t place_pieces(Beam *b)
{
    for (int64_t piece = 0; piece < b->task->size; piece++) {
        b->task->done += (b->strips + b->task->per_step - 1) / b->task->per_step;
        if (is_spent(b->task))
            return 0;
        if (!make_room(b))
            return NO_MEMORY;
        memset(b->slots, 0xFF, b->slots_held * sizeof *b->slots);
        b->made = 0;
        b->fresh_used = 0;
        for (int64_t i = 0; i < b->strips; i++) {
            if (b->is_over != NULL && b->asked++ % ASKED == 0 && b->is_over())
                return 0;
            if (!extend_strip(b, b->kept[i]))
                return NO_MEMORY;
        }
        if (!b->made)
            return 0;
        if (!keep_best(b))
            return NO_MEMORY;
    }
    return 1;
}

static int open_beam(Beam *b, const int64_t *counts)
{
    size_t kinds = (size_t)b->task->kinds, line = (size_t)b->task->size + 4;
    b->line = malloc(line * sizeof *b->line);
    b->other = malloc(line * sizeof *b->other);
    b->counts = malloc((kinds + 1) * sizeof *b->counts);
    b->next_counts = malloc((kinds + 1) * sizeof *b->next_counts);
    if (!b->line || !b->other || !b->counts || !b->next_counts ||
        !grow_rows((void **)&b->outlines, &b->outlines_held, 1, sizeof *b->outlines) ||
        !grow_rows((void **)&b->kept, &b->kept_held, 1, sizeof *b->kept))
        return 0;
    b->rows_held = 1;
    memcpy(b->counts, counts, kinds * sizeof *counts);
    b->outlines[0] = (Step){0, 0, b->task->width};
    b->kept[0] = (Strip){0, 1, 0, 0, -1, 0, 0};
    b->strips = 1;
    return 1;
}

static void close_beam(Beam *b)
{
    void *lists[] = {b->kept, b->found, b->outlines, b->fresh, b->line, b->other, b->counts, b->next_counts, b->slots, b->links};
    for (size_t i = 0; i < sizeof lists / sizeof *lists; i++)
        free(lists[i]);
}

/* Every piece within the height: how many, the last one first in `spots`; 0 if not, or NO_MEMORY. `task` changes in place. */
int64_t fit_strip(const int64_t *by_width, const int64_t *by_height, const int64_t *by_area, const int64_t *tallest,
                  const int64_t *counts, const int64_t *codes, const double *placed_weight, int64_t *task, Question is_over,
                  int64_t *spots)
{
    Beam b = {
        .by_width = (const Way *)by_width, .by_height = (const Way *)by_height, .by_area = (const Way *)by_area,
        .tallest = (const Low *)tallest, .codes = (const uint64_t *)codes, .placed_weight = *placed_weight,
        .task = (BeamTask *)task, .is_over = is_over,
    };
    int64_t placed = open_beam(&b, counts) ? place_pieces(&b) : NO_MEMORY;
    Spot *next = (Spot *)spots;
    if (placed > 0)
        for (int64_t at = b.kept[0].last; at >= 0; at = b.links[at].before)
            *next++ = b.links[at].spot;
    close_beam(&b);
    return placed > 0 ? next - (Spot *)spots : placed;
}
