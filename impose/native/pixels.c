/* Passes over decoded pixels: ink by blocks, clear ink, averages over squares. Twins: impose/art/pixel_loops.py.

   Pixels are rows of `width` times `channels` bytes (1 grey, 2 grey and alpha, 4 colour and a filler or alpha); the next
   row begins `stride` bytes on, which may be less than nothing. Where a picture is stored mirrored, squares are counted
   from its right edge: the first of a row is then `lead` pixels wide, and all others are whole. */
#include "loops.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { BLOCK = 8, PIECE = 64, STRIP = 256 };

/* Four numbers of four bytes, and eight of two. */
typedef uint32_t FourWords __attribute__((vector_size(16)));
typedef int32_t FourSigned __attribute__((vector_size(16)));
typedef uint16_t EightHalves __attribute__((vector_size(16)));

/* Of up to eight rows the least of each byte, and with alpha the most; so many bytes at once as registers hold. */
static void gather_extremes(const uint8_t *restrict rows, int64_t stride, int64_t high, int64_t count,
                            uint8_t *restrict least, uint8_t *restrict most)
{
    int64_t at = 0;
    for (; at + PIECE <= count; at += PIECE) {
        uint8_t low[PIECE];
        memcpy(low, rows + at, PIECE);
        for (int64_t y = 1; y < high; y++) {
            const uint8_t *restrict row = rows + y * stride + at;
            for (int i = 0; i < PIECE; i++)
                low[i] = row[i] < low[i] ? row[i] : low[i];
        }
        memcpy(least + at, low, PIECE);
        if (!most)
            continue;
        memcpy(low, rows + at, PIECE);
        for (int64_t y = 1; y < high; y++) {
            const uint8_t *restrict row = rows + y * stride + at;
            for (int i = 0; i < PIECE; i++)
                low[i] = row[i] > low[i] ? row[i] : low[i];
        }
        memcpy(most + at, low, PIECE);
    }
    for (; at < count; at++) {
        uint8_t low = rows[at], high_byte = rows[at];
        for (int64_t y = 1; y < high; y++) {
            const uint8_t here = rows[y * stride + at];
            low = here < low ? here : low;
            high_byte = here > high_byte ? here : high_byte;
        }
        least[at] = low;
        if (most)
            most[at] = high_byte;
    }
}

/* The tint that a pixel may have, of the least and the most of its bytes. */
static int32_t bound_tint(const uint8_t *least, const uint8_t *most, int32_t channels)
{
    int32_t low = least[0];
    if (channels == 4) {
        low = least[1] < low ? least[1] : low;
        low = least[2] < low ? least[2] : low;
    }
    return most ? most[channels - 1] * (255 - low) : 255 - low;
}

/* The most tint of eight opaque pixels of four bytes. */
static int32_t bound_whole_block(const uint8_t *restrict least)
{
    uint8_t half[16];
    for (int i = 0; i < 16; i++)
        half[i] = least[i] < least[16 + i] ? least[i] : least[16 + i];
    for (int i = 0; i < 8; i++)
        half[i] = half[i] < half[8 + i] ? half[i] : half[8 + i];
    for (int i = 0; i < 4; i++)
        half[i] = half[i] < half[4 + i] ? half[i] : half[4 + i];
    return bound_tint(half, NULL, 4);
}

/* Which blocks may hold ink, of the extremes of their rows. */
static void judge_blocks(const uint8_t *least, const uint8_t *most, int64_t width, int32_t channels, int64_t lead,
                         int32_t levels, uint8_t *blocks)
{
    const int32_t enough = most ? 255 * levels - 128 : levels;
    int64_t end = lead < width ? lead : width;
    for (int64_t x = 0; x < width; end = end + BLOCK < width ? end + BLOCK : width) {
        int32_t tint = 0;
        if (!most && channels == 4 && end - x == BLOCK) {
            tint = bound_whole_block(least + 4 * x);
            x = end;
        }
        for (; x < end; x++) {
            int32_t here = bound_tint(least + x * channels, most ? most + x * channels : NULL, channels);
            tint = here > tint ? here : tint;
        }
        *blocks++ = tint >= enough;
    }
}

