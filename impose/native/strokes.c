/* Runs of ink and of gaps that go on from line to line. Twin: impose/art/faults/thin.py, which says what counts. */
#include "loops.h"

enum { TILE = 64, WIDEST = 24, FOLLOWED = 8, KEPT = 16 };

/* A run on a line: where it begins, how long it is, its tile, and which run it is like some lines on (0 for none). */
typedef struct {
    int32_t place, length, slot, next;
} Run;

/* The last lines' runs of one kind, from 1 on; those of a line that are none are run 0. In rings of KEPT lines. */
typedef struct {
    Run *runs;
    int64_t most;
    int64_t count[KEPT];
} Ring;

static Run *get_line(const Ring *ring, int64_t line)
{
    return ring->runs + (line % KEPT) * ring->most;
}

/* For each run of the line before the one that it is like, the first of those within a pixel. */
static void link_lines(Ring *ring, int64_t line)
{
    Run *before = get_line(ring, line - 1), *runs = get_line(ring, line);
    const int64_t count = ring->count[line % KEPT], earlier = ring->count[(line - 1) % KEPT];
    int64_t nearest = 1;
    for (int64_t i = 1; i <= earlier; i++) {
        const int32_t place = before[i].place, length = before[i].length;
        while (nearest <= count && runs[nearest].place < place - 1)
            nearest++;
        before[i].next = 0;
        for (int64_t k = nearest; k <= count && k < nearest + 2 && runs[k].place <= place + 1; k++)
            if (abs(runs[k].length - length) <= 1) {
                before[i].next = (int32_t)k;
                break;
            }
    }
}

/* Of runs that are linked to those `steps` lines on, and these so far again: links twice as far. */
static void double_links(Ring *ring, int64_t line, int64_t steps)
{
    Run *runs = get_line(ring, line);
    const Run *after = get_line(ring, line + steps);
    for (int64_t i = 1; i <= ring->count[line % KEPT]; i++)
        runs[i].next = after[runs[i].next].next;
}

/* Counts the runs of a line that are still there FOLLOWED lines on, in tiles and by length. */
static void count_lasting(const Ring *ring, int64_t line, int64_t *counts)
{
    const Run *runs = get_line(ring, line), *last = get_line(ring, line + FOLLOWED);
    for (int64_t i = 1; i <= ring->count[line % KEPT]; i++)
        if (runs[i].next && abs(last[runs[i].next].length - runs[i].length) <= 1)
            counts[(int64_t)runs[i].slot * (WIDEST + 1) + runs[i].length]++;
}

/* Follows the runs of the lines before a new one, of which the last are linked 1, 2 and 4 lines on already. */
static void follow_runs(Ring *ring, int64_t line, int64_t *counts)
{
    if (line >= 1)
        link_lines(ring, line);
    for (int64_t steps = 1; steps < FOLLOWED; steps *= 2)
        if (line >= 2 * steps)
            double_links(ring, line - 2 * steps, steps);
    if (line >= FOLLOWED)
        count_lasting(ring, line - FOLLOWED, counts);
}

/* Where a line changes, in the tile at `from` of a line of `span` places: bits of places unlike the one before. */
static uint64_t find_changes(const uint64_t *line, int64_t from, int64_t span)
{
    if (from >= span)
        return 0;
    const uint64_t word = line[from / TILE];
    const uint64_t changes = word ^ (word << 1 | (from ? line[from / TILE - 1] >> 63 : word & 1));
    return span - from < TILE ? changes & ((1ull << (span - from)) - 1) : changes;
}

/* Puts the runs of one line that begin in clear tiles, the first of which is `tile`, into the rings of their kinds. */
static void gather_runs(const uint64_t *line, int64_t number, int64_t span, const uint8_t *clear, int64_t tile,
                        int64_t tile_step, Ring rings[2])
{
    for (int64_t from = 0; from < span; from += TILE, tile += tile_step) {
        uint64_t changes = clear[tile] ? find_changes(line, from, span) : 0;
        const uint64_t word = line[from / TILE];
        while (changes) {
            const int begin = __builtin_ctzll(changes);
            int end = 2 * TILE;
            changes &= changes - 1;
            if (changes) {
                end = __builtin_ctzll(changes);
            } else if (begin + WIDEST >= TILE) {
                const uint64_t beyond = find_changes(line, from + TILE, span);
                end = beyond ? TILE + __builtin_ctzll(beyond) : end;
            }
            if (end - begin > WIDEST)
                continue;
            Ring *ring = rings + (word >> begin & 1);
            const Run run = {(int32_t)from + begin, end - begin, (int32_t)tile, 0};
            get_line(ring, number)[++ring->count[number % KEPT]] = run;
        }
    }
}

