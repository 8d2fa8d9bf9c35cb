"""A sheet as a drawing: SVG in millimetres, one user unit to the millimetre, origin top left, the printed side.

Everything that will be printed is where it will be printed; what is not printed (outlines, tear zones, name tags) has
classes of its own, so that the page can say so and hide it. Colours and widths stand in the page's style sheet.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from impose.pages.proof.gallery import PictureGallery
from impose.pages.proof.markup import Markup, format_number, make_element
from impose.pages.proof.order_lots import name_recipient
from impose.sheet.layout import PlacedSwatch, PlacedTransfer, SheetLayout
from impose.sheet.marks import LineShaper, MarkShape, MarkStroke, PlacedWords
from impose.units import Box
from impose.values import FrozenStruct

TAG_SHARE = 1 / 34
"""Height of a name tag as a share of the sheet's longer side, so that it reads at a glance on any paper."""

_TAG_LEAST_MM = 4.0
_SPARED = 0.12  # of a print's shorter side
_LETTERS = 0.7  # of the tag's height
_SMALLER = 0.55
_SPOT = 0.04  # of a print's longer side: a smaller frame would not be seen


class DrawingContext(FrozenStruct):
    """What a drawing needs beside the sheet. `hues` gives the colour of each transfer's order by id."""

    gallery: PictureGallery
    shaper: LineShaper
    hues: Mapping[str, int]
    labels: bool = True


def draw_picture_symbols(gallery: PictureGallery) -> Markup:
    """Every distinct picture once, one unit square, mirrored as it is printed; drawings point to it."""
    images = [
        make_element(
            "image",
            id=name,
            width=1,
            height=1,
            preserveAspectRatio="none",
            href=gallery.draw_for_proof(picture).data_uri,
            transform="matrix(-1 0 0 1 1 0)",
        )
        for name, picture in gallery
    ]
    return make_element(
        "svg", make_element("defs", images), class_="store", width=0, height=0, aria_hidden="true", focusable="false"
    )


def draw_sheet(sheet: SheetLayout, pen: DrawingContext, title: str, text: str) -> Markup:
    """The sheet to scale, with everything that lies on it."""
    ident = f"drawing-{sheet.number}"
    long = max(sheet.width_mm, sheet.height_mm)
    tall = max(_TAG_LEAST_MM, min(long, 2 * sheet.width_mm) * TAG_SHARE)
    return make_element(
        "svg",
        make_element("title", title, id=f"{ident}-title"),
        make_element("desc", text, id=f"{ident}-text"),
        _draw_rectangle(Box(0, 0, sheet.width_mm, sheet.height_mm), "stock"),
        _draw_rectangle(sheet.area, "area"),
        [_draw_transfer(placed, pen) for placed in sheet.placed],
        [_draw_swatch(swatch, pen) for swatch in sheet.swatches],
        make_element("path", class_="ticks", d=_draw_strokes(sheet.ticks)),
        _draw_labels(sheet) if pen.labels else None,
        make_element(
            "g",
            _draw_lines_of_text(sheet.slug),
            make_element("path", class_="ticks", d=_draw_strokes(sheet.rulers)),
            class_="slug",
        ),
        make_element("g", [_draw_tag(placed, tall, pen) for placed in sheet.placed], class_="tags"),
        class_="paper" if sheet.height_mm <= 2 * sheet.width_mm else "paper long",
        viewBox=f"0 0 {format_number(sheet.width_mm)} {format_number(sheet.height_mm)}",
        role="img",
        aria_labelledby=f"{ident}-title {ident}-text",
    )


def place_picture(gallery: PictureGallery, placed: PlacedTransfer) -> Markup:
    """The artwork where it lies, mirrored as stored, turned as placed."""
    ink = placed.ink
    values = (0, ink.h, -ink.w, 0, ink.right, ink.y) if placed.turned else (ink.w, 0, 0, ink.h, ink.x, ink.y)
    matrix = " ".join(format_number(value) for value in values)
    return make_element(
        "use", href=f"#{gallery.picture_name(placed.transfer.piece.picture)}", transform=f"matrix({matrix})"
    )


def draw_worn_picture(gallery: PictureGallery, placed: PlacedTransfer) -> Markup:
    """The artwork upright and unmirrored, from the same stored picture; decoration beside words that say it."""
    piece = placed.transfer.piece
    use = make_element(
        "use", href=f"#{gallery.picture_name(piece.picture)}", transform=_worn_transform(piece.ink_w_mm, piece.ink_h_mm)
    )
    box = f"0 0 {format_number(piece.ink_w_mm)} {format_number(piece.ink_h_mm)}"
    return make_element("svg", use, class_="worn", viewBox=box, aria_hidden="true", focusable="false")


def draw_spot(gallery: PictureGallery, placed: PlacedTransfer, spot: Box) -> Markup:
    """The artwork as worn framed at a spot, in mm from the ink's top left corner; words beside it say it too."""
    piece = placed.transfer.piece
    wide, high = piece.ink_w_mm, piece.ink_h_mm
    use = make_element("use", href=f"#{gallery.picture_name(piece.picture)}", transform=_worn_transform(wide, high))
    least = max(wide, high) * _SPOT
    grown = spot.inset_by(*[-max(0.0, least - spot.w) / 2, -max(0.0, least - spot.h) / 2] * 2)
    view = f"0 0 {format_number(wide)} {format_number(high)}"
    return make_element("svg", use, _draw_rectangle(grown, "spot"), viewBox=view, aria_hidden="true", focusable="false")