/* Clear ink: less than level 192 in a channel and, with alpha, at least half opaque. */
static uint32_t is_solid(const uint8_t *pixel, int32_t channels, int32_t alpha)
{
    uint32_t light = pixel[0] >= 192;
    if (channels == 4)
        light &= (pixel[1] >= 192) & (pixel[2] >= 192);
    return (light ^ 1) & (uint32_t)(!alpha || pixel[channels - 1] >= 128);
}

/* Eight bytes of 0 or 1 as eight bits, the first the lowest. */
static inline uint64_t gather_bits(uint64_t bytes)
{
    return bytes * 0x0102040810204080ull >> 56;
}

/* All bits set in each of four pixels of four bytes that is no clear ink. */
static inline FourWords find_light(const uint8_t *row, int alpha)
{
    const FourWords bits = {0x00C0C0C0u, 0x00C0C0C0u, 0x00C0C0C0u, 0x00C0C0C0u};
    FourWords words;
    memcpy(&words, row, 16);
    const FourWords light = (FourWords)((words & bits) == bits);
    return alpha ? light | (FourWords)((FourSigned)words >= 0) : light;
}

#ifdef __SSE2__
/* Clear ink of 16 pixels of four bytes: this processor takes a bit of each of sixteen bytes at once. */
static inline uint64_t mark_sixteen(const uint8_t *row, int alpha)
{
    FourWords light[4];
    for (int i = 0; i < 4; i++)
        light[i] = find_light(row + 16 * i, alpha);
    const __m128i low = _mm_packs_epi32((__m128i)light[0], (__m128i)light[1]);
    const __m128i high = _mm_packs_epi32((__m128i)light[2], (__m128i)light[3]);
    return (uint64_t)_mm_movemask_epi8(_mm_packs_epi16(low, high)) ^ 0xFFFFu;
}
#else
static inline uint64_t mark_sixteen(const uint8_t *row, int alpha)
{
    FourWords light = {0, 0, 0, 0}, bits = {1, 2, 4, 8};
    for (int i = 0; i < 64; i += 16, bits <<= 4)
        light |= find_light(row + i, alpha) & bits;
    return (light[0] | light[1] | light[2] | light[3]) ^ 0xFFFFu;
}
#endif

/* Clear ink of whole words of 64 pixels of four bytes. */
static inline void mark_words(const uint8_t *row, int64_t words, int alpha, uint64_t *out)
{
    for (int64_t i = 0; i < words; i++, row += 256)
        out[i] = mark_sixteen(row, alpha) | mark_sixteen(row + 64, alpha) << 16 | mark_sixteen(row + 128, alpha) << 32
                 | mark_sixteen(row + 192, alpha) << 48;
}

/* Clear ink of eight pixels of one byte: those that lack one of the two highest bits. */
static uint64_t mark_bytes(const uint8_t *row)
{
    uint64_t bytes;
    memcpy(&bytes, row, 8);
    return gather_bits(~(bytes & bytes << 1) >> 7 & 0x0101010101010101ull);
}

/* Clear ink of every `step`-th pixel of a row, `marked` of them, as bits, the lowest first. */
static void mark_solid(const uint8_t *row, int64_t marked, int32_t channels, int32_t alpha, int64_t step,
                       uint64_t *bits)
{
    const int64_t next = step * channels;
    int64_t at = step == 1 && channels == 4 ? marked / 64 * 64 : 0;
    if (alpha)
        mark_words(row, at / 64, 1, bits);
    else
        mark_words(row, at / 64, 0, bits);
    row += at * next, bits += at / 64;
    for (; at < marked; at += 64, row += 64 * next) {
        const int64_t count = marked - at < 64 ? marked - at : 64;
        uint64_t word = 0;
        int64_t i = 0;
        if (step == 1 && channels == 1)
            for (; i + 8 <= count; i += 8)
                word |= mark_bytes(row + i) << i;
        for (; i < count; i++)
            word |= (uint64_t)is_solid(row + i * next, channels, alpha) << i;
        *bits++ = word;
    }
}

