"""Haze, off-white grounds and white inside: judged on samples, by how much of the picture they take and where.

All measures are our own choice where no source is named. What a pixel prints over white is
255 - alpha (255 - colour) / 255; its *tint* is how far its least channel lies below 255.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.faults.regions import find_regions
from impose.art.faults.survey import PixelSurvey
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

FAINT = 25  # alpha up to a tenth: what background removers leave
MIDDLE = 100  # alpha between this and faint: what a soft edge or a glow has as well
HAZE_SHARE = 0.02
GLOW = 4.0  # a soft glow has at most about 2.3 faint pixels for each in the middle (a Gaussian spot: ln 25 / ln 4)
ROUGH = 1.5  # levels by which a faint pixel is off the middle of its neighbours; a glow is smooth
RIM_SHARE = 0.1  # of the canvas's rim: a glow ends before it, a background did not
FLAT = 0.5  # or one level of alpha holds half of it; of a Gaussian spot the commonest holds under a third

OFF_WHITE = 15  # tint, in levels: 240 to 254 are "nearly white"
OFF_WHITE_RING, OFF_WHITE_ELSE = 0.6, 0.3

WHITE_SHARE = 0.01  # of the canvas, drawn white on purpose
ENCLOSED_SHARE = 0.03  # of the canvas, each white region shut in by ink, where white is also the ground


class FaintArea(FrozenStruct):
    """What was found: the `box` in pixels of the picture, its `share` of the canvas, and from which level to which."""

    box: tuple[int, int, int, int]
    share: float
    low: int
    high: int


class TintSamples:
    """The samples of a survey as tint and alpha."""

    def __init__(self, survey: PixelSurvey) -> None:
        import numpy as np

        # Each channel in one piece: what is asked of it is then asked of many samples at once.
        channels = np.ascontiguousarray(np.moveaxis(survey.collect_samples, 2, 0))
        self.stride, self.size = survey.stride, (survey.width, survey.height)
        least = channels[0]
        if len(channels) == 4:
            least = np.minimum(np.minimum(least, channels[1]), channels[2])
        self.alpha: Array | None = channels[-1] if survey.alpha else None
        full = 255 - least
        if self.alpha is None:
            self.tint = full
        else:
            # Rounded like the picture itself: (a * (255 - c) + 127) // 255.
            product = self.alpha.astype(np.uint16) * full + 127
            self.tint = (product // 255).astype(np.uint8)

    def bound_mask(self, mask: Array) -> tuple[int, int, int, int]:
        """The box of a mask of samples, in pixels of the picture."""
        import numpy as np

        rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
        return self.scale_box(int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)

    def scale_box(self, left: int, top: int, right: int, bottom: int) -> tuple[int, int, int, int]:
        """A box of samples in pixels of the picture."""
        s, (width, height) = self.stride, self.size
        return left * s, top * s, min(right * s, width), min(bottom * s, height)

    def light_rim(self) -> bool:
        """Whether the canvas's rim is mostly opaque, light and not quite white: what a light ground looks like."""
        import numpy as np

        def rim(values: Array) -> Array:
            return np.concatenate([values[0], values[-1], values[:, 0], values[:, -1]])

        if self.alpha is not None and rim(self.alpha).min() < 255:
            return False
        tint = rim(self.tint)
        return bool(((tint >= 1) & (tint <= 130)).mean() >= 0.6)

    def mask_unclear(self) -> Array:
        """A mask of what is neither ink nor white: tints from an eighth to a quarter."""
        import numpy as np

        return np.asarray((self.tint >= 32) & (self.tint < 64))


