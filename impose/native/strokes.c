/* Runs of ink and of gaps that go on from line to line. Twin: impose/art/faults/thin.py, which says what counts. */
#include "loops.h"

enum { TILE = 64, WIDEST = 24, FOLLOWED = 8, KEPT = 16 };

/* Runs of one kind on the last lines, in rings of KEPT of them, each with room for `most`: where each begins, how long it
   is, and which run it is like some lines on. Those of a line are from 1 on: 0 stands for none and is followed by none,
   and behind the last one lies a run that is far from all. */
typedef struct {
    int32_t *places, *nexts;
    uint8_t *lengths;
    int64_t most;
    int64_t count[KEPT];
} Ring;

static int64_t find_line(const Ring *ring, int64_t line)
{
    return (line % KEPT) * ring->most;
}

/* For each run of the line before the one that it is like, the first of those within a pixel. */
static void link_lines(Ring *ring, int64_t line)
{
    const int64_t before = find_line(ring, line - 1), here = find_line(ring, line);
    const int32_t *places = ring->places + here;
    const uint8_t *lengths = ring->lengths + here;
    int32_t nearest = 1;
    for (int64_t i = 1; i <= ring->count[(line - 1) % KEPT]; i++) {
        const int32_t place = ring->places[before + i], length = ring->lengths[before + i];
        while (places[nearest] < place - 1)
            nearest++;
        /* Two of a kind are two pixels apart at least. */
        const int first = (places[nearest] <= place + 1) & (abs(lengths[nearest] - length) <= 1);
        const int second = (places[nearest + 1] <= place + 1) & (abs(lengths[nearest + 1] - length) <= 1);
        ring->nexts[before + i] = first ? nearest : second ? nearest + 1 : 0;
    }
}

/* Of runs that are linked to those `steps` lines on, and these so far again: links twice as far. */
static void double_links(Ring *ring, int64_t line, int64_t steps)
{
    int32_t *nexts = ring->nexts + find_line(ring, line);
    const int32_t *after = ring->nexts + find_line(ring, line + steps);
    for (int64_t i = 1; i <= ring->count[line % KEPT]; i++)
        nexts[i] = after[nexts[i]];
}

/* Counts the runs of a line that are still there FOLLOWED lines on, in tiles and by length. */
static void count_lasting(const Ring *ring, int64_t line, int64_t tile, int64_t tile_step, int64_t *counts)
{
    const int64_t here = find_line(ring, line);
    const uint8_t *last = ring->lengths + find_line(ring, line + FOLLOWED);
    for (int64_t i = here + 1; i <= here + ring->count[line % KEPT]; i++)
        if (ring->nexts[i] && abs(last[ring->nexts[i]] - ring->lengths[i]) <= 1)
            counts[(tile + ring->places[i] / TILE * tile_step) * (WIDEST + 1) + ring->lengths[i]]++;
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
    const int64_t start = find_line(rings, number);
    int64_t counts[2] = {0, 0};
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
            const int64_t kind = (int64_t)(word >> begin & 1), at = start + ++counts[kind];
            rings[kind].places[at] = (int32_t)from + begin;
            rings[kind].lengths[at] = (uint8_t)(end - begin);
        }
    }
    for (int kind = 0; kind < 2; kind++) {
        rings[kind].count[number % KEPT] = counts[kind];
        rings[kind].places[start + counts[kind] + 1] = INT32_MAX;
        rings[kind].lengths[start + counts[kind] + 1] = 0;
        rings[kind].places[start + counts[kind] + 2] = INT32_MAX;
        rings[kind].lengths[start + counts[kind] + 2] = 0;
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

/* Follows the runs along lines: rows of the mask or, where `turned` is there, columns, which are turned into it first. */
static void count_along(const uint64_t *bits, int64_t pitch, int64_t lines, int64_t span, const uint8_t *clear,
                        int64_t tile_line, int64_t tile_step, int64_t tiles, int64_t *counts, uint64_t *turned,
                        int32_t *numbers, uint8_t *lengths)
{
    const int64_t most = span / 2 + 4, all = KEPT * most, words = (span + TILE - 1) / TILE;
    Ring rings[2] = {{numbers, numbers + all, lengths, most, {0}},
                     {numbers + 2 * all, numbers + 3 * all, lengths + all, most, {0}}};
    for (int64_t i = 0; i < all; i += most)
        rings[0].nexts[i] = rings[1].nexts[i] = 0;
    for (int64_t line = 0; line < lines + FOLLOWED; line++) {
        const int64_t tile = line / TILE * tile_line, left = line - FOLLOWED;
        if (turned && line < lines && line % TILE == 0)
            turn_tiles(bits + line / TILE, pitch, span, clear + tile, tile_step, turned);
        const uint64_t *at = turned ? turned + line % TILE * words : bits + (line < lines ? line * pitch : 0);
        gather_runs(at, line, line < lines ? span : 0, clear, tile, tile_step, rings);
        for (int kind = 0; kind < 2; kind++) {
            if (line >= 1)
                link_lines(&rings[kind], line);
            for (int64_t steps = 1; steps < FOLLOWED; steps *= 2)
                if (line >= 2 * steps)
                    double_links(&rings[kind], line - 2 * steps, steps);
            if (left >= 0)
                count_lasting(&rings[kind], left, left / TILE * tile_line, tile_step,
                              counts + kind * tiles * (WIDEST + 1));
        }
    }
}

/* Adds to `counts` (gaps, then strokes; for each tile, for each length up to WIDEST) the runs that last, along rows of
   the mask and along its columns.

   The mask has `lines` rows of `span` bits, in words of 64, the lowest bit first, `pitch` words from one row to the next;
   what a last word holds beyond is no matter. `clear` and `counts` are of tiles, `tile_line` from a row of tiles to the
   next and `tile_step` along it, `tiles` in all. `busy` is as `clear`, all 0. `turned` holds 64 * ((lines + 63) / 64)
   words, `numbers` 64 * (max(lines, span) / 2 + 4) numbers and `lengths` half as many bytes. */
PUBLIC void count_runs(const uint64_t *bits, int64_t pitch, int64_t lines, int64_t span, const uint8_t *clear,
                       int64_t tile_line, int64_t tile_step, int64_t tiles, int64_t *counts, uint8_t *busy,
                       uint64_t *turned, int32_t *numbers, uint8_t *lengths)
{
    count_along(bits, pitch, lines, span, clear, tile_line, tile_step, tiles, counts, NULL, numbers, lengths);
    for (int64_t line = 1; line < lines; line++)
        note_changes(bits + line * pitch, bits + (line - 1) * pitch, span, line / TILE * tile_line, tile_step, busy);
    for (int64_t i = 0; i < tiles; i++)
        busy[i] &= clear[i];
    count_along(bits, pitch, span, lines, busy, tile_step, tile_line, tiles, counts, turned, numbers, lengths);
}
