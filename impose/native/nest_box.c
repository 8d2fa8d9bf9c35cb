/* Whether a few pieces fit a box together, exactly. Twin: _BoxSweep in impose/nest/exact_roll.py, which says how: the same
 * places in the same order, as many nodes. */
#include "nest_exact.h"

#define SOON 64 /* times LOOK: beginnings between questions */

typedef struct {
    int64_t end, height;
} Standing;

typedef struct {
    int64_t x, width, height;
} Span;

typedef struct {
    Kind ways[2]; /* a width of 0 where there is no second one */
    int64_t alike;
} Piece;

/* A state of the sweep from which less to spare did not do; the standing pieces are in the arena. */
typedef struct {
    int64_t x, spare;
    size_t from;
    uint32_t hash, left;
    int32_t count;
} Failure;

typedef struct {
    const Piece *pieces;
    int64_t count, width, height, nodes, begun, swept;
    Question is_over;
    Span spans[BOX_MOST];
    int64_t bottoms[BOX_MOST];
    Failure *failures;
    size_t failed, slots;
    Standing *arena;
    size_t used, held;
    int exhausted;
} Sweep;

/* The columns between the places where pieces begin and end. */
typedef struct {
    int from[BOX_MOST], to[BOX_MOST], places;
} Columns;

static int sweep_from(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, int64_t spare);

static int spend_node(Sweep *s)
{
    if (s->is_over != NULL && s->nodes % (2 * LOOK) == 0 && s->is_over())
        s->nodes = 0;
    s->nodes--;
    return s->nodes >= 0;
}

static uint32_t hash_state(int64_t x, const Standing *standing, int count, uint32_t left)
{
    uint64_t hash = (uint64_t)x * UINT64_C(0x9E3779B97F4A7C15) + left;
    for (int i = 0; i < count; i++) {
        hash = (hash ^ (hash >> 29) ^ (uint64_t)standing[i].end) * UINT64_C(0xBF58476D1CE4E5B9);
        hash = (hash ^ (hash >> 32) ^ (uint64_t)standing[i].height) * UINT64_C(0x94D049BB133111EB);
    }
    return (uint32_t)(hash ^ (hash >> 32));
}

/* The failure of that state, or the empty slot where it belongs. */
static Failure *find_failure(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, uint32_t hash)
{
    size_t slot = hash & (s->slots - 1);
    for (; s->failures[slot].count >= 0; slot = (slot + 1) & (s->slots - 1)) {
        Failure *f = &s->failures[slot];
        if (f->hash == hash && f->x == x && f->left == left && f->count == count &&
            memcmp(s->arena + f->from, standing, (size_t)count * sizeof *standing) == 0)
            return f;
    }
    return &s->failures[slot];
}

static int grow_failures(Sweep *s)
{
    size_t slots = s->slots ? 2 * s->slots : 1024;
    Failure *old = s->failures, *made = malloc(slots * sizeof *made);
    if (made == NULL)
        return 0;
    for (size_t i = 0; i < slots; i++)
        made[i].count = -1;
    for (size_t i = 0; i < s->slots; i++)
        if (old[i].count >= 0) {
            size_t slot = old[i].hash & (slots - 1);
            while (made[slot].count >= 0)
                slot = (slot + 1) & (slots - 1);
            made[slot] = old[i];
        }
    free(old);
    s->failures = made;
    s->slots = slots;
    return 1;
}

static int keep_failure(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, int64_t spare)
{
    if (2 * s->failed >= s->slots && !grow_failures(s))
        return 0;
    uint32_t hash = hash_state(x, standing, count, left);
    Failure *f = find_failure(s, x, standing, count, left, hash);
    if (f->count < 0) {
        if (s->arena == NULL || s->used + (size_t)count > s->held) {
            size_t held = 2 * s->held + 4096;
            Standing *arena = realloc(s->arena, held * sizeof *arena);
            if (arena == NULL)
                return 0;
            s->arena = arena;
            s->held = held;
        }
        memcpy(s->arena + s->used, standing, (size_t)count * sizeof *standing);
        *f = (Failure){x, spare, s->used, hash, left, count};
        s->used += (size_t)count;
        s->failed++;
    }
    f->spare = spare;
    return 1;
}

