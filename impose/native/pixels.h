/* What walks through decoded pixels share. */
#ifndef IMPOSE_PIXELS_H
#define IMPOSE_PIXELS_H

#include "loops.h"

PUBLIC void survey_pixels(const uint8_t *pixels, int64_t stride, int64_t width, int64_t height, int32_t channels,
                          int32_t alpha, int32_t levels, int64_t lead, uint8_t *blocks, uint64_t *solid,
                          int64_t step, int64_t across, int64_t down, int32_t mirrored, uint8_t *scratch,
                          uint64_t *row_bits);

enum { BLOCK = 8 };

#endif
