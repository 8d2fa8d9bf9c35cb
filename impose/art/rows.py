"""The rows that go onto the page, band by band: over white, mirrored, filtered, deflated; and their centre of mass."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from impose.art.codec import Search, codec
from impose.art.decode import Frame, bands
from impose.art.ink import PixelBox, over_white

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]


Convert = Callable[["Image.Image"], "Image.Image"]

_SAMPLES, _SAMPLE_ROWS = 3, 8
_WORTH = 1.25  # looking for repeats takes twice as long on a photograph as looking for runs
_FLAT = 0.05  # so little takes next to no time whatever is looked for
_HARDLY = 1.01  # looking for runs takes half as long again as looking for nothing


def deflate_ink(
    frame: Frame, bounds: PixelBox, convert: Convert | None = None
) -> tuple[bytes, tuple[float, float], float]:
    """The deflated rows of `bounds`, mirrored and filtered, the centre of mass on the canvas, and the coverage.

    `convert` turns pixels over white into the printer's colours; centre and coverage are those of the artwork.
    """
    left, top, right, bottom = bounds
    deflater = codec().deflater(_worthwhile(frame, bounds, convert))
    weights = _Weights(bounds)
    parts: list[bytes] = []
    above: Array | None = None
    for y, end in bands(right - left, bottom - top, top):
        band = over_white(frame, (left, y, right, end))
        weights.add(band)
        rows = _mirrored(band if convert is None else convert(band))
        parts.append(deflater.compress(_up(rows, above)))
        above = rows[-1]
    parts.append(deflater.flush())
    return b"".join(parts), *weights.centre_and_coverage()


def _mirrored(band: Image.Image) -> Array:
    import numpy as np
    from PIL.Image import Transpose

    pixels = np.frombuffer(band.transpose(Transpose.FLIP_LEFT_RIGHT).tobytes(), np.uint8)
    return pixels.reshape(band.height, -1)


def _up(rows: Array, above: Array | None) -> memoryview:
    """The rows under filter type 2 (PNG section 9.2): each byte less the one above it, modulo 256."""
    import numpy as np

    filtered = np.empty((rows.shape[0], rows.shape[1] + 1), np.uint8)
    filtered[:, 0] = 2
    np.subtract(rows[1:], rows[:-1], out=filtered[1:, 1:])
    np.subtract(rows[0], 0 if above is None else above, out=filtered[0, 1:])
    return filtered.data.cast("B")


def _worthwhile(frame: Frame, bounds: PixelBox, convert: Convert | None) -> Search:
    """What is worth looking for in the rows, by a few of them.

    Woven, striped and screened artwork repeats itself along the row; all other artwork hardly does, once filtered.
    """
    left, top, right, bottom = bounds
    searches: tuple[Search, ...] = ("repeats", "runs", "nothing")
    deflaters = {search: codec().deflater(search) for search in searches}
    sizes = dict.fromkeys(searches, 0)
    whole = 0
    for i in range(1, _SAMPLES + 1):
        y = top + (bottom - top) * i // (_SAMPLES + 1)
        band = over_white(frame, (left, max(top, y - 1), right, min(bottom, y + _SAMPLE_ROWS)))
        rows = _mirrored(band if convert is None else convert(band))
        sample = _up(rows[1:], rows[0]) if len(rows) > 1 else _up(rows, None)
        whole += len(sample)
        for search, deflater in deflaters.items():
            sizes[search] += len(deflater.compress(sample))
    for search, deflater in deflaters.items():
        sizes[search] += len(deflater.flush())
    if sizes["runs"] > _WORTH * sizes["repeats"] or sizes["runs"] < _FLAT * whole:
        return "repeats"
    return "nothing" if sizes["nothing"] <= _HARDLY * sizes["runs"] else "runs"


class _Weights:
    """Gathers darkness from bands shrunk by averaging, which keeps its sum and where it lies.

    Blocks are at most 8 pixels and at most a 64th of the shorter side, so small pictures are summed pixel by pixel.
    """

    def __init__(self, bounds: PixelBox) -> None:
        self._bounds = bounds
        left, top, right, bottom = bounds
        self._block = max(b for b in (1, 2, 4, 8) if b == 1 or 64 * b <= min(right - left, bottom - top))
        self._bands: list[Array] = []

    def add(self, band: Image.Image) -> None:
        """Take the next band of the bounds."""
        import numpy as np

        self._bands.append(np.asarray(band.reduce(self._block) if self._block > 1 else band))

    def centre_and_coverage(self) -> tuple[tuple[float, float], float]:
        """The centre of mass in pixels from the canvas's top left corner, and the mean darkness, 1 for solid black.

        The centre is the middle of the bounds if all of it rounded to white.
        """
        import numpy as np

        left, top, right, bottom = self._bounds
        levels = np.concatenate(self._bands)
        if levels.ndim == 3:
            levels = levels.mean(axis=2, dtype=np.float32)
        x, wide = _blocks(right - left, self._block)
        y, high = _blocks(bottom - top, self._block)
        dark = 255.0 - levels.astype(np.float64)
        columns, rows = (high @ dark) * wide, (dark @ wide) * high
        total = float(columns.sum())
        if total == 0:
            return ((left + right) / 2, (top + bottom) / 2), 0.0
        centre = left + float(columns @ x) / total, top + float(rows @ y) / total
        # Six places: sums of floats differ in their last bits between machines, and this ends in a price.
        return centre, round(total / (255 * (right - left) * (bottom - top)), 6)


def _blocks(length: int, block: int) -> tuple[Array, Array]:
    """Middle and size of each block along a side; the last may be shorter."""
    import numpy as np

    starts = np.arange(0, length, block)
    ends = np.minimum(starts + block, length)
    return (starts + ends) / 2, (ends - starts).astype(np.float64)