static int has_failed(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, int64_t spare)
{
    if (s->slots == 0)
        return 0;
    const Failure *f = find_failure(s, x, standing, count, left, hash_state(x, standing, count, left));
    return f->count >= 0 && f->spare >= spare;
}

/* Whether what is left can be laid on top, each piece no lower than the one before it. */
static int lay_lowest(Sweep *s, uint32_t left, int64_t lowest, const Columns *columns, const int64_t *tops,
                      const int64_t *above)
{
    if (!left)
        return 1;
    if (!spend_node(s))
        return 0;
    size_t size = (size_t)columns->places * sizeof *tops;
    for (int i = 0; i < s->count; i++) {
        if (!(left >> i & 1))
            continue;
        int64_t bottom = 0, height = s->spans[i].height, raised[2 * BOX_MOST], rest[2 * BOX_MOST];
        for (int c = columns->from[i]; c < columns->to[i]; c++)
            bottom = tops[c] > bottom ? tops[c] : bottom;
        int fits = bottom >= lowest;
        for (int c = columns->from[i]; fits && c < columns->to[i]; c++)
            fits = bottom + above[c] <= s->height;
        if (!fits)
            continue;
        memcpy(raised, tops, size);
        memcpy(rest, above, size);
        for (int c = columns->from[i]; c < columns->to[i]; c++) {
            raised[c] = bottom + height;
            rest[c] -= height;
        }
        s->bottoms[i] = bottom;
        if (lay_lowest(s, left ^ UINT32_C(1) << i, bottom, columns, raised, rest))
            return 1;
    }
    return 0;
}

static int find_place(const int64_t *places, int count, int64_t x)
{
    int at = 0;
    while (at < count && places[at] < x)
        at++;
    return at;
}

static int add_place(int64_t *places, int count, int64_t x)
{
    int at = find_place(places, count, x);
    if (at < count && places[at] == x)
        return count;
    memmove(places + at + 1, places + at, (size_t)(count - at) * sizeof *places);
    places[at] = x;
    return count + 1;
}

/* Whether the pieces, each in its columns, lie above each other within the height; `bottoms` says how. */
static int stack_columns(Sweep *s)
{
    int64_t places[2 * BOX_MOST], tops[2 * BOX_MOST] = {0}, above[2 * BOX_MOST] = {0};
    Columns columns = {.places = 0};
    for (int i = 0; i < s->count; i++) {
        columns.places = add_place(places, columns.places, s->spans[i].x);
        columns.places = add_place(places, columns.places, s->spans[i].x + s->spans[i].width);
    }
    for (int i = 0; i < s->count; i++) {
        columns.from[i] = find_place(places, columns.places, s->spans[i].x);
        columns.to[i] = find_place(places, columns.places, s->spans[i].x + s->spans[i].width);
        for (int c = columns.from[i]; c < columns.to[i]; c++)
            above[c] += s->spans[i].height;
    }
    return lay_lowest(s, (UINT32_C(1) << s->count) - 1, 0, &columns, tops, above);
}

/* The standing pieces that go on beyond `after`, by where they end, then by height. */
static int list_beyond(const Standing *standing, int count, int64_t after, Standing *beyond)
{
    int some = 0;
    for (int i = 0; i < count; i++) {
        Standing piece = standing[i];
        if (piece.end <= after)
            continue;
        int at = some++;
        for (; at > 0 && (beyond[at - 1].end > piece.end ||
                          (beyond[at - 1].end == piece.end && beyond[at - 1].height > piece.height)); at--)
            beyond[at] = beyond[at - 1];
        beyond[at] = piece;
    }
    return some;
}

