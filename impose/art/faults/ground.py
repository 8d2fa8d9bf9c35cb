"""Light grounds: paper that was photographed or scanned, a canvas that is nearly white. Found at the border; whitened.

A *ground* is what the border of an opaque canvas is nearly everywhere: light, of little colour, and smooth, even where
the light on it was uneven. A smooth surface of second degree is fitted to the border; what lies near that surface and
hangs together with the border is the ground. Mending makes it white and leaves all else as it is, but for a rim of a
few pixels, where colours that ran into the ground are freed of it. (All measures are our own choice; no source.)
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.decode import DecodedFrame, split_into_bands
from impose.art.faults.regions import find_regions
from impose.art.ink import composite_over_white
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

DARKEST = 165
"""The level below which the darkest place of a ground is none: a shadow, or a colour that is meant."""
COLOURED = 40
"""Levels between the channels of a ground at most: paper in lamplight has thirty, a pastel that is meant has more."""
ALIKE = 0.85
"""Share of the border that lies near the surface; the rest may be artwork that reaches the edge."""
ROUGHEST = 12.0
"""Levels by which nearly all of the border may lie off the surface: grain and the blocks of a JPEG."""
LEAST_TINT = 2.0
"""Levels below white of the surface's mean: less is white."""
LEAST_SHARE = 0.05
"""Share of the canvas that hangs together with the border at least."""
INSIDE = 0.05
"""Share of what would turn white that may lie inside the outline of coloured ink."""
FULL = 0.97
"""Share of the canvas beyond which there is nothing on the ground."""

_BORDER = 0.02  # of the shorter side
_SPARE = 4.0  # levels beyond the roughness that still count as ground
_STRONG = 24.0  # levels below the ground from which ink is clearly drawn
_BRIDGED = 5  # samples: gaps in an outline of up to twice that are closed
_GRAIN_PX = 8  # along a side of what may be grain
_RIM = 3  # pixels at the ground's edge where colours are freed of it
_RINGING = 16  # pixels beside an edge that a JPEG's blocks unsettle: twice 8 where colour is halved (ITU-T T.81)
_UNSETTLED = 12  # levels that they do at everyday quality


class Ground(FrozenStruct):
    """A ground: the surface's `levels` for each channel, its `rough`ness, and the `share` of the canvas it takes.

    `low` and `high` are the surface's least and highest level; `inside` the share of it that lies within the outline of
    coloured ink.
    """

    levels: Array
    rough: float
    share: float
    low: int
    high: int
    inside: float

    @property
    def mendable(self) -> bool:
        """Whether whitening it would leave what is drawn alone."""
        return self.inside <= INSIDE


def find_ground(frame: DecodedFrame) -> Ground | None:
    """The ground of a picture, None where its border is not nearly one light colour, or white."""
    import numpy as np

    small, solid = _shrink_picture(frame)
    if not solid or min(small.shape[:2]) < 24:
        return None
    border = _mask_border(small.shape[:2])
    grey = small.mean(axis=2)[border]
    if (np.ptp(small[border], axis=1) <= COLOURED).mean() < ALIKE or np.median(grey) < DARKEST:
        return None
    levels, rough, alike = _fit_surface(small, border)
    surface = _draw_surface(levels, small.shape[0], small.shape[1])
    low, high = float(surface.min()), float(surface.max())
    if alike < ALIKE or rough > ROUGHEST or low < DARKEST or 255 - surface.mean(axis=2).mean() < LEAST_TINT:
        return None
    if np.ptp(surface, axis=2).max() > COLOURED:
        return None
    near = _mask_near(small, surface, rough)
    ground = _mask_from_border(near)
    share = float(ground.mean())
    if not LEAST_SHARE <= share <= FULL:
        return None
    strong = (surface - small).max(axis=2) >= max(_STRONG, rough + _SPARE)
    if not strong.any():
        return None
    inside = _measure_inside(ground, strong)
    return Ground(levels, rough, share, int(low), min(255, int(high + 0.5)), inside)


