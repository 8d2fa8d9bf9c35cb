"""A sheet as a drawing: SVG in millimetres, one user unit to the millimetre, origin top left, the printed side.

Everything that will be printed is where it will be printed; what is not printed (outlines, tear zones, name tags) has
classes of its own, so that the page can say so and hide it. Colours and widths stand in the page's style sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from impose.pages.proof.contents import whose
from impose.pages.proof.markup import Markup, number, tag
from impose.pages.proof.small import Gallery
from impose.sheet.layout import Placed, Sheet
from impose.sheet.marks import Shape, Shaper, Stroke, Words
from impose.units import Box

TAG_SHARE = 1 / 34
"""Height of a name tag as a share of the sheet's longer side, so that it reads at a glance on any paper."""

_TAG_LEAST_MM = 4.0
_SPARED = 0.12  # of a print's shorter side
_LETTERS = 0.7  # of the tag's height
_SMALLER = 0.55
_SPOT = 0.04  # of a print's longer side: a smaller frame would not be seen


@dataclass(frozen=True, slots=True)
class Pen:
    """What a drawing needs beside the sheet. `hues` gives the colour of each transfer's order by id."""

    gallery: Gallery
    shaper: Shaper
    hues: Mapping[str, int]
    labels: bool = True


def symbols(gallery: Gallery) -> Markup:
    """Every distinct picture once, one unit square, as it is printed; drawings point to it."""
    images = [
        tag(
            "image",
            id=name,
            width=1,
            height=1,
            preserveAspectRatio="none",
            href=gallery.as_printed(picture).uri,
        )
        for name, picture in gallery
    ]
    return tag("svg", tag("defs", images), class_="store", width=0, height=0, aria_hidden="true", focusable="false")


def sheet_drawing(sheet: Sheet, pen: Pen, title: str, text: str) -> Markup:
    """The sheet to scale, with everything that lies on it."""
    ident = f"drawing-{sheet.number}"
    long = max(sheet.width_mm, sheet.height_mm)
    tall = max(_TAG_LEAST_MM, min(long, 2 * sheet.width_mm) * TAG_SHARE)
    return tag(
        "svg",
        tag("title", title, id=f"{ident}-title"),
        tag("desc", text, id=f"{ident}-text"),
        _rect(Box(0, 0, sheet.width_mm, sheet.height_mm), "stock"),
        _rect(sheet.area, "area"),
        [_transfer(placed, pen) for placed in sheet.placed],
        tag("path", class_="ticks", d=_lines(sheet.ticks)),
        _labels(sheet) if pen.labels else None,
        tag("g", _lettered(sheet.slug), tag("path", class_="ticks", d=_lines(sheet.rulers)), class_="slug"),
        tag("g", [_tag(placed, tall, pen) for placed in sheet.placed], class_="tags"),
        class_="paper" if sheet.height_mm <= 2 * sheet.width_mm else "paper long",
        viewBox=f"0 0 {number(sheet.width_mm)} {number(sheet.height_mm)}",
        role="img",
        aria_labelledby=f"{ident}-title {ident}-text",
    )


def picture_use(gallery: Gallery, placed: Placed) -> Markup:
    """The artwork where it lies, mirrored as stored, turned as placed."""
    ink = placed.ink
    values = (0, ink.h, -ink.w, 0, ink.right, ink.y) if placed.turned else (ink.w, 0, 0, ink.h, ink.x, ink.y)
    matrix = " ".join(number(value) for value in values)
    return tag("use", href=f"#{gallery.name(placed.transfer.piece.picture)}", transform=f"matrix({matrix})")


def worn_picture(gallery: Gallery, placed: Placed) -> Markup:
    """The artwork upright and unmirrored, from the same stored picture; decoration beside words that say it."""
    piece = placed.transfer.piece
    use = tag("use", href=f"#{gallery.name(piece.picture)}", transform=_worn(piece.ink_w_mm, piece.ink_h_mm))
    box = f"0 0 {number(piece.ink_w_mm)} {number(piece.ink_h_mm)}"
    return tag("svg", use, class_="worn", viewBox=box, aria_hidden="true", focusable="false")


def spot_picture(gallery: Gallery, placed: Placed, spot: Box) -> Markup:
    """The artwork as worn framed at a spot, in mm from the ink's top left corner; words beside it say it too."""
    piece = placed.transfer.piece
    wide, high = piece.ink_w_mm, piece.ink_h_mm
    use = tag("use", href=f"#{gallery.name(piece.picture)}", transform=_worn(wide, high))
    least = max(wide, high) * _SPOT
    grown = spot.inset(*[-max(0.0, least - spot.w) / 2, -max(0.0, least - spot.h) / 2] * 2)
    view = f"0 0 {number(wide)} {number(high)}"
    return tag("svg", use, _rect(grown, "spot"), viewBox=view, aria_hidden="true", focusable="false")


