/* Passes over decoded pixels: ink by blocks, clear ink, averages over squares. Twins: impose/art/pixel_loops.py.

   Pixels are rows of `width` times `channels` bytes (1 grey, 2 grey and alpha, 4 colour and a filler or alpha); the next
   row begins `stride` bytes on, which may be less than nothing. Where a picture is stored mirrored, squares are counted
   from its right edge: the first of a row is then `lead` pixels wide, and all others are whole. */
#include "loops.h"

enum { BLOCK = 8 };

/* Of eight rows the least of each byte, and with alpha the most. */
static void gather_extremes(const uint8_t *restrict row, int64_t count, uint8_t *restrict least, uint8_t *restrict most)
{
    for (int64_t i = 0; i < count; i++)
        least[i] = row[i] < least[i] ? row[i] : least[i];
    if (most)
        for (int64_t i = 0; i < count; i++)
            most[i] = row[i] > most[i] ? row[i] : most[i];
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
static void mark_solid(const uint8_t *restrict row, int64_t width, int32_t channels, int32_t alpha,
                       uint8_t *restrict solid)
{
    if (channels == 4) {
        const uint32_t opaque = alpha ? 0x80000000u : 0;
        for (int64_t x = 0; x < width; x++) {
            uint32_t word;
            memcpy(&word, row + 4 * x, 4);
            solid[x] = ((word & 0x00C0C0C0u) != 0x00C0C0C0u) & ((word & opaque) == opaque);
        }
    } else if (channels == 2) {
        for (int64_t x = 0; x < width; x++)
            solid[x] = (row[2 * x] < 192) & (row[2 * x + 1] >= 128);
    } else {
        for (int64_t x = 0; x < width; x++)
            solid[x] = row[x] < 192;
    }
}

/* Maps ink in blocks of 8 x 8 and, where `solid` is there, marks clear ink in every `step`-th pixel and row.

   `alpha` says whether the last channel is one. The first block of a row is `lead` pixels wide.
   `solid` begins at the pixel `across` of the row `down`; a row of it has as many as there are from there
   on. `scratch` holds 2 * width * channels bytes. */
PUBLIC void survey_pixels(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                          int32_t alpha, int32_t levels, int64_t lead, uint8_t *blocks, uint8_t *solid,
                          int64_t step, int64_t across, int64_t down, uint8_t *scratch)
{
    const int64_t count = width * channels, columns = (width - lead + BLOCK - 1) / BLOCK + 1;
    const int64_t marked = across < width ? (width - across + step - 1) / step : 0;
    uint8_t *least = scratch, *most = alpha ? scratch + count : NULL;
    for (int64_t y = 0; y < height;) {
        const int64_t end = y + BLOCK < height ? y + BLOCK : height;
        memcpy(least, pixels + y * stride, (size_t)count);
        if (most)
            memcpy(most, least, (size_t)count);
        for (; y < end; y++) {
            const uint8_t *row = pixels + y * stride;
            gather_extremes(row, count, least, most);
            if (!solid || y < down || (y - down) % step)
                continue;
            if (step == 1)
                mark_solid(row + across * channels, marked, channels, alpha, solid);
            else
                for (int64_t i = 0; i < marked; i++)
                    mark_solid(row + (across + i * step) * channels, 1, channels, alpha, solid + i);
            solid += marked;
        }
        judge_blocks(least, most, width, channels, lead, levels, blocks);
        blocks += columns;
    }
}

/* One average of each channel, of the sum over an area. */
static void write_average(const uint32_t *total, int32_t channels, uint32_t area, uint32_t factor, uint8_t *out)
{
    for (int32_t c = 0; c < channels; c++)
        out[c] = (uint8_t)((total[c] + area / 2) * factor >> 24);
}

/* The averages of whole squares, of sums down the columns that are small enough to be added four at once. */
static void average_quickly(const uint16_t *sums, int64_t squares, int64_t side, uint32_t area, uint32_t factor,
                            uint8_t *out)
{
    for (int64_t i = 0; i < squares; i++) {
        uint64_t four = 0, next;
        for (int64_t x = 0; x < side; x++, sums += 4) {
            memcpy(&next, sums, 8);
            four += next;
        }
        const uint32_t total[4] = {four & 0xFFFF, four >> 16 & 0xFFFF, four >> 32 & 0xFFFF, (uint32_t)(four >> 48)};
        write_average(total, 4, area, factor, out + 4 * i);
    }
}

/* One row of averages, of sums down the columns of squares `high` rows high. */
static void average_row(const uint16_t *sums, int64_t width, int32_t channels, int64_t side, int64_t lead, int64_t high,
                        uint8_t *out)
{
    int64_t end = lead < width ? lead : width, known = 0;
    uint32_t area = 0, factor = 0;
    for (int64_t x = 0; x < width; end = end + side < width ? end + side : width) {
        if (end - x != known) { /* a division takes longer than all the rest */
            known = end - x;
            area = (uint32_t)(known * high), factor = (uint32_t)((1ull << 32) / (256ull * area));
        }
        if (channels == 4 && side <= 16 && known == side) {
            const int64_t squares = (width - x) / side;
            average_quickly(sums + 4 * x, squares, side, area, factor, out);
            out += 4 * squares;
            x += side * squares;
            end = x;
            continue;
        }
        uint32_t total[4] = {0, 0, 0, 0};
        for (; x < end; x++)
            for (int32_t c = 0; c < channels; c++)
                total[c] += sums[channels * x + c];
        write_average(total, channels, area, factor, out);
        out += channels;
    }
}

/* Adds rows of bytes, two at a time, to what `sums` hold. */
static void add_rows(const uint8_t *pixels, int64_t stride, int64_t rows, int64_t count, uint16_t *restrict sums)
{
    int64_t y = rows % 2;
    if (y)
        for (int64_t i = 0; i < count; i++)
            sums[i] = (uint16_t)(sums[i] + pixels[i]);
    for (; y < rows; y += 2) {
        const uint8_t *restrict row = pixels + y * stride, *restrict next = row + stride;
        for (int64_t i = 0; i < count; i++)
            sums[i] = (uint16_t)(sums[i] + row[i] + next[i]);
    }
}

/* Averages over squares of `side` pixels, at most 256, rounded as Pillow rounds them, of rows that may come in parts.

   `sums` holds width * channels numbers, those of the `held` rows before; returned is how many rows are left in it.
   After the `last` rows none are: the lowest squares may be less high. */
PUBLIC int64_t average_squares(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                               int64_t side, int64_t lead, int64_t held, int32_t last, uint8_t *out, uint16_t *sums)
{
    const int64_t count = width * channels, columns = (width - lead + side - 1) / side + 1;
    for (int64_t y = 0; y < height;) {
        const int64_t rows = height - y < side - held ? height - y : side - held;
        if (!held)
            memset(sums, 0, (size_t)count * sizeof *sums);
        add_rows(pixels + y * stride, stride, rows, count, sums);
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
