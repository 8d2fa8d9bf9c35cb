/* Averages over squares of decoded pixels, as Pillow's `Image.reduce` makes them. Pixels are as in survey.c.

   Where a picture is stored mirrored, squares are counted from its right edge: the first of a row is then `lead` pixels
   wide, and all others are whole. */
#include "pixels.h"

/* Eight numbers of two bytes. */
typedef uint16_t EightHalves __attribute__((vector_size(16)));

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
    for (int64_t y = 0; side == 1 && y < height; y++)
        memcpy(out + y * count, pixels + y * stride, (size_t)count);
    for (int64_t y = 0; side > 1 && y < height;) {
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

/* Both at once, of opaque pixels: every few rows are surveyed and then averaged, while they are at hand. */
PUBLIC void survey_and_average(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                               int32_t levels, int64_t lead, uint8_t *blocks, uint64_t *solid, int64_t step,
                               int64_t across, int32_t mirrored, uint8_t *scratch, uint64_t *row_bits, int64_t side,
                               int64_t side_lead, uint8_t *averages, uint16_t *sums)
{
    const int64_t columns = (width - lead + BLOCK - 1) / BLOCK + 1, words = ((width - across + step - 1) / step + 63) / 64;
    const int64_t squares = (width - side_lead + side - 1) / side + 1, band = step < 16 ? 16 : step;
    int64_t held = 0;
    for (int64_t y = 0; y < height; y += band) {
        const int64_t high = y + band < height ? band : height - y;
        const uint8_t *rows = pixels + y * stride;
        survey_pixels(rows, stride, width, high, channels, 0, levels, lead, blocks + y / BLOCK * columns,
                      solid + y / step * words, step, across, 0, mirrored, scratch, row_bits);
        held = average_squares(rows, stride, width, high, channels, side, side_lead, held, y + high == height,
                               averages + y / side * squares * channels, sums);
    }
}
