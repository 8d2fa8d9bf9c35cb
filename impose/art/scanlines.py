"""The rows that go onto the page, band by band: over white, mirrored, filtered, deflated; and their ink coverage.

Bands are flattened the quick way. Artwork is mostly all there or not there at all: a pixel that is opaque is its own
colour and one that is clear is white; only the few in between, at smoothed edges, are mixed. The result is that of
`composite_over_white` to the level.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Protocol

from impose.art.codec import Search, best_codec
from impose.art.decode import DecodedFrame, split_into_bands
from impose.art.ink import PixelBox, composite_over_white
from impose.art.pixel_loops import RowFilter, copy_in_order, load_pixel_loops, sum_with_loops

if TYPE_CHECKING:
    from ctypes import CDLL

    import numpy as np
    from PIL import Image

    Array = np.ndarray[Any, np.dtype[Any]]


_OPAQUE = 0xFF000000
_MOST_MIXED = 0.05  # beyond, as in a glow, Pillow's own loop over all pixels is quicker


def flatten_quickly(frame: DecodedFrame, box: PixelBox) -> Image.Image:
    """The pixels of `box` over white: as `over_white`, but maybe in mode RGBX where that says RGB."""
    if frame.pixels is None or frame.pixels.shape[2] != 4:
        return composite_over_white(frame, box)
    import numpy as np
    from PIL import Image

    left, top, right, bottom = box
    # Four channels as one number, alpha its highest byte.
    words = frame.pixels[top:bottom, left:right].view("<u4")[:, :, 0]
    flat = np.ascontiguousarray(words) if frame.mode == "RGBX" else _blend_words(words)
    if flat is None:
        return composite_over_white(frame, box)
    return Image.frombuffer("RGBX", (right - left, bottom - top), flat, "raw", "RGBX", 0, 1)


def _blend_words(words: Array) -> Array | None:
    """Pixels over white, None if too many of them are neither opaque nor clear."""
    import numpy as np

    # Less one, a clear pixel's alpha goes round to the highest, and an opaque one's is next to it.
    between = words - np.uint32(1 << 24) < np.uint32(0xFE << 24)
    if np.count_nonzero(between) > _MOST_MIXED * between.size:
        return None
    # All bits of what is not opaque are set, and that is white.
    flat: Array = np.negative((words < np.uint32(_OPAQUE)).astype(np.uint32))
    flat |= words
    at = np.flatnonzero(between)
    if len(at):
        pixels = words[np.divmod(at, words.shape[1])].astype("<u4").view(np.uint8).reshape(-1, 4).astype(np.uint32)
        alpha = pixels[:, 3:]
        # 255 - alpha (255 - colour) / 255, to the nearest.
        pixels[:, :3] = 255 - (alpha * (255 - pixels[:, :3]) + 127) // 255
        flat.ravel()[at] = pixels.astype(np.uint8).view("<u4")[:, 0]
    return flat


_FOLD = 16


class CoverageSum:
    """Gathers darkness from mirrored rows, exactly, along the row and down the picture."""

    def __init__(self, bounds: PixelBox) -> None:
        self._bounds, self._channels = bounds, 1
        self._columns: Array | int = 0
        self._rows: list[Array] = []

    def add_rows(self, rows: Array) -> None:
        """Take the next rows of the bounds, over white and mirrored: an array of rows and bytes."""
        import numpy as np

        self._channels = rows.shape[1] // (self._bounds[2] - self._bounds[0])
        whole = len(rows) // _FOLD * _FOLD
        # Row upon row is what the processor adds sixteen bytes at a time; 256 of them stay within 16 bits.
        sums = np.add.reduce(rows[:whole].reshape(-1, _FOLD, rows.shape[1]), axis=1, dtype=np.uint16)
        self._columns = self._columns + sums.sum(axis=0, dtype=np.uint64) + rows[whole:].sum(axis=0, dtype=np.uint64)
        # The same along each row: its parts, laid upon each other, then what is left over.
        part = rows.shape[1] // _FOLD
        parts = rows[:, : part * _FOLD].reshape(len(rows), _FOLD, part)
        self._rows.append(
            np.add.reduce(parts, axis=1, dtype=np.uint16).sum(axis=1, dtype=np.uint64)
            + rows[:, part * _FOLD :].sum(axis=1, dtype=np.uint64)
        )

    def take_sums(self, columns: Array, rows: list[Array], channels: int) -> None:
        """Take the sums themselves: of the levels of each column, not mirrored, and of the rows."""
        self._columns, self._rows, self._channels = columns[::-1], rows, channels

    def centre_and_coverage(self) -> tuple[tuple[float, float], float]:
        """The centre of mass in pixels from the canvas's top left corner, and the mean darkness, 1 for solid black.

        The centre is the middle of the bounds if there is nothing but white.
        """
        import numpy as np

        left, top, right, bottom = self._bounds
        width, height = right - left, bottom - top
        columns = np.asarray(self._columns).reshape(width, -1)
        full = 255 * self._channels
        across = (full * height - columns.sum(axis=1, dtype=np.int64))[::-1]
        down = full * width - np.concatenate(self._rows).astype(np.int64)
        total = int(across.sum())
        if total == 0:
            return ((left + right) / 2, (top + bottom) / 2), 0.0
        x, y = (
            float(line @ middle) / total
            for line, middle in ((across, np.arange(width) + 0.5), (down, np.arange(height) + 0.5))
        )
        # Six places: sums of floats differ in their last bits between machines, and this ends in a price.
        return (left + x, top + y), round(total / (full * width * height), 6)


Convert = Callable[["Image.Image"], "Image.Image"]


class BandSink(Protocol):
    """What is given the rows that go onto the page, not mirrored, band by band, in one of two ways."""

    def add_band(self, band: Image.Image, /) -> None:
        """The next rows; the mode may be RGBX where RGB is meant."""

    def add_pixels(self, loops: CDLL, pixels: Array, /) -> None:
        """The next rows as an array of 1 or 4 channels, the last of them filler."""


_SAMPLES, _SAMPLE_ROWS, _SAMPLE_PIXELS = 3, 8, 1024
_WORTH = 1.25  # looking for repeats takes twice as long on a photograph as looking for runs
_FLAT = 0.05  # so little takes a library next to no time whatever is looked for
_LITTLE = 0.1
_HARDLY = 1.01  # looking for runs takes a library half as long again as looking for nothing
_GLADLY = 1.1  # where that is most of what there is to do


def deflate_ink(
    frame: DecodedFrame,
    bounds: PixelBox,
    convert: Convert | None = None,
    copies: BandSink | None = None,
) -> tuple[bytes, tuple[float, float], float]:
    """The deflated rows of `bounds`, mirrored and filtered, the centre of mass on the canvas, and the coverage.

    `convert` turns pixels over white into the printer's colours; centre and coverage are those of the artwork.
    `copies` are given every band in those colours.
    """
    weights = CoverageSum(bounds)
    search, _ = _choose_search(frame, bounds, convert, _HARDLY)
    if (loops := load_pixel_loops()) is not None and convert is None and frame.pixels is not None:
        data = _deflate_with_loops(loops, frame, bounds, search, copies, weights)
    else:
        data = _deflate_bands(frame, bounds, convert, search, copies, weights)
    return data, *weights.centre_and_coverage()


def measure_rows(frame: DecodedFrame, bounds: PixelBox, copies: BandSink) -> tuple[tuple[float, float], float]:
    """What `deflate_ink` says of opaque pixels besides their rows, which are there already."""
    left, top, right, bottom = bounds
    weights, loops = CoverageSum(bounds), load_pixel_loops()
    columns: Any = 0
    sums = list[Any]()
    for y, end in split_into_bands(right - left, bottom - top, top):
        if loops is not None and frame.pixels is not None:
            part = copy_in_order(frame.pixels[y:end, left:right])
            copies.add_pixels(loops, part)
            across, along = sum_with_loops(loops, part)
            columns = columns + across
            sums.append(along)
        else:
            band = flatten_quickly(frame, (left, y, right, end))
            copies.add_band(band)
            weights.add_rows(_read_rows(_mirror_band(band)))
    if sums:
        weights.take_sums(columns, sums, 1 if frame.grey else 3)
    return weights.centre_and_coverage()


def deflate_quickly(frame: DecodedFrame, bounds: PixelBox) -> bytes:
    """The rows alone of what comes decoded, as from a WebP: a tenth more bytes are taken for a third of the time."""
    search, _ = _choose_search(frame, bounds, None, _GLADLY)
    if (loops := load_pixel_loops()) is not None and frame.pixels is not None:
        return _deflate_with_loops(loops, frame, bounds, search)
    return _deflate_bands(frame, bounds, None, search)


def is_well_packed(frame: DecodedFrame, bounds: PixelBox, size: int) -> bool:
    """Whether rows that a file has deflated to `size` bytes are hardly more than those of `bounds` would become here.

    As with `deflate_quickly`, a tenth more bytes are taken for the time that is saved; and a tenth of the pixels' bytes
    is little, whatever a few rows of flat artwork let expect.
    """
    left, top, right, bottom = bounds
    _, share = _choose_search(frame, bounds, None, _HARDLY)
    components = 1 if frame.grey else 3
    return size <= max(_LITTLE, _GLADLY * share) * (right - left) * (bottom - top) * components


def _deflate_with_loops(
    loops: CDLL,
    frame: DecodedFrame,
    bounds: PixelBox,
    search: Search,
    copies: BandSink | None = None,
    weights: CoverageSum | None = None,
) -> bytes:
    """What `_deflate_bands` gives, of a picture that lies in memory and keeps its colours."""
    left, top, right, bottom = bounds
    assert frame.pixels is not None
    deflater, parts = best_codec().make_deflater(search), list[bytes]()
    rows = RowFilter(loops, right - left, frame.pixels.shape[2], frame.mode.endswith("A"))
    for y, end in split_into_bands(right - left, bottom - top, top):
        flat, filtered = rows.filter_rows(frame.pixels[y:end, left:right])
        if copies is not None:
            copies.add_pixels(loops, flat)
        parts.append(deflater.compress(filtered.data.cast("B")))
    if weights is not None:
        weights.take_sums(rows.columns, rows.sums, min(3, frame.pixels.shape[2]))
    return b"".join([*parts, deflater.flush()])


def _deflate_bands(
    frame: DecodedFrame,
    bounds: PixelBox,
    convert: Convert | None,
    search: Search,
    copies: BandSink | None = None,
    weights: CoverageSum | None = None,
) -> bytes:
    """The deflated rows; `weights` get each band's before they are converted, `copies` each band after."""
    left, top, right, bottom = bounds
    deflater = best_codec().make_deflater(search)
    parts: list[bytes] = []
    above: Array | None = None
    for y, end in split_into_bands(right - left, bottom - top, top):
        band = flatten_quickly(frame, (left, y, right, end))
        rows = _read_rows(_mirror_band(band))
        if weights is not None:
            weights.add_rows(rows)
        if convert is not None:
            band = convert(_to_plain_mode(band))
            rows = _read_rows(_mirror_band(band))
        if copies is not None:
            copies.add_band(band)
        parts.append(deflater.compress(_filter_up(rows, above)))
        above = rows[-1]
    parts.append(deflater.flush())
    return b"".join(parts)


