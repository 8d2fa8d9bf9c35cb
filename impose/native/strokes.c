/* Runs of ink and of gaps that go on from line to line. Twin: impose/art/faults/thin.py, which says what counts. */
#include "loops.h"

enum { TILE = 64, WIDEST = 24, FOLLOWED = 8, KEPT = 16 };

/* Runs of one kind on one line: where each begins, how long it is, and which is like it on the next line. */
typedef struct {
    int32_t place, length, next, slot;
} Run;

/* The last lines' runs of one kind; `most` of a line, in rings of KEPT lines. */
typedef struct {
    Run *runs;
    int64_t most;
    int64_t count[KEPT];
} Ring;

static Run *get_line(const Ring *ring, int64_t line)
{
    return ring->runs + (line % KEPT) * ring->most;
}

/* For each run of the line before the one that it is like, the first of those within a pixel; -1 for none. */
static void link_lines(Ring *ring, int64_t line)
{
    Run *before = get_line(ring, line - 1), *runs = get_line(ring, line);
    const int64_t count = ring->count[line % KEPT], earlier = ring->count[(line - 1) % KEPT];
    int64_t nearest = 0;
    for (int64_t i = 0; i < earlier; i++) {
        const int32_t place = before[i].place, length = before[i].length;
        while (nearest < count && runs[nearest].place < place - 1)
            nearest++;
        before[i].next = -1;
        for (int64_t k = nearest; k < count && k < nearest + 2 && runs[k].place <= place + 1; k++)
            if (abs(runs[k].length - length) <= 1) {
                before[i].next = (int32_t)k;
                break;
            }
    }
}

/* Counts the runs of a line that are still there FOLLOWED lines on, in tiles and by length. */
static void count_lasting(const Ring *ring, int64_t line, int64_t *counts)
{
    const Run *runs = get_line(ring, line);
    for (int64_t i = 0; i < ring->count[line % KEPT]; i++) {
        const Run *last = runs + i;
        int32_t steps = 0;
        for (; steps < FOLLOWED && last->next >= 0; steps++)
            last = get_line(ring, line + steps + 1) + last->next;
        if (steps == FOLLOWED && abs(last->length - runs[i].length) <= 1)
            counts[(int64_t)runs[i].slot * (WIDEST + 1) + runs[i].length]++;
    }
}

/* The next place from `at` on, below `end`, where a line changes; `end` if it does not. */
static int64_t find_change(const uint8_t *line, int64_t at, int64_t end)
{
    for (; at + 8 <= end; at += 8) {
        uint64_t here, before;
        memcpy(&here, line + at, 8);
        memcpy(&before, line + at - 1, 8);
        if (here != before) /* the lowest byte comes first in memory */
            return at + __builtin_ctzll(here ^ before) / 8;
    }
    while (at < end && line[at] == line[at - 1])
        at++;
    return at;
}

/* Puts the runs of one line that begin in clear tiles, the first of which is `tile`, into the rings of their kinds.

   `busy` tells tiles in which, or at whose upper edge, anything changes; `before` what the line above was in each tile:
   its value, twice, and 1 if it changed or was not looked at. */
static void gather_runs(const uint8_t *line, int64_t number, int64_t span, const uint8_t *clear, int64_t tile,
                        int64_t tile_step, Ring rings[2], uint8_t *busy, uint8_t *before)
{
    for (int64_t from = 0; from < span; from += TILE, tile += tile_step) {
        const int64_t to = from + TILE < span ? from + TILE : span;
        int64_t begin = clear[tile] ? find_change(line, from ? from : 1, to) : to;
        if (busy) {
            const uint8_t here = clear[tile] ? (uint8_t)(line[from] << 1 | (begin < to)) : 1;
            busy[tile] |= (here & 1) | (before[from / TILE] != here);
            before[from / TILE] = here;
        }
        while (begin < to) {
            const int64_t most = begin + WIDEST + 1 < span ? begin + WIDEST + 1 : span;
            const int64_t end = find_change(line, begin + 1, most);
            if (end < most) {
                Ring *ring = rings + (line[begin] != 0);
                Run run = {(int32_t)begin, (int32_t)(end - begin), -1, (int32_t)tile};
                get_line(ring, number)[ring->count[number % KEPT]++] = run;
            }
            begin = find_change(line, end, to);
        }
    }
}