def _shrink_picture(frame: DecodedFrame) -> tuple[Array, bool]:
    """The picture averaged to at most 512 samples a side, as rows, columns and three channels; whether it is opaque."""
    import numpy as np

    image = frame.image
    if image.mode.endswith("A") and image.getchannel("A").getextrema()[0] != 255:
        return np.zeros((1, 1, 3), np.float32), False
    step = max(1, -(-max(image.size) // 512))
    lines = [
        np.asarray(composite_over_white(frame, (0, top, image.width, bottom)).convert("RGB").reduce((step, 1)))
        for top, bottom in split_into_bands(*image.size)
    ]
    tall = np.concatenate(lines).astype(np.float32)
    whole = len(tall) // step * step
    if not whole:
        return np.zeros((1, 1, 3), np.float32), False
    return tall[:whole].reshape(-1, step, tall.shape[1], 3).mean(axis=1), True


def _mask_border(shape: tuple[int, ...]) -> Array:
    import numpy as np

    height, width = shape
    deep = max(2, round(min(height, width) * _BORDER))
    mask = np.zeros((height, width), np.bool_)
    mask[:deep] = mask[-deep:] = True
    mask[:, :deep] = mask[:, -deep:] = True
    return mask


def _make_terms(x: Array, y: Array) -> Array:
    """The terms of second degree of places from -0.5 to 0.5."""
    import numpy as np

    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def _fit_surface(small: Array, border: Array) -> tuple[Array, float, float]:
    """Coefficients for each channel, the roughness of what fits, and the share of the border that does.

    Least squares, then again without what lies far off: artwork at the edge must not pull.
    """
    import numpy as np

    height, width = border.shape
    y, x = np.nonzero(border)
    places = _make_terms((x + 0.5) / width - 0.5, (y + 0.5) / height - 0.5)
    values = small[y, x].astype(np.float64)
    # From the middle of all levels outwards, so that a fifth of the border may be anything.
    keep = np.abs(values - np.median(values, axis=0)).max(axis=1) <= 40
    levels = np.zeros((6, 3))
    for _ in range(5):
        if keep.sum() < 60:
            return levels, 255.0, 0.0
        levels = np.linalg.lstsq(places[keep], values[keep], rcond=None)[0]
        off = np.abs(places @ levels - values).max(axis=1)
        keep = off <= max(4.0, 3 * float(np.median(off[keep])) + 1)
    return levels, float(np.percentile(off[keep], 99)), float(keep.mean())


def _draw_surface(levels: Array, height: int, width: int, top: int = 0, bottom: int | None = None) -> Array:
    """The surface's rows from `top` to `bottom` of a canvas, rows, columns and channels."""
    import numpy as np

    y = (np.arange(top, height if bottom is None else bottom) + 0.5) / height - 0.5
    x = (np.arange(width) + 0.5) / width - 0.5
    a = levels.astype(np.float32)
    x32, y32 = x.astype(np.float32)[None, :, None], y.astype(np.float32)[:, None, None]
    made = a[0] + y32 * (a[2] + y32 * a[5]) + x32 * (a[1] + x32 * a[3] + y32 * a[4])
    return np.asarray(np.clip(made, 1, 255))


def _mask_near(pixels: Array, surface: Array, rough: float) -> Array:
    """Which pixels are about as light as the surface, or lighter."""
    import numpy as np

    return np.asarray((surface - pixels).max(axis=2) <= rough + _SPARE)


def _mask_from_border(near: Array) -> Array:
    """What of a mask hangs together with the border."""
    import numpy as np

    found = find_regions(near)
    height, width = near.shape
    left, top, right, bottom = found.box.T
    outer = (left == 0) | (top == 0) | (right == width) | (bottom == height)
    marks = np.zeros((height, width + 1), np.int8)
    runs = found.runs[outer[found.runs[:, 0]]]
    np.add.at(marks, (runs[:, 1], runs[:, 2]), 1)
    np.add.at(marks, (runs[:, 1], runs[:, 3]), -1)
    return np.asarray(np.cumsum(marks, axis=1, dtype=np.int8)[:, :-1] > 0)


def _measure_inside(ground: Array, strong: Array) -> float:
    """The share of the ground that the border cannot be reached from once narrow gaps in clear ink are closed."""
    import numpy as np

    closed = _grow_mask(strong, _BRIDGED)
    outside = _grow_mask(_mask_from_border(~closed), _BRIDGED)
    inner = int(np.count_nonzero(ground & ~outside & ~closed))
    return inner / max(1, int(np.count_nonzero(ground)))


def _grow_mask(mask: Array, by: int) -> Array:
    """The mask with everything within `by` pixels, along both axes."""
    import numpy as np

    made = np.pad(mask, by).astype(np.int32)
    for axis in (0, 1):
        sums = np.cumsum(np.pad(made, [(1, 0) if side == axis else (0, 0) for side in (0, 1)]), axis=axis)
        reach = 2 * by + 1
        within = sums[reach:] - sums[:-reach] if axis == 0 else sums[:, reach:] - sums[:, :-reach]
        made = (within > 0).astype(np.int32)
    return np.asarray(made > 0)


def whiten_ground(frame: DecodedFrame, ground: Ground) -> DecodedFrame:
    """The picture with its ground white: what lies near the surface and hangs together with the border.

    In a rim of three pixels around it colours are divided by the ground that shines through them; within sixteen, what
    is hardly darker than the ground runs out to white, since a JPEG leaves such dust beside every edge.
    """
    import numpy as np
    from PIL import Image

    width, height = frame.image.size
    least = max(ground.rough, _measure_grain(frame, ground)) + _SPARE
    below = np.concatenate(
        [_measure_below(frame, ground, top, bottom) for top, bottom in split_into_bands(width, height)]
    )
    white = _mask_from_border((below <= least) & (below >= -least - _UNSETTLED))
    white |= _mask_islands(~white, np.abs(below) >= _STRONG)
    sure = white & (np.abs(below) <= least)
    # Only what hangs together with the ground: pale colours behind a dark outline are the picture's own.
    dust = _mask_from_border(white | ((below < 2 * (least + _UNSETTLED)) & _grow_mask(sure, _RINGING)))
    mode = "L" if frame.grey else "RGB"
    made = Image.new(mode, (width, height), "white")
    for top, bottom in split_into_bands(width, height):
        low, high = max(0, top - _RIM), min(height, bottom + _RIM)
        rim = _grow_mask(sure[low:high], _RIM)[top - low : bottom - low]
        pixels = _read_pixels(frame, top, bottom)
        freed = np.clip(pixels * 255 / _draw_surface(ground.levels, height, width, top, bottom), 0, 255)
        pixels[rim] = freed[rim]
        pixels[dust[top:bottom]] = _run_out_tint(freed[dust[top:bottom]], least + _UNSETTLED)
        pixels[white[top:bottom]] = 255
        band = Image.fromarray(np.rint(pixels).astype(np.uint8))
        made.paste(band.convert(mode) if mode == "L" else band, (0, top))
    return DecodedFrame(made, None, frame.grey, frame.surplus)


def _run_out_tint(colours: Array, cut: float) -> Array:
    """Colours over white whose tint is nothing up to `cut`, itself from twice that on, and straight between."""
    import numpy as np

    tint = 255 - colours.min(axis=1)
    share = np.clip(2 * (tint - cut), 0, tint) / np.maximum(tint, 1)
    return np.asarray(255 - (255 - colours) * share[:, None])


def _measure_below(frame: DecodedFrame, ground: Ground, top: int, bottom: int) -> Array:
    """The tint that pixels have once the ground is white: how far they lie below it; less than 0 if lighter."""
    import numpy as np

    surface = _draw_surface(ground.levels, frame.image.height, frame.image.width, top, bottom)
    return np.asarray(np.rint((255 - _read_pixels(frame, top, bottom) * 255 / surface).max(axis=2)).astype(np.int16))


def _measure_grain(frame: DecodedFrame, ground: Ground) -> float:
    """The roughness of the border pixel by pixel: averaged samples are smoother."""
    import numpy as np

    height = frame.image.height
    deep = max(2, round(min(frame.image.size) * _BORDER))
    off = np.concatenate([_measure_below(frame, ground, 0, deep), _measure_below(frame, ground, height - deep, height)])
    off = np.abs(off)[np.abs(off) <= 3 * ROUGHEST]
    return min(2 * ROUGHEST, float(np.percentile(off, 99.5))) if off.size else 0.0


def _mask_islands(mask: Array, strong: Array) -> Array:
    """Of what is left in the ground, the tiny spots that are nowhere clearly darker: grain."""
    import numpy as np

    found = find_regions(mask)
    made = np.zeros(mask.shape, np.bool_)
    if not len(found.area):
        return made
    region, row, first, last = found.runs.T
    sums = np.pad(np.cumsum(strong, axis=1, dtype=np.int32), ((0, 0), (1, 0)))
    dark = np.bincount(region, weights=sums[row, last] - sums[row, first], minlength=len(found.area)) > 0
    box = found.box[:, 2:] - found.box[:, :2]
    for run in found.runs[((box.max(axis=1) <= _GRAIN_PX) & ~dark)[region]]:
        made[run[1], run[2] : run[3]] = True
    return made


def _read_pixels(frame: DecodedFrame, top: int, bottom: int) -> Array:
    import numpy as np

    band = composite_over_white(frame, (0, top, frame.image.width, bottom)).convert("RGB")
    return np.asarray(band).astype(np.float32)
