/* PNG's row filters undone (third edition, section 9.2), into pixels of 1 or 4 bytes. Twin: impose/art/unfilter.py. */
#include "loops.h"

/* Pixels that are looked at together. */
enum { PIECE = 8 };

/* A pixel with 16 bits for each of its four bytes, so that sums and differences have room. */
typedef int16_t Wide __attribute__((vector_size(8)));

static Wide spread_bytes(uint32_t word)
{
    uint64_t wide = word;
    wide = (wide | wide << 16) & 0x0000FFFF0000FFFFull;
    wide = (wide | wide << 8) & 0x00FF00FF00FF00FFull;
    Wide made;
    memcpy(&made, &wide, 8);
    return made;
}

static uint32_t join_bytes(Wide value)
{
    uint64_t wide;
    memcpy(&wide, &value, 8);
    wide = (wide | wide >> 8) & 0x0000FFFF0000FFFFull;
    return (uint32_t)(wide | wide >> 16);
}

static uint32_t add_bytes(uint32_t a, uint32_t b)
{
    return ((a & 0x7F7F7F7Fu) + (b & 0x7F7F7F7Fu)) ^ ((a ^ b) & 0x80808080u);
}

static Wide magnitude(Wide value)
{
    const Wide negative = value >> 15;
    return (value ^ negative) - negative;
}

static Wide predict_paeth(Wide left, Wide above, Wide corner)
{
    const Wide down = above - corner, across = left - corner;
    const Wide a = magnitude(down), b = magnitude(across), c = magnitude(down + across);
    const Wide by_corner = c < b, other = (b < a) | (c < a);
    const Wide second = (by_corner & corner) | (~by_corner & above);
    return (other & second) | (~other & left);
}

static uint32_t read_pixel(const uint8_t *at, int32_t channels)
{
    uint32_t word = 0;
    if (channels == 4)
        memcpy(&word, at, 4);
    else
        word = at[0] | (uint32_t)at[1] << 8 | (uint32_t)at[2] << 16;
    return word;
}

/* Whether `count` bytes, a multiple of 8, are all those of `eight`. */
static inline int is_all(const uint8_t *at, int64_t count, uint64_t eight)
{
    uint64_t other = 0;
    for (int64_t i = 0; i < count; i += 8) {
        uint64_t word;
        memcpy(&word, at + i, 8);
        other |= word ^ eight;
    }
    return !other;
}

static inline void fill_pixels(uint8_t *out, uint64_t made)
{
    const uint64_t two = made | made << 32;
    for (int i = 0; i < PIECE / 2; i++)
        memcpy(out + 8 * i, &two, 8);
}

/* Where the pixels above and above to the left are alike, as in flat artwork, the left one is what is predicted; and most
   often it is what comes, of many pixels together. */
static inline void undo_paeth(const uint8_t *row, const uint8_t *above, int64_t width, int32_t channels,
                              uint32_t filler, uint8_t *out)
{
    Wide left = {0, 0, 0, 0}, corner = {0, 0, 0, 0};
    const Wide byte = {255, 255, 255, 255};
    uint32_t before = 0, made = filler;
    for (int64_t x = 0, end; x < width; x = end) {
        const uint64_t flat = before | filler;
        end = x + PIECE < width ? x + PIECE : width;
        if (end - x == PIECE && is_all(row + x * channels, PIECE * channels, 0)
            && is_all(above + 4 * x, PIECE * 4, flat | flat << 32)) {
            fill_pixels(out + 4 * x, made);
            continue;
        }
        for (int64_t i = x; i < end; i++) {
            uint32_t word;
            memcpy(&word, above + 4 * i, 4);
            word &= ~filler;
            const uint32_t change = read_pixel(row + i * channels, channels);
            if (change || word != before) {
                const Wide up = spread_bytes(word);
                left = ((word == before ? left : predict_paeth(left, up, corner)) + spread_bytes(change)) & byte;
                corner = up, before = word, made = join_bytes(left) | filler;
            }
            memcpy(out + 4 * i, &made, 4);
        }
    }
}