def _worn_transform(width: float, height: float) -> str:
    return f"matrix({format_number(-width)} 0 0 {format_number(height)} {format_number(width)} 0)"


def tear_zone_frames(placed: PlacedTransfer) -> tuple[Box, Box]:
    """Inner and outer edge of the tear zone, as they lie on the sheet."""
    piece = placed.transfer.piece
    sides = (piece.sides.left, piece.sides.top, piece.sides.right, piece.sides.bottom)
    ink = piece.ink
    kept = ink.inset_by(*(-side.kept_mm for side in sides))
    zone = ink.inset_by(*(-side.kept_mm - side.zone_mm for side in sides))
    return _place_box(placed, kept), _place_box(placed, zone)


def _place_box(placed: PlacedTransfer, box: Box) -> Box:
    """A box of the upright cell, on the sheet."""
    if placed.turned:
        x, y = placed.to_sheet(box.x, box.bottom)
        return Box(x, y, box.h, box.w)
    return Box(*placed.to_sheet(box.x, box.y), box.w, box.h)


def _draw_transfer(placed: PlacedTransfer, pen: DrawingContext) -> Markup:
    kept, zone = tear_zone_frames(placed)
    return make_element(
        "g",
        _draw_rectangle(placed.cell, "cell"),
        make_element("path", class_="zone", d=_outline_path(zone) + _outline_path(kept)),
        place_picture(pen.gallery, placed),
        id=placed.transfer.id,
        class_=f"one hue{pen.hues[placed.transfer.id]}",
    )


def _draw_swatch(swatch: PlacedSwatch, pen: DrawingContext) -> Markup:
    """The part of the picture where it lies, cut out of the same stored picture, and its label."""
    left, top, right, bottom = swatch.piece.picture.ink
    part, wide, high = swatch.picture.ink, right - left, bottom - top
    # The stored picture is one unit square and mirrored.
    view = ((right - part[2]) / wide, (part[1] - top) / high, (part[2] - part[0]) / wide, (part[3] - part[1]) / high)
    use = make_element("use", href=f"#{pen.gallery.picture_name(swatch.piece.picture)}")
    ink = swatch.ink
    window = make_element(
        "svg", use, x=ink.x, y=ink.y, width=ink.w, height=ink.h, preserveAspectRatio="none",
        viewBox=" ".join(f"{value:.6f}" for value in view),
    )  # fmt: skip
    return make_element("g", window, make_element("g", _draw_lines_of_text(swatch.words), class_="labels"))


def _draw_tag(placed: PlacedTransfer, tall: float, pen: DrawingContext) -> Markup:
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
    words = name_recipient(placed.transfer.piece.row)
    whole = pen.shaper.shape_line([words]).width
    if whole > 0:  # a long name is set smaller before it is cut
        size *= min(1.0, max(_SMALLER, room / size / whole))
    line = pen.shaper.fit_line(words, room / size)
    words = line.fields[0] if line.fields else ident
    wide = line.width * size if line.fields else min(room, len(ident) * size * 0.6)
    box = Box(left, max(ink.y - high - 0.5, cell.y), wide + 2 * pad, high)
    text = make_element(
        "text", words, x=box.x + pad, y=box.y + high / 2 + size * 0.35, font_size=size, textLength=wide,
        lengthAdjust="spacingAndGlyphs",
    )  # fmt: skip
    hue = f"hue{pen.hues[ident]}"
    return make_element("g", _draw_rectangle(box, "chip", radius=high * 0.2), text, class_=hue)


def _draw_labels(sheet: SheetLayout) -> Markup:
    arrows = "".join(_draw_polygon(shape) for shape in sheet.arrows)
    return make_element("g", _draw_lines_of_text(sheet.labels), make_element("path", d=arrows), class_="labels")


def _draw_lines_of_text(words: Iterable[PlacedWords]) -> Iterator[Markup]:
    """Each line as text, stretched to the very width it is printed in, whatever font the reader has."""
    for word in words:
        text = "   ".join(word.line.fields)
        if not text:
            continue
        turn = f"rotate({word.angle} {format_number(word.x)} {format_number(word.y)})" if word.angle else None
        yield make_element(
            "text", text, x=word.x, y=word.y, font_size=word.size_mm, textLength=word.line.width * word.size_mm,
            lengthAdjust="spacingAndGlyphs", transform=turn,
        )  # fmt: skip


def _draw_rectangle(box: Box, class_: str, radius: float | None = None) -> Markup:
    return make_element("rect", class_=class_, x=box.x, y=box.y, width=box.w, height=box.h, rx=radius)


def _outline_path(box: Box) -> str:
    across, down = format_number(box.w), format_number(box.h)
    return f"M{format_number(box.x)} {format_number(box.y)}h{across}v{down}h{format_number(-box.w)}z"


def _draw_strokes(strokes: Iterable[MarkStroke]) -> str:
    return "".join(["M%.3f %.3fL%.3f %.3f" % stroke for stroke in strokes])  # noqa: UP031 (the fastest by far)


def _draw_polygon(shape: MarkShape) -> str:
    return "M" + "L".join(f"{format_number(x)} {format_number(y)}" for x, y in shape.points) + "z"
