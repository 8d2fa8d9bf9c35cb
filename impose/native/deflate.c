/* Deflates filtered rows (RFC 1951), looking for runs of one byte and no other repeats. Twin: zlib's strategy Z_RLE, which
   writes other bytes for the same rows: impose/art/codec.py gives each way a name of its own.

   A block has codes of its own. A token is a byte, or 256 and a run's length less 3. */
#include "loops.h"

enum { TOKENS = 1 << 16, RUN = 256, SHORTEST = 3, LONGEST = 258, END = 256, SYMBOLS = 286, DEPTH = 15 };

/* Bits that are no whole byte yet, the first of them lowest. */
typedef struct {
    uint64_t bits;
    int64_t count;
    uint8_t *out;
} BitWriter;

/* A code and its length in bits: for a run those of its length, of the extra bits and of the distance 1. */
typedef struct {
    uint32_t bits, length;
} Code;

static inline void add_bits(BitWriter *to, uint64_t bits, int64_t length)
{
    to->bits |= bits << to->count;
    to->count += length;
}

/* Writes whole bytes, of up to 63 bits that were added; what lies behind them in `out` is of no matter. */
static inline void put_bytes(BitWriter *to)
{
    memcpy(to->out, &to->bits, 8);
    to->out += to->count >> 3;
    to->bits >>= to->count & ~7;
    to->count &= 7;
}

static inline void put_bits(BitWriter *to, uint64_t bits, int64_t length)
{
    add_bits(to, bits, length);
    put_bytes(to);
}

/* The symbol of a run's length, the extra bits it has and the length it begins at (section 3.2.5). */
static int32_t choose_length_symbol(int32_t length, int32_t *extra, int32_t *first)
{
    *extra = 0, *first = length;
    if (length == LONGEST)
        return 285;
    if (length < 11)
        return 254 + length;
    const int32_t over = length - SHORTEST;
    *extra = 29 - __builtin_clz((uint32_t)over);
    *first = (over >> *extra << *extra) + SHORTEST;
    return 257 + 4 * *extra + (over >> *extra);
}

/* How many bytes from `at` on are those of `eight`, at most `most`. */
static int64_t measure_run(const uint8_t *at, int64_t most, uint64_t eight)
{
    int64_t length = 0;
    for (; length + 8 <= most; length += 8) {
        uint64_t word;
        memcpy(&word, at + length, 8);
        if (word != eight)
            return length + __builtin_ctzll(word ^ eight) / 8;
    }
    while (length < most && at[length] == (uint8_t)eight)
        length++;
    return length;
}

/* Makes tokens of bytes from `*at` on, as many as a block has, and counts them; returns how many. */
static int64_t find_tokens(const uint8_t *bytes, int64_t *at, int64_t length, uint16_t *tokens,
                           uint32_t counts[2][2 * RUN])
{
    int64_t made = 0, i = *at;
    for (; i < length && made < TOKENS; made++) {
        int32_t token = bytes[i];
        uint32_t four = 1; /* no run */
        if (i > 0 && i + SHORTEST <= length)
            memcpy(&four, bytes + i - 1, 4);
        if (four == (four >> 8 | four << 24)) {
            const int64_t most = length - i < LONGEST ? length - i : LONGEST;
            const int64_t run = measure_run(bytes + i, most, 0x0101010101010101ull * (uint64_t)token);
            token = RUN + (int32_t)run - SHORTEST;
            i += run;
        } else
            i++;
        counts[made & 1][token]++; /* a processor waits for a number that it has just changed */
        tokens[made] = (uint16_t)token;
    }
    *at = i;
    return made;
}

/* Symbols that occur, the rarest first and then by number: in two passes, by the lower byte of their counts and by the
   rest, which is less than 512 since a block has few tokens. */
static int32_t sort_symbols(const uint32_t *counts, uint16_t *order)
{
    uint16_t first[SYMBOLS];
    uint32_t places[2][513] = {{0}};
    int32_t used = 0;
    for (int32_t i = 0; i < SYMBOLS; i++)
        if (counts[i]) {
            first[used++] = (uint16_t)i;
            places[0][(counts[i] & 255) + 1]++;
            places[1][(counts[i] >> 8) + 1]++;
        }
    for (int32_t i = 0; i < 512; i++) {
        places[0][i + 1] += places[0][i];
        places[1][i + 1] += places[1][i];
    }
    uint16_t second[SYMBOLS];
    for (int32_t i = 0; i < used; i++)
        second[places[0][counts[first[i]] & 255]++] = first[i];
    for (int32_t i = 0; i < used; i++)
        order[places[1][counts[second[i]] >> 8]++] = second[i];
    return used;
}

/* How many codes have each length, of two or more symbols in order: the shortest there are for all together (Huffman 1952),
   but that none is longer than DEPTH. */
