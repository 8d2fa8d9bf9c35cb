"""The rows that go onto the page, band by band: over white, mirrored, filtered, deflated; and their centre of mass."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from impose.art.codec import Search, best_codec
from impose.art.coverage import CoverageSum
from impose.art.decode import DecodedFrame, split_into_bands
from impose.art.flatten import flatten_quickly
from impose.art.ink import PixelBox

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]


Convert = Callable[["Image.Image"], "Image.Image"]

_SAMPLES, _SAMPLE_ROWS, _SAMPLE_PIXELS = 3, 8, 1024
_WORTH = 1.25  # looking for repeats takes twice as long on a photograph as looking for runs
_FLAT = 0.05  # so little takes next to no time whatever is looked for
_HARDLY = 1.01  # looking for runs takes half as long again as looking for nothing


def deflate_ink(
    frame: DecodedFrame,
    bounds: PixelBox,
    convert: Convert | None = None,
    on_rows: Callable[[Array], object] = lambda rows: None,
) -> tuple[bytes, tuple[float, float], float]:
    """The deflated rows of `bounds`, mirrored and filtered, the centre of mass on the canvas, and the coverage.

    `convert` turns pixels over white into the printer's colours; centre and coverage are those of the artwork.
    `on_rows` is called with the mirrored rows of each band, in those colours.
    """
    left, top, right, bottom = bounds
    deflater = best_codec().make_deflater(_choose_search(frame, bounds, convert))
    weights = CoverageSum(bounds)
    parts: list[bytes] = []
    above: Array | None = None
    for y, end in split_into_bands(right - left, bottom - top, top):
        band = flatten_quickly(frame, (left, y, right, end))
        rows = _mirror_band(band)
        weights.add_rows(rows)
        if convert is not None:
            rows = _mirror_band(convert(_to_plain_mode(band)))
        on_rows(rows)
        parts.append(deflater.compress(_filter_up(rows, above)))
        above = rows[-1]
    parts.append(deflater.flush())
    return b"".join(parts), *weights.centre_and_coverage()


def _to_plain_mode(band: Image.Image) -> Image.Image:
    return band.convert("RGB") if band.mode == "RGBX" else band


def _mirror_band(band: Image.Image) -> Array:
    import numpy as np
    from PIL.Image import Transpose

    turned = band.transpose(Transpose.FLIP_LEFT_RIGHT)
    data = turned.tobytes("raw", "RGB") if band.mode == "RGBX" else turned.tobytes()
    return np.frombuffer(data, np.uint8).reshape(band.height, -1)


def _filter_up(rows: Array, above: Array | None) -> memoryview:
    """The rows under filter type 2 (PNG section 9.2): each byte less the one above it, modulo 256."""
    import numpy as np

    filtered = np.empty((rows.shape[0], rows.shape[1] + 1), np.uint8)
    filtered[:, 0] = 2
    np.subtract(rows[1:], rows[:-1], out=filtered[1:, 1:])
    np.subtract(rows[0], 0 if above is None else above, out=filtered[0, 1:])
    return filtered.data.cast("B")


def _choose_search(frame: DecodedFrame, bounds: PixelBox, convert: Convert | None) -> Search:
    """What is worth looking for in the rows, by a few of them.

    Woven, striped and screened artwork repeats itself along the row; all other artwork hardly does, once filtered.
    """
    left, top, right, bottom = bounds
    right = min(right, left + _SAMPLE_PIXELS)
    samples = []
    for i in range(1, _SAMPLES + 1):
        y = top + (bottom - top) * i // (_SAMPLES + 1)
        band = _to_plain_mode(flatten_quickly(frame, (left, max(top, y - 1), right, min(bottom, y + _SAMPLE_ROWS))))
        rows = _mirror_band(band if convert is None else convert(band))
        samples.append(_filter_up(rows[1:], rows[0]) if len(rows) > 1 else _filter_up(rows, None))
    runs = _measure_deflated_size(samples, "runs")
    if runs < _FLAT * sum(map(len, samples)) or runs > _WORTH * _measure_deflated_size(samples, "repeats"):
        return "repeats"
    return "nothing" if _measure_deflated_size(samples, "nothing") <= _HARDLY * runs else "runs"


def _measure_deflated_size(samples: list[memoryview], search: Search) -> int:
    """Bytes to which some rows are deflated."""
    deflater = best_codec().make_deflater(search)
    return sum(len(deflater.compress(rows)) for rows in samples) + len(deflater.flush())
