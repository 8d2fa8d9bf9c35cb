/* Rows for the page: over white, mirrored, filtered; and rows out of a PNG. Twins: impose/art/scanlines.py, unfilter.py.

   A word is a pixel of four bytes as a little-endian machine reads it: red its lowest byte, alpha its highest. */
#include "loops.h"

/* Four numbers of four bytes, and eight of two: to multiply the latter is what every processor does at once. */
typedef uint32_t FourWords __attribute__((vector_size(16)));
typedef uint16_t EightHalves __attribute__((vector_size(16)));

/* The product of two levels over 255, to the nearest. */
static inline EightHalves multiply_levels(FourWords levels, FourWords alpha)
{
    const EightHalves product = (EightHalves)levels * (EightHalves)alpha + 128;
    return (product + (product >> 8)) >> 8;
}

/* Four pixels over white: 255 - alpha (255 - colour) / 255 to the nearest, opaque. */
static inline FourWords flatten_words(FourWords words)
{
    const FourWords alpha = words >> 24 | (words >> 24) << 16;
    const FourWords red_blue = (FourWords)multiply_levels(~words & 0x00FF00FFu, alpha);
    const FourWords green = (FourWords)multiply_levels(~words >> 8 & 0xFFu, alpha);
    return ~(red_blue | green << 8);
}

static void flatten_row(const uint8_t *restrict row, int64_t width, uint8_t *restrict flat)
{
    FourWords words;
    int64_t x = 0;
    for (; x + 4 <= width; x += 4) {
        memcpy(&words, row + 4 * x, 16);
        words = flatten_words(words);
        memcpy(flat + 4 * x, &words, 16);
    }
    words = (FourWords){0, 0, 0, 0};
    memcpy(&words, row + 4 * x, (size_t)(4 * (width - x)));
    words = flatten_words(words);
    memcpy(flat + 4 * x, &words, (size_t)(4 * (width - x)));
}

/* Adds the sum of a row's channels to that of each column; returns that of the row. */
static uint64_t add_levels(const uint8_t *restrict flat, int64_t width, int32_t channels, uint32_t *restrict columns)
{
    uint32_t total = 0;
    for (int64_t x = 0; x < width; x++) {
        uint32_t sum = flat[x];
        if (channels == 4) {
            uint32_t word;
            memcpy(&word, flat + 4 * x, 4);
            sum = (word & 255) + (word >> 8 & 255) + (word >> 16 & 255);
        }
        columns[x] += sum;
        total += sum;
    }
    return total;
}

/* The sums of the levels of each row and, added to what `columns` hold, of each column; of less than a million rows. */
PUBLIC void sum_levels(const uint8_t *pixels, int64_t width, int64_t height, int32_t channels, uint32_t *columns,
                       uint64_t *sums)
{
    for (int64_t y = 0; y < height; y++)
        sums[y] = add_levels(pixels + y * width * channels, width, channels, columns);
}

/* A row less the one above it, by bytes, mirrored, without fourth channels; `scratch` as long as the row. */
static void filter_row(const uint8_t *restrict flat, const uint8_t *restrict above, int64_t width, int32_t channels,
                       uint8_t *restrict out, uint8_t *restrict scratch)
{
    const int64_t count = width * channels;
    for (int64_t i = 0; i < count; i++)
        scratch[i] = (uint8_t)(flat[i] - above[i]);
    *out++ = 2;
    if (channels == 1) {
        for (int64_t x = 0; x < width; x++)
            out[x] = scratch[width - 1 - x];
        return;
    }
    /* Four bytes at once: the last of them is overwritten by the next pixel. */
    for (int64_t x = width - 1; x > 0; x--, out += 3)
        memcpy(out, scratch + 4 * x, 4);
    memcpy(out, scratch, 3);
}

/* Rows of the page from pixels of 1 or 4 channels (with `alpha`, the last is one): what they are over white, in `flat`,
   and mirrored under the PNG filter Up in `filtered`, each after the byte 2.

   `above` is the row above the first, over white. `columns` gathers the sums of levels down the columns, of less than a
   million rows; `sums` are those of the rows. `scratch` holds a row. */
PUBLIC void filter_pixels(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                          int32_t alpha, const uint8_t *above, uint8_t *flat, uint8_t *filtered, uint32_t *columns,
                          uint64_t *sums, uint8_t *scratch)
{
    const int64_t count = width * channels, row = width * (channels == 4 ? 3 : channels) + 1;
    for (int64_t y = 0; y < height; y++, flat += count, filtered += row) {
        if (alpha)
            flatten_row(pixels + y * stride, width, flat);
        else
            memcpy(flat, pixels + y * stride, (size_t)count);
        sums[y] = add_levels(flat, width, channels, columns);
        filter_row(flat, above, width, channels, filtered, scratch);
        above = flat;
    }
}