static uint64_t reverse_bits(uint64_t word)
{
    word = (word >> 1 & 0x5555555555555555ull) | (word & 0x5555555555555555ull) << 1;
    word = (word >> 2 & 0x3333333333333333ull) | (word & 0x3333333333333333ull) << 2;
    word = (word >> 4 & 0x0F0F0F0F0F0F0F0Full) | (word & 0x0F0F0F0F0F0F0F0Full) << 4;
    return __builtin_bswap64(word);
}

/* The bits of a row in the other order: the last of `marked` becomes the first. */
static void mirror_bits(const uint64_t *bits, int64_t marked, uint64_t *out)
{
    const int64_t words = (marked + 63) / 64;
    const int shift = (int)(words * 64 - marked);
    for (int64_t i = 0; i < words; i++) {
        const uint64_t *from = bits + words - 1 - i;
        uint64_t word = *from << shift;
        if (shift && i + 1 < words)
            word |= from[-1] >> (64 - shift);
        out[i] = reverse_bits(word);
    }
}

/* Maps ink in blocks of 8 x 8 and, where `solid` is there, marks clear ink in every `step`-th pixel and row.

   `alpha` says whether the last channel is one. The first block of a row is `lead` pixels wide.
   `solid` begins at the pixel `across` of the row `down`; a row of it has as many bits as there are such pixels from
   there on, in whole words of 64, the lowest first; `mirrored`, the last pixel is the first bit. `scratch` holds
   2 * width * channels bytes, `row_bits` eight rows of `solid`. */
PUBLIC void survey_pixels(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                          int32_t alpha, int32_t levels, int64_t lead, uint8_t *blocks, uint64_t *solid,
                          int64_t step, int64_t across, int64_t down, int32_t mirrored, uint8_t *scratch,
                          uint64_t *row_bits)
{
    const int64_t columns = (width - lead + BLOCK - 1) / BLOCK + 1;
    const int64_t marked = across < width ? (width - across + step - 1) / step : 0, words = (marked + 63) / 64;
    const int64_t strip = step == 1 ? STRIP : width; /* so much of eight rows stays at hand */
    uint8_t *least = scratch, *most = alpha ? scratch + width * channels : NULL;
    for (int64_t y = 0; y < height; y += BLOCK) {
        const int64_t high = y + BLOCK < height ? BLOCK : height - y;
        const int64_t first = solid && y < down ? down - y : solid ? (step - (y - down) % step) % step : high;
        for (int64_t x = 0; x < width; x += strip) {
            const int64_t wide = x + strip < width ? strip : width - x, at = x * channels;
            const uint8_t *rows = pixels + y * stride + at;
            gather_extremes(rows, stride, high, wide * channels, least + at, most ? most + at : NULL);
            uint64_t *bits = mirrored ? row_bits : solid;
            for (int64_t i = first; i < high; i += step, bits += words)
                mark_solid(rows + i * stride + across * channels, step == 1 ? wide : marked, channels, alpha, step,
                           bits + x / 64);
        }
        judge_blocks(least, most, width, channels, lead, levels, blocks);
        blocks += columns;
        for (int64_t i = first, row = 0; i < high; i += step, solid += words)
            if (mirrored)
                mirror_bits(row_bits + row++ * words, marked, solid);
    }
}

/* What a square is divided by: the sum of `area` pixels as Pillow rounds it. */
typedef struct {
    uint32_t half, factor;
    int32_t small, shift; /* whether the sum fits 16 bits; the area as a power of two, -1 if it is none */
} Divisor;

static Divisor divide_by(int64_t area)
{
    const int shift = area & (area - 1) ? -1 : __builtin_ctzll((uint64_t)area);
    return (Divisor){(uint32_t)area / 2, (uint32_t)((1ull << 32) / (256ull * (uint64_t)area)), area <= 256, shift};
}

