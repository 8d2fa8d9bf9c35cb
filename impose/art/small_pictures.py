"""Small pictures of artwork for screen and tickets, made while it is prepared: its rows are at hand then.

Made later they cost as much again as decoding it: all rows have to be inflated, unfiltered and averaged once more.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

from impose.value_classes import dataclass

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

    from impose.art.prepare import PreparedPicture

    Rows = np.ndarray[Any, np.dtype[np.uint8]]

MODES = {1: "L", 3: "RGB", 4: "CMYK"}
WORN_PX, PRINTED_PX, TICKET_PX = 900, 640, 300
"""The longer side: as worn for approvals, as printed for drawings of sheets, as worn for tickets (150 an inch at
50 mm)."""

_NEAR = 2 / 3
"""Of the pixels that are allowed; where whole squares of pixels come so near, their averages are taken as they are."""

_LEAST = 64  # pixels of the shorter side; its last square may be narrower than it is shown

_JPEG_QUALITY = 82
_FLAT_COLOURS = 2048  # a few inks and the blends along their edges; a photograph has tens of thousands


@dataclass(frozen=True, slots=True)
class SmallFile:
    """A small picture as a file, and its size in pixels."""

    content: bytes
    media: str
    width: int
    height: int


@dataclass(frozen=True, slots=True)
class SmallCopies:
    """A picture small: mirrored as it is printed, as it is worn, and smaller still for a ticket."""

    printed: SmallFile
    worn: SmallFile
    ticket: SmallFile


def _choose_factor(width: int, height: int, side: int) -> tuple[int, bool]:
    """Pixels along a side of the squares that are averaged, and whether that is all there is to do.

    A picture is then between `_NEAR` and all of `side` long. Resampling it to the last pixel takes several times as
    long as averaging it, and is seen by nobody.
    """
    longer = max(width, height)
    factor = max(1, -(-longer // side))
    fits = width % factor == 0 == height % factor or min(width, height) >= _LEAST * factor
    if factor == 1 or (fits and longer >= _NEAR * side * factor):
        return factor, True
    return max(1, longer // side), False


class RowReducer:
    """Averages a picture down as its rows come, to at most `side` pixels; what it holds is small.

    Whole squares of pixels are averaged, however the rows are cut into bands. What that leaves too large is taken to
    `side` by a Hamming filter.
    """

    def __init__(self, width: int, height: int, mode: str, side: int) -> None:
        from PIL import Image

        self._width, self._height, self._mode, self._side = width, height, mode, side
        self._factor, self._enough = _choose_factor(width, height, side)
        self._small = Image.new(mode, (-(-width // self._factor), -(-height // self._factor)))
        self._done = 0
        self._held: Image.Image | None = None

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
        """The picture, once all rows have come."""
        from PIL.Image import Resampling

        if self._held is not None:
            self._paste_band(self._held, self._held.height)
            self._held = None
        small = self._small
        if self._enough:
            return small
        scale = self._side / max(small.size)
        wanted = (max(1, round(small.width * scale)), max(1, round(small.height * scale)))
        # The last row and column of the averaged may stand for less than the others.
        box = (0, 0, self._width / self._factor, self._height / self._factor)
        return small.resize(wanted, Resampling.HAMMING, box)

    def _paste_band(self, band: Image.Image, height: int) -> None:
        """Paste the upper `height` rows of a band, averaged."""
        if not height:
            return
        part = band.reduce(self._factor, (0, 0, band.width, height))
        self._small.paste(part if part.mode == self._mode else part.convert(self._mode), (0, self._done))
        self._done += part.height


def _join_bands(above: Image.Image, below: Image.Image) -> Image.Image:
    from PIL import Image

    joined = Image.new(below.mode, (below.width, above.height + below.height))
    joined.paste(above, (0, 0))
    joined.paste(below, (0, above.height))
    return joined


class CopyReducers:
    """Gathers the rows of a picture for its small copies, one line each for those that show it at a size of their own.

    The smaller ones are averaged from all pixels as well: from a larger copy they would have to be resampled.
    """

    def __init__(self, width: int, height: int, components: int) -> None:
        self._worn = RowReducer(width, height, MODES[components], WORN_PX)
        self._printed = RowReducer(width, height, MODES[components], PRINTED_PX)

    def add_band(self, band: Image.Image) -> None:
        """The next rows as a picture, mirrored; its mode may be RGBX where RGB is meant."""
        self._worn.add_band(band)
        self._printed.add_band(band)

    def make_copies(self, picture: PreparedPicture) -> SmallCopies:
        """The files of the picture whose rows these were, in sRGB."""
        from impose.art.colour_proof import make_soft_proof

        large, printed = (reducer.make_image() for reducer in (self._worn, self._printed))
        if picture.icc is not None:
            large, printed = make_soft_proof(large, picture), make_soft_proof(printed, picture)
        ticket = mirror_image(shrink_within(printed, TICKET_PX))
        return SmallCopies(pack_image(printed), pack_image(mirror_image(large)), pack_image(ticket))


def pack_image(image: Image.Image) -> SmallFile:
    """The picture as a file: PNG for flat artwork, which stays crisp so, JPEG for all else; no clock or name in it."""
    file = io.BytesIO()
    if image.getcolors(_FLAT_COLOURS) is not None:
        image.save(file, "PNG", compress_level=6)
        return SmallFile(file.getvalue(), "image/png", image.width, image.height)
    image.save(file, "JPEG", quality=_JPEG_QUALITY, subsampling="4:2:0", optimize=True)
    return SmallFile(file.getvalue(), "image/jpeg", image.width, image.height)


def mirror_image(image: Image.Image) -> Image.Image:
    """The picture turned about its upright axis: as worn from as printed, and back."""
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