static void count_lengths(const uint32_t *counts, const uint16_t *order, int32_t used, int32_t *lengths)
{
    uint32_t weights[2 * SYMBOLS];
    int32_t above[2 * SYMBOLS], depths[2 * SYMBOLS];
    for (int32_t i = 0; i < used; i++)
        weights[i] = counts[order[i]];
    int32_t leaf = 0, node = used;
    for (int32_t next = used; next < 2 * used - 1; next++) {
        weights[next] = 0;
        for (int side = 0; side < 2; side++) {
            const int32_t least = leaf < used && (node >= next || weights[leaf] <= weights[node]) ? leaf++ : node++;
            weights[next] += weights[least];
            above[least] = next;
        }
    }
    depths[2 * used - 2] = 0;
    for (int32_t i = 2 * used - 3; i >= 0; i--) {
        depths[i] = depths[above[i]] + 1;
        if (i < used)
            lengths[depths[i] < DEPTH ? depths[i] : DEPTH]++;
    }
    /* What was cut off takes more than there is: each time one of the longest goes below one that is shorter. */
    int64_t taken = 0;
    for (int32_t i = 1; i <= DEPTH; i++)
        taken += (int64_t)lengths[i] << (DEPTH - i);
    for (; taken > 1 << DEPTH; taken--) {
        int32_t i = DEPTH - 1;
        while (!lengths[i])
            i--;
        lengths[DEPTH]--, lengths[i]--;
        lengths[i + 1] += 2;
    }
}

static uint32_t reverse_bits(uint32_t code, int32_t length)
{
    uint32_t made = 0;
    for (int32_t i = 0; i < length; i++)
        made |= (code >> i & 1) << (length - 1 - i);
    return made;
}

/* The codes of symbols that occur so many times, none for those that do not (sections 3.2.2 and 3.2.7). */
static void make_codes(const uint32_t *counts, Code *codes)
{
    uint16_t order[SYMBOLS];
    int32_t lengths[DEPTH + 1] = {0};
    const int32_t used = sort_symbols(counts, order);
    count_lengths(counts, order, used, lengths);
    memset(codes, 0, SYMBOLS * sizeof *codes);
    for (int32_t length = DEPTH, i = 0; length > 0; length--)
        for (int32_t k = 0; k < lengths[length]; k++)
            codes[order[i++]].length = (uint32_t)length;
    uint32_t next[DEPTH + 1] = {0};
    for (int32_t length = 1; length < DEPTH; length++)
        next[length + 1] = (next[length] + (uint32_t)lengths[length]) << 1;
    for (int32_t i = 0; i < SYMBOLS; i++)
        if (codes[i].length)
            codes[i].bits = reverse_bits(next[codes[i].length]++, (int32_t)codes[i].length);
}

/* A block's head: lengths of codes as four bits each, which takes no codes of their own. */
static void put_head(BitWriter *to, const Code *codes)
{
    static const uint8_t places[19] = {0, 0, 0, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4, 4};
    put_bits(to, 2 << 1, 3);                  /* not the last, with codes of its own */
    put_bits(to, 29 | 1 << 5 | 15 << 10, 14); /* so many codes: all lengths, two distances, all of those */
    for (int i = 0; i < 19; i++)
        put_bits(to, places[i], 3);
    for (int i = 0; i < SYMBOLS + 2; i++) /* of the two distances each has one bit */
        put_bits(to, reverse_bits(i < SYMBOLS ? codes[i].length : 1, 4), 4);
}

static void put_block(BitWriter *to, const uint16_t *tokens, int64_t made, uint32_t found[2][2 * RUN])
{
    uint32_t counts[SYMBOLS] = {0};
    int32_t symbols[LONGEST + 1], extras[LONGEST + 1], firsts[LONGEST + 1];
    for (int i = 0; i < RUN; i++)
        counts[i] = found[0][i] + found[1][i];
    counts[END] = 1;
    for (int32_t length = SHORTEST; length <= LONGEST; length++) {
        symbols[length] = choose_length_symbol(length, &extras[length], &firsts[length]);
        counts[symbols[length]] += found[0][RUN + length - SHORTEST] + found[1][RUN + length - SHORTEST];
    }
    Code codes[SYMBOLS], of_tokens[2 * RUN];
    make_codes(counts, codes);
    memcpy(of_tokens, codes, RUN * sizeof *codes);
    for (int32_t length = SHORTEST; length <= LONGEST; length++) {
        const Code code = codes[symbols[length]];
        const uint32_t more = (uint32_t)(length - firsts[length]);
        of_tokens[RUN + length - SHORTEST] =
            (Code){code.bits | more << code.length, code.length + (uint32_t)extras[length] + 1};
    }
    put_head(to, codes);
    BitWriter writer = *to; /* in registers */
    for (int64_t i = 0; i < made; i++) {
        add_bits(&writer, of_tokens[tokens[i]].bits, of_tokens[tokens[i]].length);
        if (++i < made)
            add_bits(&writer, of_tokens[tokens[i]].bits, of_tokens[tokens[i]].length);
        put_bytes(&writer);
    }
    put_bits(&writer, codes[END].bits, codes[END].length);
    *to = writer;
}

/* Deflates bytes into blocks, none of them the last; returns how many bytes `out` got, which has room for two for each of
   them, 256 more for each 65,536 begun, and 16. `held` are the bits that are no whole byte yet, and their count; `tokens`
   has room for 65,536. */
PUBLIC int64_t deflate_runs(const uint8_t *bytes, int64_t length, uint64_t *held, uint16_t *tokens, uint8_t *out)
{
    BitWriter to = {held[0], (int64_t)held[1], out};
    for (int64_t at = 0; at < length;) {
        uint32_t counts[2][2 * RUN] = {{0}};
        const int64_t made = find_tokens(bytes, &at, length, tokens, counts);
        put_block(&to, tokens, made, counts);
    }
    held[0] = to.bits;
    held[1] = (uint64_t)to.count;
    return to.out - out;
}
