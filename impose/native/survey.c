/* A walk through decoded pixels: ink by blocks, and clear ink. Twins: impose/art/ink.py and impose/art/faults/survey.py.

   Pixels are rows of `width` times `channels` bytes (1 grey, 2 grey and alpha, 4 colour and a filler or alpha); the next
   row begins `stride` bytes on, which may be less than nothing. Where a picture is stored mirrored, squares are counted
   from its right edge: the first of a row is then `lead` pixels wide, and all others are whole. */
#include "pixels.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { PIECE = 64, STRIP = 256 };

/* Four numbers of four bytes. */
typedef uint32_t FourWords __attribute__((vector_size(16)));
typedef int32_t FourSigned __attribute__((vector_size(16)));

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
