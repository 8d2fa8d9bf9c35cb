"""A canvas that paints paths with antialiased edges, gradients and glows, on numpy alone.

Coverage is summed exactly along each of eight scanlines a pixel row, so that edges are smooth at any size and the
result does not hang on the version of a graphics library.
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from artwork.shapes import Path

Grid = NDArray[np.float32]
RGB = tuple[float, float, float]
Paint = str | Callable[[Grid, Grid], Grid]
SUBROWS = 8


def rgb(code: str) -> RGB:
    """Colour of a six-digit hexadecimal code, as parts of 0 to 1."""
    return int(code[1:3], 16) / 255, int(code[3:5], 16) / 255, int(code[5:7], 16) / 255


def _ramp(position: Grid, stops: Sequence[tuple[float, str]]) -> Grid:
    at = [stop for stop, _ in stops]
    channels = [np.interp(position, at, [rgb(code)[i] for _, code in stops]) for i in range(3)]
    return np.stack(channels, axis=-1).astype(np.float32)


def vertical(*stops: tuple[float, str]) -> Paint:
    """Colour running down the canvas through stops of (y, colour)."""
    return lambda x, y: _ramp(y, stops)


def radial(cx: float, cy: float, *stops: tuple[float, str]) -> Paint:
    """Colour running out from a point through stops of (distance, colour)."""
    return lambda x, y: _ramp(np.hypot(x - cx, y - cy), stops)


def coverage(path: Path, width: int, height: int) -> tuple[int, int, Grid]:
    """Left, top and the covered part of each pixel, 0 to 1, over the path's box; the path is in pixels."""
    every = np.vstack(path)
    left, top = (max(0, int(np.floor(v))) for v in every.min(axis=0))
    right, bottom = (
        min(limit, int(np.ceil(v)) + 1) for limit, v in zip((width, height), every.max(axis=0), strict=True)
    )
    if right <= left or bottom <= top:
        return 0, 0, np.zeros((0, 0), np.float32)
    start = np.vstack(path)
    end = np.vstack([np.roll(part, -1, axis=0) for part in path])
    wide, high = right - left, bottom - top
    cells = _crossings(start - (left, top), end - (left, top), wide, high)
    summed = np.cumsum(cells.reshape(high, wide + 2), axis=1)[:, :wide]
    return left, top, np.minimum(np.abs(summed) / SUBROWS, 1).astype(np.float32)