def _to_plain_mode(band: Image.Image) -> Image.Image:
    return band.convert("RGB") if band.mode == "RGBX" else band


def _mirror_band(band: Image.Image) -> Image.Image:
    from PIL.Image import Transpose

    return band.transpose(Transpose.FLIP_LEFT_RIGHT)


def _read_rows(band: Image.Image) -> Array:
    import numpy as np

    data = band.tobytes("raw", "RGB") if band.mode == "RGBX" else band.tobytes()
    return np.frombuffer(data, np.uint8).reshape(band.height, -1)


def _filter_up(rows: Array, above: Array | None) -> memoryview:
    """The rows under filter type 2 (PNG section 9.2): each byte less the one above it, modulo 256."""
    import numpy as np

    filtered = np.empty((rows.shape[0], rows.shape[1] + 1), np.uint8)
    filtered[:, 0] = 2
    np.subtract(rows[1:], rows[:-1], out=filtered[1:, 1:])
    np.subtract(rows[0], 0 if above is None else above, out=filtered[0, 1:])
    return filtered.data.cast("B")


def _choose_search(
    frame: DecodedFrame, bounds: PixelBox, convert: Convert | None, hardly: float
) -> tuple[Search, float]:
    """What is worth looking for in the rows, by a few of them, and the share of their bytes to which they are deflated.

    Nothing is worth looking for where they get at most `hardly` times longer without.

    Woven, striped and screened artwork repeats itself along the row; all other artwork hardly does, once filtered.
    """
    left, top, right, bottom = bounds
    right = min(right, left + _SAMPLE_PIXELS)
    samples = []
    for i in range(1, _SAMPLES + 1):
        y = top + (bottom - top) * i // (_SAMPLES + 1)
        samples.append(_filter_sample(frame, (left, max(top, y - 1), right, min(bottom, y + _SAMPLE_ROWS)), convert))
    length = sum(map(len, samples))
    runs, own = _measure_deflated_size(samples, "runs"), best_codec().loops is not None
    if runs < _FLAT * length and not own:
        return "repeats", runs / length
    if runs > _WORTH * (repeats := _measure_deflated_size(samples, "repeats")):
        return "repeats", repeats / length
    nothing = not own and _measure_deflated_size(samples, "nothing") <= hardly * runs
    return ("nothing" if nothing else "runs"), runs / length


def _filter_sample(frame: DecodedFrame, box: PixelBox, convert: Convert | None) -> memoryview:
    """The rows of a box, mirrored and filtered, but for the first, which is above them where there are more."""
    left, top, right, bottom = box
    if (loops := load_pixel_loops()) is not None and convert is None and frame.pixels is not None:
        rows = RowFilter(loops, right - left, frame.pixels.shape[2], frame.mode.endswith("A"))
        filtered = rows.filter_rows(frame.pixels[top:bottom, left:right])[1]
        return memoryview(filtered[min(1, bottom - top - 1) :].data.cast("B"))
    band = _to_plain_mode(flatten_quickly(frame, box))
    plain = _read_rows(_mirror_band(band if convert is None else convert(band)))
    return _filter_up(plain[1:], plain[0]) if len(plain) > 1 else _filter_up(plain, None)


def _measure_deflated_size(samples: list[memoryview], search: Search) -> int:
    """Bytes to which some rows are deflated by the library: what is chosen hangs on nothing else."""
    deflater = best_codec().make_library_deflater(search)
    return sum(len(deflater.compress(rows)) for rows in samples) + len(deflater.flush())