/* Filter 1: of pixels that do not change the left one is repeated. */
static inline void undo_sub(const uint8_t *row, int64_t width, int32_t channels, uint32_t filler, uint8_t *out)
{
    uint32_t left = 0;
    for (int64_t x = 0, end; x < width; x = end) {
        end = x + PIECE < width ? x + PIECE : width;
        if (end - x == PIECE && is_all(row + x * channels, PIECE * channels, 0)) {
            fill_pixels(out + 4 * x, left | filler);
            continue;
        }
        for (int64_t i = x; i < end; i++) {
            left = add_bytes(read_pixel(row + i * channels, channels), left);
            const uint32_t word = left | filler;
            memcpy(out + 4 * i, &word, 4);
        }
    }
}

/* A row of 3 or 4 channels; `above` is of four bytes a pixel. */
static void undo_filter(const uint8_t *row, const uint8_t *above, int64_t width, int32_t channels, int32_t filter,
                        uint8_t *out)
{
    const uint32_t filler = channels == 3 ? 0xFF000000u : 0;
    if (filter == 4) {
        undo_paeth(row, above, width, channels, filler, out);
        return;
    }
    if (filter == 1) {
        undo_sub(row, width, channels, filler, out);
        return;
    }
    uint32_t left = 0;
    for (int64_t x = 0; x < width; x++) {
        uint32_t up = 0, word = read_pixel(row + x * channels, channels);
        if (filter >= 2)
            memcpy(&up, above + 4 * x, 4);
        if (filter == 2)
            word = add_bytes(word, up);
        if (filter == 3)
            word = add_bytes(word, (left & up) + ((left ^ up) >> 1 & 0x7F7F7F7Fu));
        left = word;
        word |= filler;
        memcpy(out + 4 * x, &word, 4);
    }
}

/* A row of one channel. */
static void undo_grey_filter(const uint8_t *row, const uint8_t *above, int64_t width, int32_t filter, uint8_t *out)
{
    int32_t left = 0, corner = 0;
    for (int64_t x = 0; x < width; x++) {
        while (filter != 3 && x + PIECE <= width && is_all(row + x, PIECE, 0)
               && (filter == 1 || is_all(above + x, PIECE, 0x0101010101010101ull * (uint64_t)corner))) {
            memset(out + x, left, PIECE);
            x += PIECE;
        }
        if (x == width)
            break;
        const int32_t up = above[x];
        int32_t guess = filter == 1 ? left : filter == 2 ? up : filter == 3 ? (left + up) / 2 : 0;
        if (filter == 4) {
            const int32_t a = abs(up - corner), b = abs(left - corner), c = abs(left + up - 2 * corner);
            guess = a <= b && a <= c ? left : b <= c ? up : corner;
        }
        left = (row[x] + guess) & 255;
        corner = up;
        out[x] = (uint8_t)left;
    }
}

/* Filter 0 or 2 of a row whose pixels are as many bytes in both: many bytes at once. */
static void undo_plain(const uint8_t *restrict row, const uint8_t *restrict above, int64_t count, int32_t filter,
                       uint8_t *restrict out)
{
    if (filter == 0)
        memcpy(out, row, (size_t)count);
    else
        for (int64_t i = 0; i < count; i++)
            out[i] = (uint8_t)(row[i] + above[i]);
}

/* Undoes the filters of rows of 1, 3 or 4 channels of 8 bits, each after its filter's number, into rows of 1 or 4 bytes a
   pixel (after 3 channels a filler of 255). The first is `start` bytes on. With `follows` a row lies before the first of
   `out`; else `scratch`, a row of zeros, stands for it. Returns how many rows were undone: fewer than asked if one has a
   filter that PNG has not. */
PUBLIC int64_t unfilter_rows(const uint8_t *rows, int64_t start, int64_t width, int64_t height, int32_t channels,
                             int32_t follows, const uint8_t *scratch, uint8_t *out)
{
    const int64_t count = width * (channels == 1 ? 1 : 4);
    const uint8_t *above = follows ? out - count : scratch;
    rows += start;
    for (int64_t y = 0; y < height; y++, rows += width * channels + 1, out += count) {
        if (rows[0] > 4)
            return y;
        if (channels != 3 && (rows[0] == 0 || rows[0] == 2))
            undo_plain(rows + 1, above, count, rows[0], out);
        else if (channels == 1)
            undo_grey_filter(rows + 1, above, width, rows[0], out);
        else
            undo_filter(rows + 1, above, width, channels, rows[0], out);
        above = out;
    }
    return height;
}
