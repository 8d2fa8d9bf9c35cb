"""Drawings of a plan for the page: sheets to scale, garments with their prints, whose pictures the browser fetches.

They are the drawings of proof and tickets. Pictures stand in them as addresses, not as data, so that a drawing is
small and a picture that is on the screen already is not sent again.
"""

from __future__ import annotations

import hashlib
import io
import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from impose.art.faults.thumbnails import exaggerate_tints
from impose.art.prepare import PreparedPicture
from impose.art.small_pictures import WORN_PX, mirror_image, shrink_within
from impose.errors import count_noun
from impose.page.face_views import find_face_view
from impose.page.finding_values import RowNames
from impose.pages.proof.gallery import crop_as_worn, picture_key, reduce_picture
from impose.pages.proof.garment_drawings import draw_cloth, draw_placed_picture
from impose.pages.proof.markup import Markup, escape_text, format_number, make_element
from impose.pages.proof.order_lots import list_orders
from impose.pages.proof.sheet_drawing import DrawingContext, draw_sheet
from impose.run.plan import Plan
from impose.sheet.garment_faces import FaceShape
from impose.sheet.press_steps import PressStep

if TYPE_CHECKING:
    from PIL import Image

_USE = re.compile(r'<use href="#(p[0-9a-f]{24})"')
_TRANSFER = re.compile(r'<g id="([^"]+)" class="one ')


class PictureNames:
    """Names of pictures by what they show, the same for every plan; stands in for a gallery where drawings are made."""

    def __init__(self) -> None:
        self.known: dict[str, PreparedPicture] = {}

    def picture_name(self, picture: PreparedPicture) -> str:
        """The name of a picture."""
        digest = hashlib.sha256(repr(picture_key(picture)).encode()).hexdigest()
        name = f"p{digest[:24]}"
        self.known[name] = picture
        return name

    def keep(self, pictures: Iterable[PreparedPicture]) -> None:
        """Forget all pictures but these."""
        self.known.clear()
        for picture in pictures:
            self.picture_name(picture)


def draw_plan_sheet(plan: Plan, number: int, names: PictureNames, rows: RowNames, base: str) -> str:
    """One sheet as SVG. Raises `LookupError` where there is no such sheet."""
    sheet = next(entry for entry in plan.layout.sheets if entry.number == number)
    hues = {
        ident: order.hue for order in list_orders(plan.layout, plan.record) for lot in order.lots for ident in lot.ids
    }
    pen = DrawingContext(names, plan.lettering, hues)  # type: ignore[arg-type]
    title = f"Sheet {number} of {len(plan.layout.sheets)}, {sheet.paper.title}"
    text = count_noun(len(sheet.placed), "print")
    of_row = {entry.transfer.id: rows.find_name(entry.transfer.piece.row.row) or "" for entry in sheet.placed}
    return _link_drawing(draw_sheet(sheet, pen, title, text), base, of_row)


def _link_drawing(markup: str, base: str, of_row: dict[str, str]) -> str:
    """The drawing with pictures as addresses, and transfers that name their rows."""

    def name_row(found: re.Match[str]) -> str:
        row = escape_text(of_row.get(found[1], ""))
        return f'<g data-transfer="{found[1]}" data-row="{row}" class="one '

    return _TRANSFER.sub(name_row, _link_pictures(markup, base))


def _link_pictures(markup: str, base: str, worn: bool = False) -> str:
    tail = "?worn=1" if worn else ""
    attributes = 'width="1" height="1" preserveAspectRatio="none"'
    return _USE.sub(lambda found: f'<image href="{base}/pictures/{found[1]}.png{tail}" {attributes}', markup).replace(
        "></use>", "></image>"
    )


def draw_face(shape: FaceShape, steps: Sequence[PressStep], names: PictureNames, base: str, row_of: Any) -> str:
    """A face of a garment with its prints in place, as worn."""
    view = find_face_view(shape, steps)
    prints = [_draw_print(step, names, row_of) for step in steps]
    drawing = make_element(
        "svg",
        list(draw_cloth(shape)),
        prints,
        viewBox=" ".join(format_number(value) for value in view),
        class_="garment",
        aria_hidden="true",
        focusable="false",
    )
    return _link_pictures(drawing, base, worn=True)


def _draw_print(step: PressStep, names: PictureNames, row_of: Any) -> Markup:
    guessed = "" if step.spot.measured or (step.placement and step.placement.side == "centre") else " guessed"
    use = draw_placed_picture(step, names)  # type: ignore[arg-type]
    ident = step.transfer.id
    row = row_of(step)
    return make_element("g", use, class_=f"print{guessed}", data_transfer=ident, data_row=row or "")


def draw_small_png(
    picture: PreparedPicture, worn: bool, side: int = 640, part: tuple[float, float, float, float] | None = None
) -> bytes:
    """A picture for the screen, about so many pixels long: as worn, or mirrored as it is printed.

    `part` is what is shown of it, as shares of the whole as worn: left, top, right, bottom.
    """
    from PIL import Image

    side = max(16, min(side, 1024))
    if picture.small is not None and side <= WORN_PX:
        image: Image.Image = Image.open(io.BytesIO(picture.small.worn.content))
    else:
        image = mirror_image(reduce_picture(picture, side))
    image = shrink_within(image, side)
    if part is not None:
        wide, high = image.size
        left, top, right, bottom = part
        image = image.crop((round(left * wide), round(top * high), round(right * wide), round(bottom * high)))
    return encode_png(image if worn else mirror_image(image))


def crop_png(picture: PreparedPicture, box: tuple[int, int, int, int], strong: bool = False) -> bytes:
    """A part of the picture as worn, pixel by pixel, white beyond its ink; `strong` is twelve times as strong."""
    image = _crop_over_white(picture, box)
    if strong:
        image = exaggerate_tints(image)
    if max(image.size) > 1600:
        image = shrink_within(image, 1600)
    return encode_png(image)


def _crop_over_white(picture: PreparedPicture, box: tuple[int, int, int, int]) -> Image.Image:
    """The part of a picture that a box holds, which may reach over it, on white."""
    from PIL import Image

    left, top, right, bottom = box
    wide, high = picture.ink[2] - picture.ink[0], picture.ink[3] - picture.ink[1]
    within = (max(0, left), max(0, top), min(wide, right), min(high, bottom))
    if within == box:
        return crop_as_worn(picture, box)
    whole = Image.new("RGB", (right - left, bottom - top), "white")
    if within[0] < within[2] and within[1] < within[3]:
        whole.paste(crop_as_worn(picture, within).convert("RGB"), (within[0] - left, within[1] - top))
    return whole


def encode_png(image: Image.Image) -> bytes:
    """A picture of our making."""
    file = io.BytesIO()
    (image if image.mode in ("L", "RGB") else image.convert("RGB")).save(file, "PNG", compress_level=3)
    return file.getvalue()