/* Eight bytes of eight rows as eight bytes of eight columns. */
static void turn_square(const uint8_t *from, int64_t from_step, uint8_t *to, int64_t to_step)
{
    uint64_t rows[8];
    for (int i = 0; i < 8; i++)
        memcpy(rows + i, from + i * from_step, 8);
    static const uint64_t masks[3] = {0x00FF00FF00FF00FFull, 0x0000FFFF0000FFFFull, 0x00000000FFFFFFFFull};
    for (int stage = 0; stage < 3; stage++)
        for (int i = 0; i < 8; i++)
            if (!(i >> stage & 1)) {
                const int other = i + (1 << stage), shift = 8 << stage;
                const uint64_t swap = (rows[i] >> shift ^ rows[other]) & masks[stage];
                rows[i] ^= swap << shift;
                rows[other] ^= swap;
            }
    for (int i = 0; i < 8; i++)
        memcpy(to + i * to_step, rows + i, 8);
}

/* Lines of a tile side by side in memory, whatever way they lie in the mask; of what is not clear only what is beside. */
static void copy_lines(const uint8_t *solid, int64_t line_step, int64_t place_step, int64_t lines, int64_t span,
                       const uint8_t *clear, int64_t tile_step, uint8_t *out)
{
    for (int64_t from = 0; from < span; from += TILE, clear += tile_step) {
        const int64_t to = from + TILE < span ? from + TILE : span;
        if (!(clear[0] || (from && clear[-tile_step]) || (to < span && clear[tile_step])))
            continue;
        int64_t turned = 0;
        if (line_step == 1 && to - from == TILE)
            for (; turned + 8 <= lines; turned += 8)
                for (int64_t place = from; place < to; place += 8)
                    turn_square(solid + turned + place * place_step, place_step, out + turned * span + place, span);
        for (int64_t i = turned; i < lines; i++)
            for (int64_t place = from; place < to; place++)
                out[i * span + place] = solid[i * line_step + place * place_step];
    }
}

/* Adds to `counts` (gaps, then strokes; for each tile, for each length up to WIDEST) the runs along lines that last.

   The mask of 0 and 1 has `lines` lines of `span` places, so many bytes from one to the next. `clear` and `counts` are of
   tiles, `tile_line` from a line of tiles to the next and `tile_step` along it, `tiles` in all. `scratch` holds TILE *
   span bytes, or nothing where `place_step` is 1; `runs` holds 2 * KEPT * (span / 2 + 1) runs of four numbers. `busy`,
   where it is given, is of tiles, all 0, and then tells those that runs across the lines may begin in; `before` is 1 for
   each tile along a line. */
PUBLIC void count_runs(const uint8_t *solid, int64_t line_step, int64_t place_step, int64_t lines, int64_t span,
                       const uint8_t *clear, int64_t tile_line, int64_t tile_step, int64_t tiles, int64_t *counts,
                       uint8_t *scratch, int32_t *runs, uint8_t *busy, uint8_t *before)
{
    const int64_t most = span / 2 + 1;
    Ring rings[2] = {{(Run *)runs, most, {0}}, {(Run *)runs + KEPT * most, most, {0}}};
    for (int64_t line = 0; line < lines + FOLLOWED; line++) {
        const int64_t tile = line / TILE * tile_line;
        rings[0].count[line % KEPT] = rings[1].count[line % KEPT] = 0;
        if (line < lines && place_step != 1 && line % TILE == 0)
            copy_lines(solid + line * line_step, line_step, place_step, lines - line < TILE ? lines - line : TILE, span,
                       clear + tile, tile_step, scratch);
        if (line < lines) {
            const uint8_t *at = place_step == 1 ? solid + line * line_step : scratch + line % TILE * span;
            gather_runs(at, line, span, clear, tile, tile_step, rings, busy, before);
        }
        for (int kind = 0; kind < 2; kind++) {
            if (line)
                link_lines(&rings[kind], line);
            if (line >= FOLLOWED)
                count_lasting(&rings[kind], line - FOLLOWED, counts + kind * tiles * (WIDEST + 1));
        }
    }
}