def _crossings(start: NDArray[Any], end: NDArray[Any], wide: int, high: int) -> NDArray[Any]:
    down = end[:, 1] > start[:, 1]
    upper, lower = np.where(down[:, None], start, end), np.where(down[:, None], end, start)
    first = np.clip(np.ceil(upper[:, 1] * SUBROWS - 0.5), 0, high * SUBROWS).astype(np.int64)
    last = np.clip(np.ceil(lower[:, 1] * SUBROWS - 0.5), 0, high * SUBROWS).astype(np.int64)
    count = last - first
    edge = np.repeat(np.arange(len(count)), count)
    row = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + first[edge]
    rise = np.where(count > 0, lower[:, 1] - upper[:, 1], 1.0)
    slope = (lower[:, 0] - upper[:, 0]) / np.where(rise > 0, rise, 1.0)
    x = np.clip(upper[edge, 0] + ((row + 0.5) / SUBROWS - upper[edge, 1]) * slope[edge], 0, wide)
    column = np.floor(x).astype(np.int64)
    part, sign = x - column, np.where(down, 1.0, -1.0)[edge]
    index = (row // SUBROWS) * (wide + 2) + column
    size = high * (wide + 2)
    return np.bincount(index, sign * (1 - part), size) + np.bincount(index + 1, sign * part, size)


def _box_blur(mask: Grid, radius: int) -> Grid:
    for axis in (0, 1):
        padded = np.pad(mask, [(radius + 1, radius) if a == axis else (0, 0) for a in (0, 1)])
        total = np.cumsum(padded, axis=axis, dtype=np.float64)
        span = 2 * radius + 1
        ahead, behind = [slice(None)] * 2, [slice(None)] * 2
        ahead[axis], behind[axis] = slice(span, None), slice(None, -span)
        mask = ((total[tuple(ahead)] - total[tuple(behind)]) / span).astype(np.float32)
    return mask


def enlarged(grid: Grid, height: int, width: int) -> Grid:
    """Grid stretched to another size with straight interpolation between cell centres."""
    result = grid
    for axis, size in ((0, height), (1, width)):
        have = result.shape[axis]
        at = np.clip((np.arange(size, dtype=np.float64) + 0.5) * have / size - 0.5, 0, have - 1)
        low = np.minimum(np.floor(at).astype(np.int64), max(have - 2, 0))
        part = (at - low).astype(np.float32)
        part = part[:, None] if axis == 0 else part[None, :]
        high = np.minimum(low + 1, have - 1)
        result = np.take(result, low, axis) * (1 - part) + np.take(result, high, axis) * part
    return result.astype(np.float32)


def _bytes(levels: Grid) -> NDArray[np.uint8]:
    rounded: NDArray[np.uint8] = np.floor(np.clip(levels, 0, 1) * 255 + 0.5).astype(np.uint8)
    return rounded


class Canvas:
    """Transparent picture of `width` x `height` pixels, drawn in units of a hundredth of its width."""

    def __init__(self, width: int, height: int) -> None:
        self.width, self.height = width, height
        self.unit = width / 100
        self.tall = height / self.unit
        self.light = np.zeros((height, width, 4), np.float32)
        self._clip: tuple[Path, Grid] = ([], np.zeros((height, width), np.float32))

    def fill(self, path: Path, paint: Paint, alpha: float = 1.0, clip: Path | None = None, under: bool = False) -> None:
        """Paint a path, only inside `clip` if given, on top or `under` what is there."""
        if not path:
            return
        left, top, mask = coverage([part * self.unit for part in path], self.width, self.height)
        if clip is not None and mask.size:
            mask = mask * self._clipping(clip, left, top, mask.shape)
        self._lay(left, top, mask * np.float32(alpha), paint, under)

    def glow(self, path: Path, paint: Paint, radius: float, strength: float = 1.0, under: bool = False) -> None:
        """Soft light around a path, fading to nothing `radius` units away."""
        every = np.vstack(path) * self.unit
        margin = radius * self.unit * 1.3 + 2
        left, top = (int(max(0, v)) for v in every.min(axis=0) - margin)
        wide = int(min(self.width, every[:, 0].max() + margin)) - left
        high = int(min(self.height, every[:, 1].max() + margin)) - top
        # Soft light holds no detail: a twelfth of its reach is resolution enough to blur in.
        shrink = max(1.0, radius * self.unit / 12)
        cells = int(np.ceil(high / shrink)), int(np.ceil(wide / shrink))
        shift = np.array([left, top])
        x, y, mask = coverage([(part * self.unit - shift) / shrink for part in path], cells[1], cells[0])
        small = np.zeros(cells, np.float32)
        small[y : y + mask.shape[0], x : x + mask.shape[1]] = mask
        reach = max(1, round(radius * self.unit / shrink / 3))
        for _ in range(3):
            small = _box_blur(small, reach)
        grown = enlarged(small, round(cells[0] * shrink), round(cells[1] * shrink))[:high, :wide]
        self._lay(left, top, np.minimum(grown * np.float32(strength), 1), paint, under)

    def shade(self, mask: Grid, paint: Paint, under: bool = False) -> None:
        """Paint through a mask of the whole canvas, 0 to 1."""
        self._lay(0, 0, mask, paint, under)

    def keep(self, mask: Grid) -> None:
        """Thin what is painted by a mask of the whole canvas: worn ink, ragged edges."""
        self.light *= mask[..., None]

    def grid(self) -> tuple[Grid, Grid]:
        """The x and y of every pixel centre in units."""
        return self._grid(0, 0, (self.height, self.width))

    def rgba(self) -> NDArray[np.uint8]:
        """The picture as 8-bit colour with straight alpha."""
        alpha = self.light[..., 3:]
        colour = np.where(alpha > 0, self.light[..., :3] / np.maximum(alpha, 1e-6), 0)
        levels = np.concatenate([colour, alpha], axis=-1)
        return _bytes(levels)

    def on_white(self) -> NDArray[np.uint8]:
        """The picture as 8-bit colour laid on white."""
        levels = self.light[..., :3] + (1 - self.light[..., 3:])
        return _bytes(levels)

    def _grid(self, left: int, top: int, shape: tuple[int, ...]) -> tuple[Grid, Grid]:
        x = (np.arange(left, left + shape[1], dtype=np.float32) + 0.5) / self.unit
        y = (np.arange(top, top + shape[0], dtype=np.float32) + 0.5) / self.unit
        return np.broadcast_to(x[None, :], shape[:2]), np.broadcast_to(y[:, None], shape[:2])

    def _clipping(self, clip: Path, left: int, top: int, shape: tuple[int, ...]) -> Grid:
        # Many strokes in a row are clipped by one shape, which is worth measuring only once.
        if clip is not self._clip[0]:
            x, y, mask = coverage([part * self.unit for part in clip], self.width, self.height)
            whole = np.zeros((self.height, self.width), np.float32)
            whole[y : y + mask.shape[0], x : x + mask.shape[1]] = mask
            self._clip = (clip, whole)
        return self._clip[1][top : top + shape[0], left : left + shape[1]]

    def _lay(self, left: int, top: int, mask: Grid, paint: Paint, under: bool) -> None:
        high, wide = mask.shape
        if not high or not wide:
            return
        here = self.light[top : top + high, left : left + wide]
        amount = mask[..., None]
        ink: Grid = np.ones((1, 1, 4) if isinstance(paint, str) else (high, wide, 4), np.float32)
        ink[..., :3] = rgb(paint) if isinstance(paint, str) else paint(*self._grid(left, top, mask.shape))
        # All four channels in one go: slices of three of them cost several times as much.
        if under:
            here += ink * (amount * (1 - here[..., 3:]))
        else:
            step = ink - here
            step *= amount
            here += step
