"""Small pictures of artwork for screen and tickets, made while it is prepared: its rows are at hand then.

Made later they cost as much again as decoding it: all rows have to be inflated, unfiltered and averaged once more.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from impose.art.pixel_loops import (
    MOST_SIDE,
    SquareSums,
    average_with_loops,
    copy_in_order,
    load_pixel_loops,
    sum_with_loops,
)
from impose.art.png_writer import write_small_png
from impose.values import FrozenStruct

if TYPE_CHECKING:
    import ctypes

    import numpy as np
    from PIL import Image

    from impose.art.decode import DecodedFrame
    from impose.art.prepare import PreparedPicture

    PixelBox = tuple[int, int, int, int]
    Rows = np.ndarray[Any, np.dtype[np.uint8]]

MODES = {1: "L", 3: "RGB", 4: "CMYK"}
WORN_PX, TICKET_PX = 900, 300
"""The longer side, or up to a third more: for approvals and drawings of sheets; for tickets (150 an inch at 50 mm)."""

_LEAST = 64  # pixels of the shorter side; its last square may be narrower than it is shown

_JPEG_QUALITY = 82
_FLAT_COLOURS = 2048  # a few inks and the blends along their edges; a photograph has tens of thousands


class SmallFile(FrozenStruct):
    """A small picture as a file, and its size in pixels."""

    content: bytes
    media: str
    width: int
    height: int


class SmallCopies(FrozenStruct):
    """A picture small, as it is worn; and smaller still for a ticket."""

    worn: SmallFile
    ticket: SmallFile


def _choose_factor(width: int, height: int, side: int) -> tuple[int, bool]:
    """Pixels along a side of the squares that are averaged, and whether that is all there is to do.

    A picture that is up to a third longer than `side` stays as it is; any other is then between two thirds and all of
    `side` long. Resampling it to the last pixel takes several times as long as averaging it, and is seen by nobody.
    """
    longer = max(width, height)
    if 3 * longer <= 4 * side:
        return 1, True
    factor = -(-longer // side)
    fits = width % factor == 0 == height % factor or min(width, height) >= _LEAST * factor
    return (factor, True) if fits else (longer // side, False)


class RowReducer:
    """Averages a picture down as its rows come, to about `side` pixels (`_choose_factor`); what it holds is small.

    Whole squares of pixels are averaged, however the rows are cut into bands. Where the last of them would be out of
    shape a Hamming filter takes the picture to `side`.
    """

    def __init__(self, width: int, height: int, mode: str, side: int) -> None:
        self._width, self._height, self._mode, self._side = width, height, mode, side
        self._factor, self._enough = _choose_factor(width, height, side)
        self._done = 0
        self._small: Image.Image | None = None
        self._held: Image.Image | None = None
        self._sums: SquareSums | None = None

    def add_pixels(self, loops: ctypes.CDLL, pixels: Rows) -> None:
        """The next rows as an array of rows, columns and channels; a fourth channel is filler."""
        if self._factor > MOST_SIDE:
            self.add_rows(pixels[:, :, : len(self._mode)])
            return
        if self._sums is None:
            self._sums = SquareSums(loops, self._width, self._height, pixels.shape[2], self._factor)
        self._sums.add_rows(pixels)

    def add_rows(self, rows: Rows) -> None:
        """The next rows, one line each."""
        from PIL import Image

        self.add_band(Image.frombuffer(self._mode, (self._width, len(rows)), rows.tobytes(), "raw", self._mode, 0, 1))

    def add_band(self, band: Image.Image) -> None:
        """The next rows as a picture; its mode may be RGBX where RGB is meant."""
        if self._held is not None:
            band = _join_bands(self._held, band)
        whole = band.height - band.height % self._factor
        self._paste_band(band, whole)
        self._held = band.crop((0, whole, band.width, band.height)) if whole < band.height else None

    def make_image(self) -> Image.Image:
        """The picture, once all rows have come; its mode may be RGBX where RGB is meant."""
        if self._held is not None:
            self._paste_band(self._held, self._held.height)
            self._held = None
        small = self._small if self._sums is None else _make_image(self._sums.averages)
        assert small is not None  # rows have come
        if self._enough:
            return small
        return _resample_averages(small, self._width, self._height, self._factor, self._side)

    def _paste_band(self, band: Image.Image, height: int) -> None:
        """Paste the upper `height` rows of a band, averaged."""
        from PIL import Image

        if not height:
            return
        if self._small is None:
            size = (-(-self._width // self._factor), -(-self._height // self._factor))
            self._small = Image.new(self._mode, size)
        part = band.reduce(self._factor, (0, 0, band.width, height))
        self._small.paste(part if part.mode == self._mode else part.convert(self._mode), (0, self._done))
        self._done += part.height


def _join_bands(above: Image.Image, below: Image.Image) -> Image.Image:
    from PIL import Image

    joined = Image.new(below.mode, (below.width, above.height + below.height))
    joined.paste(above, (0, 0))
    joined.paste(below, (0, above.height))
    return joined


def make_copies(large: Image.Image, picture: PreparedPicture) -> SmallCopies:
    """The files of a picture from its averages, at most as large as for approvals; in sRGB.

    The smaller one is averaged from the larger: of as many pixels, by whole squares again.
    """
    from impose.art.colour_proof import make_soft_proof

    if picture.icc is not None:
        large = make_soft_proof(large.convert("RGB") if large.mode == "RGBX" else large, picture)
    return SmallCopies(pack_image(large), pack_image(shrink_within(large, TICKET_PX)))


def choose_worn_side(width: int, height: int) -> int:
    """Pixels along a side of the squares that a picture of so many is averaged over; 0 where none are."""
    factor, _ = _choose_factor(width, height, WORN_PX)
    return factor if 1 < factor <= MOST_SIDE else 0


OPAQUE_MODES = ("L", "RGB", "RGBX")


class SquareAverages:
    """The small picture, the centre of mass and the coverage of opaque pixels that lie in memory and go nowhere else.

    All come of one walk: of the averages, over squares, of the pixels in `bounds`, of a mode of `OPAQUE_MODES`.
    `averages` are those of the whole picture over squares of `choose_worn_side`, where they are known.
    """

    def __init__(self, frame: DecodedFrame, bounds: PixelBox, averages: Rows | None = None) -> None:
        left, top, right, bottom = self._bounds = bounds
        self._factor, self._enough = _choose_factor(right - left, bottom - top, WORN_PX)
        loops, self._pixels = load_pixel_loops(), averages if bounds == (0, 0, *frame.size) else None
        if self._pixels is None and loops is not None and frame.pixels is not None and 1 < self._factor <= MOST_SIDE:
            self._pixels = average_with_loops(loops, frame.pixels[top:bottom, left:right], self._factor)
        if self._pixels is not None:
            self._averages = _make_image(self._pixels)
        else:
            self._averages = frame.crop_image(bounds) if self._factor == 1 else frame.image.reduce(self._factor, bounds)

    def measure_ink(self) -> tuple[tuple[float, float], float]:
        """The centre of mass, pixels of the canvas, and the coverage: each average is right to half a level of 255."""
        import numpy as np

        left, top, right, bottom = self._bounds
        width, height = right - left, bottom - top
        (wide, across), (high, down) = (_list_squares(length, self._factor) for length in (width, height))
        columns, rows, channels = self._sum_darkness(int(high[-1]), int(wide[-1]))
        # Whole numbers far below 2**53 all along, so that the sums are the same on any machine.
        columns, rows = (columns * wide).astype(np.float64), (rows * high).astype(np.float64)
        total = float(rows.sum())
        if total == 0:
            return ((left + right) / 2, (top + bottom) / 2), 0.0
        coverage = total / (255 * channels * width * height)
        x, y = round(float(columns @ across) / total, 3), round(float(rows @ down) / total, 3)
        return (left + x, top + y), round(coverage, 6)

    def _sum_darkness(self, last_high: int, last_wide: int) -> tuple[Any, Any, int]:
        """Of each column and of each row the darkness of as many pixels as squares stand for across; and the channels.

        Squares count as many times as they are wide or high: `last_wide` and `last_high` those at the edges.
        """
        import numpy as np

        channels = 1 if self._averages.mode == "L" else 3
        loops = load_pixel_loops()
        if self._pixels is not None and loops is not None:
            pixels = self._pixels
            columns, rows = (sums.astype(np.int64) for sums in sum_with_loops(loops, pixels))
        else:
            pixels = np.asarray(self._averages).reshape(self._averages.height, self._averages.width, -1)
            columns, rows = sum_with_numpy(pixels)
        bottom, right = (edge[:, :channels].sum(axis=1, dtype=np.int64) for edge in (pixels[-1], pixels[:, -1]))
        full, (height, width, _) = 255 * channels, pixels.shape
        down = (full * height - columns) * self._factor + (full - bottom) * (last_high - self._factor)
        along = (full * width - rows) * self._factor + (full - right) * (last_wide - self._factor)
        return down, along, channels

    def make_image(self) -> Image.Image:
        """The picture in `bounds`, as `RowReducer` makes it."""
        left, top, right, bottom = self._bounds
        if self._enough:
            return self._averages
        return _resample_averages(self._averages, right - left, bottom - top, self._factor, WORN_PX)


def sum_with_numpy(pixels: Rows) -> tuple[Any, Any]:
    """The sums of the levels of each column and of each row; a fourth channel is filler."""
    import numpy as np

    colours = pixels[:, :, :3]
    return colours.sum(axis=(0, 2), dtype=np.int64), colours.sum(axis=(1, 2), dtype=np.int64)


def _make_image(pixels: Rows) -> Image.Image:
    """An array of 1 or 4 channels, the last of them filler, as a picture of mode L or RGBX."""
    from PIL import Image

    mode = "L" if pixels.shape[2] == 1 else "RGBX"
    return Image.frombuffer(mode, (pixels.shape[1], pixels.shape[0]), copy_in_order(pixels), "raw", mode, 0, 1)


def _list_squares(length: int, side: int) -> tuple[Any, Any]:
    """How long each square along a side is, and where its middle lies; the last may be shorter."""
    import numpy as np

    starts = np.arange(0, length, side)
    lengths = np.minimum(side, length - starts)
    return lengths, starts + lengths / 2


def _resample_averages(small: Image.Image, width: int, height: int, factor: int, side: int) -> Image.Image:
    """Averages over squares of a picture of `width` by `height`, `side` pixels long."""
    from PIL.Image import Resampling

    scale = side / max(small.size)
    wanted = (max(1, round(small.width * scale)), max(1, round(small.height * scale)))
    # The last row and column of the averaged may stand for less than the others.
    return small.resize(wanted, Resampling.HAMMING, (0, 0, width / factor, height / factor))


def pack_image(image: Image.Image) -> SmallFile:
    """The picture as a file: PNG for flat artwork, which stays crisp so, JPEG for all else; no clock or name in it.

    A JPEG with codes of its own would take a tenth less and twice as long to make.
    """
    if image.getcolors(_FLAT_COLOURS) is not None:
        plain = image if image.mode in ("L", "RGB") else image.convert("RGB")
        return SmallFile(write_small_png(plain), "image/png", image.width, image.height)
    file = io.BytesIO()
    image.save(file, "JPEG", quality=_JPEG_QUALITY, subsampling="4:2:0")
    return SmallFile(file.getvalue(), "image/jpeg", image.width, image.height)


def mirror_image(image: Image.Image) -> Image.Image:
    """The picture turned about its upright axis: as worn from as printed."""
    from PIL.Image import Transpose

    return image.transpose(Transpose.FLIP_LEFT_RIGHT)


def shrink_within(image: Image.Image, side: int) -> Image.Image:
    """The picture at most so many pixels long."""
    from PIL.Image import Resampling

    factor, enough = _choose_factor(*image.size, side)
    if enough:
        return image.reduce(factor) if factor > 1 else image.copy()
    small = image.copy()
    small.thumbnail((side, side), Resampling.HAMMING)
    return small