/* Notes the tiles in which, or at whose upper edge, a line is not like the one before. */
static void note_changes(const uint64_t *line, const uint64_t *before, int64_t span, int64_t tile, int64_t tile_step,
                         uint8_t *busy)
{
    for (int64_t i = 0; i < (span + TILE - 1) / TILE; i++, tile += tile_step)
        busy[tile] |= line[i] != before[i];
}

/* 64 words of 64 bits, as 64 columns of 64 bits. */
static void turn_square(uint64_t square[TILE])
{
    uint64_t mask = 0x00000000FFFFFFFFull;
    for (int shift = TILE / 2; shift; shift /= 2, mask ^= mask << shift)
        for (int i = 0; i < TILE; i = (i + shift + 1) & ~shift) {
            const uint64_t swap = (square[i] >> shift ^ square[i + shift]) & mask;
            square[i] ^= swap << shift;
            square[i + shift] ^= swap;
        }
}

/* The columns of a row of tiles' places as lines of words; of what is not clear only what is beside. */
static void turn_tiles(const uint64_t *bits, int64_t pitch, int64_t lines, const uint8_t *clear, int64_t tile_step,
                       uint64_t *out)
{
    const int64_t words = (lines + TILE - 1) / TILE;
    for (int64_t t = 0; t < words; t++) {
        const uint8_t *here = clear + t * tile_step;
        if (!(here[0] || (t && here[-tile_step]) || (t + 1 < words && here[tile_step])))
            continue;
        uint64_t square[TILE];
        for (int64_t i = 0; i < TILE; i++)
            square[i] = t * TILE + i < lines ? bits[(t * TILE + i) * pitch] : 0;
        turn_square(square);
        for (int64_t i = 0; i < TILE; i++)
            out[i * words + t] = square[i];
    }
}

/* Follows the runs of all lines, of which `line_of` finds each, or turns it up first in `turned`. */
static void count_along(const uint64_t *bits, int64_t pitch, int64_t lines, int64_t span, const uint8_t *clear,
                        int64_t tile_line, int64_t tile_step, int64_t tiles, int64_t *counts, uint64_t *turned,
                        Run *runs)
{
    const int64_t most = span / 2 + 2;
    Ring rings[2] = {{runs, most, {0}}, {runs + KEPT * most, most, {0}}};
    for (int64_t i = 0; i < 2 * KEPT; i++)
        runs[i * most] = (Run){0, 0, 0, 0};
    for (int64_t line = 0; line < lines + FOLLOWED; line++) {
        const int64_t tile = line / TILE * tile_line;
        rings[0].count[line % KEPT] = rings[1].count[line % KEPT] = 0;
        if (turned && line < lines && line % TILE == 0)
            turn_tiles(bits + line / TILE, pitch, span, clear + tile, tile_step, turned);
        if (line < lines)
            gather_runs(turned ? turned + line % TILE * ((span + TILE - 1) / TILE) : bits + line * pitch, line, span,
                        clear, tile, tile_step, rings);
        for (int kind = 0; kind < 2; kind++)
            follow_runs(&rings[kind], line, counts + kind * tiles * (WIDEST + 1));
    }
}

/* Adds to `counts` (gaps, then strokes; for each tile, for each length up to WIDEST) the runs that last, along rows of
   the mask and along its columns.

   The mask has `lines` rows of `span` bits, in words of 64, the lowest bit first, `pitch` words from one row to the next;
   what a last word holds beyond is no matter. `clear` and `counts` are of tiles, `tile_line` from a row of tiles to the
   next and `tile_step` along it, `tiles` in all. `busy` is as `clear`, all 0. `turned` holds 64 * ((lines + 63) / 64)
   words, `runs` 32 * (max(lines, span) / 2 + 2) runs of four numbers. */
PUBLIC void count_runs(const uint64_t *bits, int64_t pitch, int64_t lines, int64_t span, const uint8_t *clear,
                       int64_t tile_line, int64_t tile_step, int64_t tiles, int64_t *counts, uint8_t *busy,
                       uint64_t *turned, int32_t *runs)
{
    count_along(bits, pitch, lines, span, clear, tile_line, tile_step, tiles, counts, NULL, (Run *)runs);
    for (int64_t line = 1; line < lines; line++)
        note_changes(bits + line * pitch, bits + (line - 1) * pitch, span, line / TILE * tile_line, tile_step, busy);
    for (int64_t i = 0; i < tiles; i++)
        busy[i] &= clear[i];
    count_along(bits, pitch, span, lines, busy, tile_step, tile_line, tiles, counts, turned, (Run *)runs);
}
