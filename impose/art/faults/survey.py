"""One walk through the pixels, on the bands that finding the ink reads anyway, for everything else that is asked.

Two things are kept of the picture: *samples*, every so many-th pixel in both directions, from which areas are judged
(haze, off-white, white inside); and the *solid* mask, which pixels hold clear ink, from which strokes are measured.
A pixel is solid if it is at least half opaque and its least channel under 192: a quarter of full tint. Where an edge
is smoothed that is within a quarter of a pixel of the true edge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.ink import map_with_numpy
from impose.art.pixel_loops import BitMask, load_pixel_loops, survey_with_loops

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

MOST_SAMPLES = 512  # along the longer side
MOST_SOLID = 8_000_000  # pixels of the solid mask; larger pictures are looked at in every second pixel, or fourth

_TOP_TWO = 0x00C0C0C0  # the two highest bits of red, green and blue: all set from level 192


class PixelSurvey:
    """Gathers a picture of `width` × `height` pixels from bands given in order, of any height.

    `alpha` says whether the last channel of the bands is one. Afterwards `samples` is an array of rows, columns,
    channels (grey or least channel; grey and alpha; colour and filler; colour and alpha), of every `stride`-th pixel,
    and `solid` a mask of every `step`-th. With a `side`, `averages` may be those over squares of so many pixels, of a
    picture without alpha that comes in one piece; None where they would be of no use.
    """

    def __init__(self, width: int, height: int, alpha: bool, side: int = 0) -> None:
        self.width, self.height, self.alpha = width, height, alpha
        self.stride = _round_up_to_power_of_two(max(width, height) / MOST_SAMPLES, 64)
        self.step = _round_up_to_power_of_two((width * height / MOST_SOLID) ** 0.5, 64)
        # In the middle of its square, or of the picture where that is narrower.
        self._first = min(self.stride, width) // 2, min(self.stride, height) // 2
        self._rows, self._side = 0, side
        self.averages: Array | None = None
        self._samples: list[Array] = []
        self._solid: list[Array] = []
        self._bits: list[BitMask] = []

    def __call__(self, pixels: Array, alpha: bool, levels: int) -> Array:
        """Take the next band, an array of rows, columns, channels of 8 bits; returns the map of its blocks with ink."""
        across, down = self._first
        self._samples.append(
            _copy_pixels(pixels[(down - self._rows) % self.stride :: self.stride, across :: self.stride])
        )
        offset, loops = -self._rows % self.step, load_pixel_loops()
        self._rows += len(pixels)
        if loops is None:
            self._solid.append(mark_with_numpy(pixels[offset :: self.step, :: self.step], alpha))
            return map_with_numpy(pixels, alpha, levels)
        # Where ink reaches all four sides, the averages of the canvas are those of the ink.
        side = self._side if self._side and len(pixels) == self.height and _reaches_edges(pixels, levels) else 0
        found = survey_with_loops(loops, pixels, alpha, levels, self.step, offset, side=side)
        self._bits.append(found.solid)
        self.averages = found.averages
        return found.blocks

    @property
    def solid(self) -> Array | BitMask:
        """Which pixels hold clear ink."""
        import numpy as np

        if len(self._bits) == 1:
            return self._bits[0]
        if self._bits:
            return self._bits[0]._replace(words=np.concatenate([part.words for part in self._bits]))
        return np.concatenate(self._solid)

    @property
    def collect_samples(self) -> Array:
        """The sampled pixels."""
        import numpy as np

        return np.concatenate(self._samples)


def _reaches_edges(pixels: Array, levels: int) -> bool:
    """Whether there is ink at each of the four sides."""
    edges = (pixels[0], pixels[-1], pixels[:, 0], pixels[:, -1])
    return all(bool((edge[:, :3] <= 255 - levels).any()) for edge in edges)


def _copy_pixels(pixels: Array) -> Array:
    """A copy of some pixels; of four channels as one number, which is moved at once."""
    if pixels.shape[2] != 4 or pixels.strides[2] != 1:
        return pixels.copy()
    return pixels.view("<u4").copy().view(pixels.dtype)


def _round_up_to_power_of_two(wanted: float, most: int) -> int:
    """The least power of two that is `wanted` or more."""
    power = 1
    while power < wanted and power < most:
        power *= 2
    return power


def mark_with_numpy(pixels: Array, alpha: bool) -> Array:
    """Which pixels of rows, columns and channels hold clear ink."""
    import numpy as np

    if pixels.shape[2] < 4:
        solid = pixels[:, :, 0] < 192
        if alpha:
            solid &= pixels[:, :, 1] >= 128
        return np.asarray(solid)
    # Four channels as one number, so that a pixel is one comparison and not three.
    words = np.ascontiguousarray(pixels).view("<u4")[:, :, 0]
    solid = (words & _TOP_TWO) != _TOP_TWO
    if alpha:
        solid &= words >= 0x80000000
    return np.asarray(solid)