/* Whether it goes with no more pieces beginning at `x`. */
static int go_beyond(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, int64_t spare, int64_t free_height)
{
    Standing beyond[BOX_MOST];
    if (count == 0)
        return 0; /* a piece would begin where none ends */
    if (!left) {
        s->swept++;
        return stack_columns(s);
    }
    int64_t after = standing[0].end;
    for (int i = 1; i < count; i++)
        after = standing[i].end < after ? standing[i].end : after;
    spare -= (after - x) * free_height;
    return spare >= 0 && sweep_from(s, after, beyond, list_beyond(standing, count, after, beyond), left, spare);
}

/* Whether it goes with more of the pieces from `first` on beginning at `x`, or with none of them. `standing` has room. */
static int begin_pieces(Sweep *s, int64_t x, Standing *standing, int count, uint32_t left, int64_t spare, int first)
{
    int64_t free_height = s->height;
    for (int i = 0; i < count; i++)
        free_height -= standing[i].height;
    for (int i = first; i < s->count; i++) {
        const Piece *piece = &s->pieces[i];
        if (!(left >> i & 1) || (piece->alike && left >> (i - 1) & 1)) /* equal pieces are taken in order */
            continue;
        for (int way = 0; way < 2 && piece->ways[way].width > 0; way++) {
            int64_t width = piece->ways[way].width, height = piece->ways[way].height;
            if (height > free_height || x + width > s->width)
                continue;
            if (i == 0 && 2 * x > s->width - width)
                continue; /* mirrored, the largest piece lies in the nearer half */
            if (++s->begun % (SOON * LOOK) == 0 && s->is_over != NULL && s->is_over())
                s->nodes = -1;
            if (s->nodes < 0 || s->exhausted)
                return 0;
            s->spans[i] = (Span){x, width, height};
            standing[count] = (Standing){x + width, height};
            if (begin_pieces(s, x, standing, count + 1, left ^ UINT32_C(1) << i, spare, i + 1))
                return 1;
        }
    }
    return go_beyond(s, x, standing, count, left, spare, free_height);
}

/* Whether the pieces `left` go beyond `x`; `spare` is the area that may yet be lost. */
static int sweep_from(Sweep *s, int64_t x, const Standing *standing, int count, uint32_t left, int64_t spare)
{
    Standing here[BOX_MOST + 1];
    if (s->exhausted || has_failed(s, x, standing, count, left, spare) || !spend_node(s))
        return 0;
    int64_t before = s->swept;
    memcpy(here, standing, (size_t)count * sizeof *here);
    if (begin_pieces(s, x, here, count, left, spare, 0))
        return 1;
    /* Only what ran short of columns fails whatever stands to the left of it. */
    if (s->swept == before && s->nodes >= 0 && !keep_failure(s, x, standing, count, left, spare))
        s->exhausted = 1;
    return 0;
}

/* `pieces` hold two ways (width, height, unused) and whether the piece is like the one before, the largest first; `spare`
 * is the area that may be lost, `nodes` counts down. `laid` gets x, y, width and height of each. 1, 0 if there is no such
 * arrangement or, with less than no nodes, none was found, or NO_MEMORY. */
int64_t fit_box(const int64_t *pieces, int64_t count, int64_t width, int64_t height, int64_t spare, int64_t *nodes,
                Question is_over, int64_t *laid)
{
    Sweep s = {.pieces = (const Piece *)pieces, .count = count, .width = width, .height = height, .nodes = *nodes,
               .is_over = is_over};
    Standing none[1] = {{0, 0}};
    if (count < 1 || count > BOX_MOST)
        return NO_MEMORY;
    int found = sweep_from(&s, 0, none, 0, (UINT32_C(1) << count) - 1, spare);
    for (int64_t i = 0; found && i < count; i++) {
        int64_t spot[] = {s.spans[i].x, s.bottoms[i], s.spans[i].width, s.spans[i].height};
        memcpy(laid + 4 * i, spot, sizeof spot);
    }
    *nodes = s.nodes;
    free(s.failures);
    free(s.arena);
    return s.exhausted ? NO_MEMORY : found;
}
