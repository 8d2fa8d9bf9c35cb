"""Small pictures of prepared artwork for the screen, made from its rows a band at a time.

The rows of a prepared picture are mirrored, over white, 8 bits, each filtered with Up (PNG, section 9.2). They are
inflated, unfiltered and averaged down band by band, so that a large picture takes the memory of one band and of the
small picture. Colours with a profile, embedded or of the printer, are shown by it: a soft proof.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from impose.art.colour_proof import make_soft_proof
from impose.art.crop import read_picture_rows
from impose.art.prepare import PreparedPicture
from impose.art.rasterise import rasterise_picture
from impose.art.small_pictures import (
    MODES,
    WORN_PX,
    RowReducer,
    SmallFile,
    mirror_image,
    pack_image,
    shrink_within,
)
from impose.art.vector_drawing import Drawing
from impose.pages.proof.markup import Markup, make_data_uri

if TYPE_CHECKING:
    from PIL import Image

PROOF_PX = 640
"""The longer side of a picture in a proof that holds many; of few it is the one for approvals, as it is."""

_BAND_BYTES = 4 << 20


class SmallPicture(SmallFile):
    """A small picture as a file for a page."""

    @classmethod
    def from_file(cls, file: SmallFile) -> SmallPicture:
        """The file for a page."""
        return cls(file.content, file.media, file.width, file.height)

    @property
    def data_uri(self) -> Markup:
        """The picture as an address that needs no file."""
        return make_data_uri(self.content, self.media)


def picture_key(picture: PreparedPicture) -> tuple[object, ...]:
    """What makes two pictures look alike: content and everything that was done to it."""
    # By nothing that hangs on the machine, since what a customer agrees to is named by it.
    return *picture.look, picture.components, picture.mass, picture.coverage


def choose_side(count: int, most: int, least: int, budget: int) -> int:
    """Pixels of the longer side when `count` pictures share a budget of pixels: many pictures are smaller pictures."""
    each = (budget / max(1, count)) ** 0.5
    return int(max(least, min(most, each)))


def reduce_picture(picture: PreparedPicture, side: int) -> Image.Image:
    """The picture as it lies on transfer paper (mirrored), about `side` pixels long, as it will look in sRGB."""
    if isinstance(picture, Drawing):
        return make_soft_proof(rasterise_picture(picture, side), picture)
    left, top, right, bottom = picture.ink
    reducer = RowReducer(right - left, bottom - top, MODES[picture.components], side)
    for rows in read_picture_rows(picture):
        reducer.add_rows(rows)
    small = reducer.make_image()
    return make_soft_proof(small, picture) if picture.icc is not None else small


def _make_large(picture: PreparedPicture, side: int) -> Image.Image:
    """The picture as worn, from what was made small while it was prepared, where that is enough."""
    from PIL import Image

    if picture.small is None or side > WORN_PX:
        return mirror_image(reduce_picture(picture, side))
    return shrink_within(Image.open(io.BytesIO(picture.small.worn.content)), side)


def crop_as_worn(picture: PreparedPicture, box: tuple[int, int, int, int]) -> Image.Image:
    """A part of the picture as worn, pixel by pixel; `box` is told from the ink's top left corner as worn."""
    from PIL import Image

    width = picture.ink[2] - picture.ink[0]
    left, top, right, bottom = box
    mode = MODES[picture.components]
    part = Image.new(mode, (right - left, bottom - top))
    y = 0
    for rows in read_picture_rows(picture):
        high = rows.shape[0]
        if y + high > top and y < bottom:
            band = Image.frombuffer(mode, (width, high), rows.tobytes(), "raw", mode, 0, 1)
            part.paste(band.crop((width - right, 0, width - left, high)), (0, y - top))
        y += high
        if y >= bottom:
            break
    part = mirror_image(part)
    return make_soft_proof(part, picture) if picture.icc is not None else part


def pack_small(image: Image.Image) -> SmallPicture:
    """The picture as a file for a page."""
    return SmallPicture.from_file(pack_image(image))


class PictureGallery:
    """The small pictures of a batch as worn, each distinct one made once, for the proof and for approvals.

    `shown` is how many pictures all approval pages show together. Pages grow with the number of pictures, so that many
    are made smaller: the proof shares 10 million pixels among its pictures, all approvals together 150 million.
    """

    def __init__(self, pictures: Iterable[PreparedPicture], shown: int = 0) -> None:
        self._pictures = {picture_key(picture): picture for picture in pictures}
        self._made: dict[tuple[object, ...], tuple[SmallPicture, SmallPicture]] = {}
        self._names = {key: f"a{index}" for index, key in enumerate(self._pictures, 1)}
        count = len(self._pictures)
        self.proof_side = choose_side(count, PROOF_PX, 96, 10_000_000)
        self.approval_side = choose_side(max(count, shown), WORN_PX, 400, 150_000_000)

    def select_pictures(self, pictures: Iterable[PreparedPicture]) -> PictureGallery:
        """Some of the pictures as a gallery of their own, under the same names; what is made is made for both."""
        wanted = {picture_key(picture) for picture in pictures}
        some = PictureGallery(())
        some._pictures = {key: picture for key, picture in self._pictures.items() if key in wanted}
        some._made, some._names = self._made, self._names
        some.proof_side, some.approval_side = self.proof_side, self.approval_side
        return some

    def __iter__(self) -> Iterator[tuple[str, PreparedPicture]]:
        for key, picture in self._pictures.items():
            yield self._names[key], picture

    def __len__(self) -> int:
        return len(self._pictures)

    def picture_name(self, picture: PreparedPicture) -> str:
        """The picture's name within the page."""
        return self._names[picture_key(picture)]

    def draw_for_proof(self, picture: PreparedPicture) -> SmallPicture:
        """For the drawings of the sheets, which mirror it."""
        return self._make_both(picture)[0]

    def draw_as_worn(self, picture: PreparedPicture) -> SmallPicture:
        """For the customer."""
        return self._make_both(picture)[1]

    def _make_both(self, picture: PreparedPicture) -> tuple[SmallPicture, SmallPicture]:
        key = picture_key(picture)
        if key not in self._made:
            small = picture.small
            if small is not None and (self.proof_side, self.approval_side) == (PROOF_PX, WORN_PX):
                self._made[key] = (SmallPicture.from_file(small.worn),) * 2
            else:
                large = _make_large(picture, self.approval_side)
                self._made[key] = (pack_small(shrink_within(large, self.proof_side)), pack_small(large))
        return self._made[key]