static uint64_t spread_halves(uint32_t word)
{
    return (word & 0xFFFFu) | (uint64_t)(word >> 16) << 32;
}

/* Sums of red and blue, or of green and the fourth, of `wide` pixels: all fit 16 bits. */
static inline uint32_t add_small(const uint16_t *sums, int64_t wide)
{
    uint64_t two, total = 0;
    uint32_t word = 0;
    int64_t x = 0;
    for (; x + 2 <= wide; x += 2) {
        memcpy(&two, sums + 2 * x, 8);
        total += two;
    }
    if (x < wide)
        memcpy(&word, sums + 2 * x, 4);
    return (uint32_t)total + (uint32_t)(total >> 32) + word;
}

static uint64_t add_large(const uint16_t *sums, int64_t wide)
{
    uint64_t total = 0;
    for (int64_t x = 0; x < wide; x++)
        total += sums[2 * x] | (uint64_t)sums[2 * x + 1] << 32;
    return total;
}

/* One average of four bytes, of two sums of two. */
static inline uint32_t divide_words(uint64_t even, uint64_t odd, Divisor by)
{
    const uint64_t half = by.half | (uint64_t)by.half << 32;
    even = (even + half) * by.factor, odd = (odd + half) * by.factor;
    return (uint32_t)(even >> 24 & 255) | (uint32_t)(odd >> 24 & 255) << 8 | (uint32_t)(even >> 56) << 16
           | (uint32_t)(odd >> 56) << 24;
}

/* Averages of squares that are all `side` wide, so few that the compiler writes out the sum. */
static inline void average_small(const uint16_t *even, const uint16_t *odd, int64_t squares, int64_t side, Divisor by,
                                 uint8_t *out)
{
    const uint32_t half = by.half | by.half << 16;
    for (int64_t i = 0; i < squares; i++, even += 2 * side, odd += 2 * side, out += 4) {
        const uint32_t first = add_small(even, side), second = add_small(odd, side);
        uint32_t word = ((first + half) >> (by.shift & 31) & 0x00FF00FFu)
                        | ((second + half) >> (by.shift & 31) & 0x00FF00FFu) << 8;
        if (by.shift < 0)
            word = divide_words(spread_halves(first), spread_halves(second), by);
        __asm__("" : "+r"(word)); /* several squares at once, as compilers would have it, take twice as long */
        memcpy(out, &word, 4);
    }
}

/* Averages of four bytes of squares `wide` pixels wide, of sums down the columns. */
static void average_words(const uint16_t *even, const uint16_t *odd, int64_t squares, int64_t wide, Divisor by,
                          uint8_t *out)
{
    switch (by.small ? wide : 0) {
    case 0:
        for (int64_t i = 0; i < squares; i++, even += 2 * wide, odd += 2 * wide) {
            const uint32_t word = divide_words(add_large(even, wide), add_large(odd, wide), by);
            memcpy(out + 4 * i, &word, 4);
        }
        return;
    case 2: average_small(even, odd, squares, 2, by, out); return;
    case 3: average_small(even, odd, squares, 3, by, out); return;
    case 4: average_small(even, odd, squares, 4, by, out); return;
    case 5: average_small(even, odd, squares, 5, by, out); return;
    case 6: average_small(even, odd, squares, 6, by, out); return;
    default: average_small(even, odd, squares, wide, by, out);
    }
}

/* One average of one byte. */
static uint8_t average_bytes(const uint16_t *sums, int64_t wide, Divisor by)
{
    uint32_t total = by.half;
    for (int64_t x = 0; x < wide; x++)
        total += sums[x];
    return (uint8_t)(total * by.factor >> 24);
}