def _worn(width: float, height: float) -> str:
    return f"matrix({number(-width)} 0 0 {number(height)} {number(width)} 0)"


def frames(placed: Placed) -> tuple[Box, Box]:
    """Inner and outer edge of the tear zone, as they lie on the sheet."""
    piece = placed.transfer.piece
    sides = (piece.sides.left, piece.sides.top, piece.sides.right, piece.sides.bottom)
    ink = piece.ink
    kept = ink.inset(*(-side.kept_mm for side in sides))
    zone = ink.inset(*(-side.kept_mm - side.zone_mm for side in sides))
    return _laid(placed, kept), _laid(placed, zone)


def _laid(placed: Placed, box: Box) -> Box:
    """A box of the upright cell, on the sheet."""
    if placed.turned:
        x, y = placed.at(box.x, box.bottom)
        return Box(x, y, box.h, box.w)
    return Box(*placed.at(box.x, box.y), box.w, box.h)


def _transfer(placed: Placed, pen: Pen) -> Markup:
    kept, zone = frames(placed)
    return tag(
        "g",
        _rect(placed.cell, "cell"),
        tag("path", class_="zone", d=_outline(zone) + _outline(kept)),
        picture_use(pen.gallery, placed),
        id=placed.transfer.id,
        class_=f"one hue{pen.hues[placed.transfer.id]}",
    )


def _tag(placed: Placed, tall: float, pen: Pen) -> Markup:
    """Who it is for, large, along the upper edge as the sheet is looked at."""
    cell, ink = placed.cell, placed.ink
    # From the ink upwards over blank paper and, on a large sheet, over the band; over ink where there is neither, and
    # on a print so large that a corner of it can be spared for a name that reads.
    above = ink.y - cell.y - 0.5
    high = min(tall, max(above, _TAG_LEAST_MM, _SPARED * min(ink.w, ink.h)))
    size = high * _LETTERS
    ident = placed.transfer.id
    pad = size * 0.35
    left = max(ink.x - 4.0, cell.x)
    room = max(0.0, cell.right - left - 2 * pad)
    words = whose(placed.transfer.piece.row)
    whole = pen.shaper.line([words]).width
    if whole > 0:  # a long name is set smaller before it is cut
        size *= min(1.0, max(_SMALLER, room / size / whole))
    line = pen.shaper.fit(words, room / size)
    words = line.fields[0] if line.fields else ident
    wide = line.width * size if line.fields else min(room, len(ident) * size * 0.6)
    box = Box(left, max(ink.y - high - 0.5, cell.y), wide + 2 * pad, high)
    text = tag(
        "text", words, x=box.x + pad, y=box.y + high / 2 + size * 0.35, font_size=size, textLength=wide,
        lengthAdjust="spacingAndGlyphs",
    )  # fmt: skip
    hue = f"hue{pen.hues[ident]}"
    return tag("g", _rect(box, "chip", radius=high * 0.2), text, class_=hue)


def _labels(sheet: Sheet) -> Markup:
    arrows = "".join(_polygon(shape) for shape in sheet.arrows)
    return tag("g", _lettered(sheet.labels), tag("path", d=arrows), class_="labels")


def _lettered(words: Iterable[Words]) -> Iterator[Markup]:
    """Each line as text, stretched to the very width it is printed in, whatever font the reader has."""
    for one in words:
        text = "   ".join(one.line.fields)
        if not text:
            continue
        turn = f"rotate({one.angle} {number(one.x)} {number(one.y)})" if one.angle else None
        yield tag(
            "text", text, x=one.x, y=one.y, font_size=one.size_mm, textLength=one.line.width * one.size_mm,
            lengthAdjust="spacingAndGlyphs", transform=turn,
        )  # fmt: skip


def _rect(box: Box, class_: str, radius: float | None = None) -> Markup:
    return tag("rect", class_=class_, x=box.x, y=box.y, width=box.w, height=box.h, rx=radius)


def _outline(box: Box) -> str:
    return f"M{number(box.x)} {number(box.y)}h{number(box.w)}v{number(box.h)}h{number(-box.w)}z"


def _lines(strokes: Iterable[Stroke]) -> str:
    return "".join(["M%.3f %.3fL%.3f %.3f" % stroke for stroke in strokes])  # noqa: UP031 (the fastest by far)


def _polygon(shape: Shape) -> str:
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in shape.points) + "z"