def find_haze(samples: TintSamples) -> FaintArea | None:
    """Faint alpha over a large area that is no soft edge and no glow; `low` and `high` are its alpha."""
    import numpy as np

    if samples.alpha is None:
        return None
    faint = (samples.alpha >= 1) & (samples.alpha <= FAINT) & (samples.tint >= 1)
    count = np.count_nonzero(faint)
    if count < HAZE_SHARE * faint.size:
        return None
    levels = np.bincount(samples.alpha[faint], minlength=FAINT + 1)
    middle = np.count_nonzero((samples.alpha > FAINT) & (samples.alpha <= MIDDLE))
    if levels.max() < FLAT * count:
        if count < GLOW * middle:
            return None
        if _measure_roughness(samples.alpha, faint) < ROUGH and _measure_rim_share(faint) < RIM_SHARE:
            return None
    upto = levels.cumsum()
    low, high = (int(np.searchsorted(upto, share * count)) for share in (0.02, 0.98))
    return FaintArea(samples.bound_mask(faint), count / faint.size, max(1, low), high)


def _measure_roughness(alpha: Array, faint: Array) -> float:
    """How far faint pixels between faint ones lie off the middle of their neighbours along the row, on average."""
    import numpy as np

    inner = faint[:, :-2] & faint[:, 1:-1] & faint[:, 2:]
    if not inner.any():
        return 0.0
    levels = alpha.astype(np.int16)
    off = abs(levels[:, :-2] + levels[:, 2:] - 2 * levels[:, 1:-1])
    return float(off[inner].mean()) / 2


def _measure_rim_share(faint: Array) -> float:
    """The share of the canvas's rim that is faint."""
    import numpy as np

    return float(np.concatenate([faint[0], faint[-1], faint[:, 0], faint[:, -1]]).mean())


def find_off_white(samples: TintSamples) -> FaintArea | None:
    """An opaque ground nearly but not quite white, seen at its own border; `low` and `high` are its tint."""
    import numpy as np

    opaque = np.ones(samples.tint.shape, np.bool_) if samples.alpha is None else samples.alpha >= 250
    if np.count_nonzero(opaque) < 0.1 * opaque.size:
        return None
    rows, columns = np.flatnonzero(opaque.any(axis=1)), np.flatnonzero(opaque.any(axis=0))
    top, bottom, left, right = rows[0], rows[-1], columns[0], columns[-1]
    if bottom - top < 8 or right - left < 8:
        return None
    # One sample in from the outermost, so that a smoothed or framed edge does not hide the ground.
    ring = [(top + 1, slice(left, right + 1)), (bottom - 1, slice(left, right + 1))]
    ring += [(slice(top, bottom + 1), left + 1), (slice(top, bottom + 1), right - 1)]
    solid = np.concatenate([opaque[at] for at in ring])
    tint = np.concatenate([samples.tint[at] for at in ring])
    near = solid & (tint >= 1) & (tint <= OFF_WHITE)
    if near.mean() < OFF_WHITE_RING or (tint > OFF_WHITE).mean() > OFF_WHITE_ELSE:
        return None
    low, high = (int(level) for level in np.percentile(tint[near], (5, 98), method="nearest"))
    box = samples.scale_box(int(left), int(top), int(right) + 1, int(bottom) + 1)
    return FaintArea(box, float((opaque & (samples.tint >= 1) & (samples.tint <= OFF_WHITE)).mean()), low, high)


def find_enclosed_white(samples: TintSamples, levels: int) -> FaintArea | None:
    """White that was drawn, or is shut in by ink, over more of the canvas than letters shut in.

    `levels` is the least tint of ink. The box is that of the largest such area. A ground that is white to the canvas
    edge is meant to stay cloth, so it does not count, nor do the insides of letters.
    """
    white = samples.tint < levels
    drawn = False
    if samples.alpha is not None and (samples.alpha < 128).any():
        drawn = True
        white &= samples.alpha >= 250
    if white.mean() < WHITE_SHARE:
        return None
    found = find_regions(white)
    left, top, right, bottom = found.box.T
    inner = (left > 0) & (top > 0) & (right < white.shape[1]) & (bottom < white.shape[0])
    least = WHITE_SHARE if drawn else ENCLOSED_SHARE
    counted = found.area * (inner | drawn)
    large = counted >= (least / 4 if drawn else least) * white.size
    share = float((counted * large).sum() / white.size)
    if share < least:
        return None
    biggest = int(counted.argmax())
    return FaintArea(samples.scale_box(*(int(v) for v in found.box[biggest])), share, 0, levels - 1)