/* One row of averages, of sums down the columns of squares `high` rows high: first, whole and last ones. */
static void average_row(const uint16_t *sums, int64_t width, int32_t channels, int64_t side, int64_t lead, int64_t high,
                        uint8_t *out)
{
    const int64_t first = lead < width ? lead : width, whole = (width - first) / side;
    const int64_t parts[3][2] = {{1, first}, {whole, side}, {1, (width - first) % side}};
    for (int part = 0; part < 3; part++) {
        const int64_t squares = parts[part][0], wide = parts[part][1];
        if (!squares || !wide)
            continue;
        const Divisor by = divide_by(wide * high);
        if (channels == 4)
            average_words(sums, sums + 2 * width, squares, wide, by, out);
        else
            for (int64_t i = 0; i < squares; i++)
                out[i] = average_bytes(sums + i * wide, wide, by);
        sums += squares * wide * (channels == 4 ? 2 : 1);
        out += squares * channels;
    }
}

/* Adds rows of bytes to what `sums` hold; `fresh`, they hold nothing. */
static void add_rows(const uint8_t *pixels, int64_t stride, int64_t rows, int64_t count, int32_t fresh,
                     uint16_t *restrict sums)
{
    if (fresh)
        memset(sums, 0, (size_t)count * sizeof *sums);
    for (int64_t y = 0; y < rows; y++) {
        const uint8_t *restrict row = pixels + y * stride;
        for (int64_t i = 0; i < count; i++)
            sums[i] = (uint16_t)(sums[i] + row[i]);
    }
}

/* The same of pixels of four bytes: sums of red and blue of all pixels, then of green and the fourth. */
static void add_word_rows(const uint8_t *pixels, int64_t stride, int64_t rows, int64_t width, int32_t fresh,
                          uint16_t *restrict sums)
{
    uint16_t *restrict even = sums, *restrict odd = sums + 2 * width;
    int64_t x = 0;
    for (; x + 16 <= width; x += 16) {
        EightHalves low[4] = {{0}}, high[4] = {{0}};
        if (!fresh) {
            memcpy(low, even + 2 * x, sizeof low);
            memcpy(high, odd + 2 * x, sizeof high);
        }
        for (int64_t y = 0; y < rows; y++)
            for (int i = 0; i < 4; i++) {
                EightHalves pairs;
                memcpy(&pairs, pixels + y * stride + 4 * x + 16 * i, 16);
                low[i] += pairs & 255;
                high[i] += pairs >> 8;
            }
        memcpy(even + 2 * x, low, sizeof low);
        memcpy(odd + 2 * x, high, sizeof high);
    }
    for (; x < width; x++) {
        uint32_t low = 0, high = 0, word;
        if (!fresh) {
            memcpy(&low, even + 2 * x, 4);
            memcpy(&high, odd + 2 * x, 4);
        }
        for (int64_t y = 0; y < rows; y++) {
            memcpy(&word, pixels + y * stride + 4 * x, 4);
            low += word & 0x00FF00FFu;
            high += word >> 8 & 0x00FF00FFu;
        }
        memcpy(even + 2 * x, &low, 4);
        memcpy(odd + 2 * x, &high, 4);
    }
}

/* Averages over squares of `side` pixels, at most 256, rounded as Pillow rounds them, of rows that may come in parts.

   Pixels have 1 or 4 channels. `sums` holds width * channels numbers, those of the `held` rows before; returned is how
   many rows are left in it. After the `last` rows none are: the lowest squares may be less high. */
PUBLIC int64_t average_squares(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                               int64_t side, int64_t lead, int64_t held, int32_t last, uint8_t *out, uint16_t *sums)
{
    const int64_t count = width * channels, columns = (width - lead + side - 1) / side + 1;
    for (int64_t y = 0; y < height;) {
        const int64_t rows = height - y < side - held ? height - y : side - held;
        if (channels == 4)
            add_word_rows(pixels + y * stride, stride, rows, width, !held, sums);
        else
            add_rows(pixels + y * stride, stride, rows, count, !held, sums);
        y += rows;
        held += rows;
        if (held == side || (last && y == height)) {
            average_row(sums, width, channels, side, lead, held, out);
            out += columns * channels;
            held = 0;
        }
    }
    return held;
}
