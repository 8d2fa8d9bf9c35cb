"""A placement guide on plain paper or card: seam, centre line, where the print's top comes, its greatest size; a ruler.

Drawn once, as a form (ISO 32000-2, 8.10), and stamped on each page with its offset: so what two pages share is the same
strokes, and they join exactly.
"""

from __future__ import annotations

from pathlib import Path

from impose.pages.pdf.canvas import PdfCanvas, PdfPages
from impose.pages.pdf.pdf_file import PdfFile
from impose.pages.tickets.garment_outlines import draw_outline
from impose.pages.tickets.text_blocks import PITCH, draw_paragraph, draw_plain_paper_heading, fit_parts, wrap_text
from impose.pages.tickets.views import ViewFrame
from impose.sheet.placement_guide import EDGE_MM, HEAD_MM, OVERLAP_MM, GuideTile, GuideTiles, PlacementGuide
from impose.type.lettering import TextShaper
from impose.units import MM_PER_INCH, Box, show_on_ruler

TITLE = "placement guide"
_CREASE = (8.0, 1.6, 1.2, 1.6)
_LARGEST = 16 << 20
_ANCHORS = {
    "collar": "the collar seam", "neck seam": "the neck seam", "shoulder seam": "the shoulder seam",
    "hem seam": "the hem seam", "cuff": "the cuff", "pocket top": "the pocket's top",
}  # fmt: skip
_BESIDE = {"centre line": "the centre line", "sleeve seam": "the sleeve seam", "hood edge": "the hood's edge"}


def write_guide_pages(
    path: Path, guide: PlacementGuide, tiles: GuideTiles, regular: TextShaper, bold: TextShaper
) -> None:
    """Write the pages of a guide to `path`."""
    with PdfFile() as document:
        pages = PdfPages(document, regular, bold)
        form = pages.add_form("guide", *_measure_sheet(guide, tiles), lambda canvas: _draw_guide(canvas, guide, tiles))
        for tile in tiles.tiles:
            canvas = pages.new_page(tiles.width, tiles.height)
            _draw_page(canvas, guide, tiles, tile, form)
            pages.add_page(canvas)
        pages.save_document(path, f"{TITLE} {guide.placement.name}", "G-")


def is_guide(path: Path) -> bool:
    """Whether a file is a guide as we wrote it, by its title and labels; not one that was added to since."""
    try:
        with path.open("rb") as file:
            content = file.read(_LARGEST + 1)
    except OSError:
        return False
    marked = f"({TITLE} ".encode() in content and b"/P(G-)" in content.replace(b" ", b"")
    return content.startswith(b"%PDF-") and len(content) <= _LARGEST and marked and content.count(b"%%EOF") == 1


def _find_sheet(tiles: GuideTiles) -> Box:
    """All pages put together, in mm of the face."""
    first, last = tiles.tiles[0].part, tiles.tiles[-1].part
    return Box(first.x, first.y, last.right - first.x, last.bottom - first.y)


def _measure_sheet(guide: PlacementGuide, tiles: GuideTiles) -> tuple[float, float]:
    sheet = _find_sheet(tiles)
    return sheet.w, sheet.h


def _draw_page(canvas: PdfCanvas, guide: PlacementGuide, tiles: GuideTiles, tile: GuideTile, form: str) -> None:
    """A page's part of the guide, cut off at its edges, between heading and ruler."""
    sheet, part = _find_sheet(tiles), tile.part
    key = ("tile", tile.row, tile.column)

    def stamp_part(drawing: PdfCanvas) -> None:
        drawing.draw_form(form, sheet.x - part.x, sheet.y - part.y, sheet.h)

    own = canvas.pages.add_form(key, part.w, part.h, stamp_part)
    canvas.draw_form(own, EDGE_MM, EDGE_MM + HEAD_MM, part.h)
    _draw_heading(canvas, guide, tiles, tile)
    _draw_ruler(canvas, EDGE_MM, canvas.height - EDGE_MM - 9.0)


def _draw_heading(canvas: PdfCanvas, guide: PlacementGuide, tiles: GuideTiles, tile: GuideTile) -> None:
    x = EDGE_MM + draw_plain_paper_heading(canvas, EDGE_MM, EDGE_MM) + 3
    number = tile.row * tiles.columns + tile.column + 1
    which = f"page {number} of {len(tiles.tiles)}"
    if len(tiles.tiles) > 1:
        which += f": row {tile.row + 1}, column {tile.column + 1}"
    wide = canvas.draw_words(which, canvas.width - EDGE_MM, EDGE_MM + 3.6, 3.0, align="right")
    title = f"Placement guide: {guide.placement.title}, {_name_garment(guide)}"
    fit_parts(canvas, title, x, EDGE_MM + 3.8, canvas.width - EDGE_MM - wide - 4 - x, 4.6, heavy=True)
    told = "Plain paper or card, never the transfer printer. Print at actual size (100 %) and check the ruler below."
    if len(tiles.tiles) > 1:
        told += " Lay the pages cross on cross, letter on letter, and tape."
    size = 2.6
    for number, line in enumerate(wrap_text(canvas.pages.lettering, told, size, canvas.width - 2 * EDGE_MM)[:2]):
        y = EDGE_MM + 8.4 + number * size * PITCH
        canvas.draw_words(canvas.pages.lettering.shape_sentence(line), EDGE_MM, y, size)


def _name_garment(guide: PlacementGuide) -> str:
    return guide.garment.text or f"{guide.garment.group} {guide.garment.kind}"


RULER_MM, RULER_IN = 100, 4


def _draw_ruler(canvas: PdfCanvas, x: float, y: float) -> None:
    """Millimetres above the line, inches in eighths below it, from one nought."""
    canvas.draw_line(x, y, x + RULER_IN * MM_PER_INCH, y, 0.15)
    for mm in range(RULER_MM + 1):
        high = 4.0 if mm % 10 == 0 else 3.0 if mm % 5 == 0 else 1.8
        canvas.draw_line(x + mm, y - high, x + mm, y, 0.12)
        if mm % 20 == 0:
            canvas.draw_words(str(mm), x + mm + 0.4, y - 3.0, 1.9)
    for eighth in range(8 * RULER_IN + 1):
        high = 4.0 if eighth % 8 == 0 else 2.8 if eighth % 4 == 0 else 1.8
        at = x + eighth * MM_PER_INCH / 8
        canvas.draw_line(at, y, at, y + high, 0.12)
        if eighth % 8 == 0:
            canvas.draw_words(str(eighth // 8), at + 0.4, y + 4.4, 1.9)
    told = (
        "100 mm and 4 in from the first stroke: lay a rule on them. If they are not, the scale of the print is wrong."
    )
    draw_paragraph(canvas, told, x + 108, y - 5, canvas.width - EDGE_MM - x - 108, 2.4)


def _draw_guide(canvas: PdfCanvas, guide: PlacementGuide, tiles: GuideTiles) -> None:
    """Everything that is true to size."""
    sheet = _find_sheet(tiles)
    frame = ViewFrame(-sheet.x, -sheet.y, 1.0)
    _draw_seams(canvas, guide, frame)
    canvas.draw_box(frame.map_box(guide.area), 0.2, 0.4)
    _draw_centre(canvas, guide, frame)
    _draw_against(canvas, guide, frame)
    _draw_print(canvas, guide, frame)
    _draw_drop(canvas, guide, frame)
    for letter, x, y in tiles.crosses:
        _draw_cross(canvas, letter, *frame.map_point(x, y))


def _draw_seams(canvas: PdfCanvas, guide: PlacementGuide, frame: ViewFrame) -> None:
    """The garment's outline and seams, as far as the card goes."""
    area = guide.area
    own = ViewFrame(-area.x, -area.y, 1.0)

    def draw_strokes(drawing: PdfCanvas) -> None:
        for stroke in draw_outline(guide.shape):
            dash = (2, 1) if stroke.role == "hidden" else ()
            drawing.draw_path(own.map_segments(stroke.segments), 0.25, 0.55, None, dash)

    form = canvas.pages.add_form("seams", area.w, area.h, draw_strokes)
    canvas.draw_form(form, *frame.map_point(area.x, area.y), area.h)


def _draw_against(canvas: PdfCanvas, guide: PlacementGuide, frame: ViewFrame) -> None:
    """The edge that is laid against a seam: the neckline to cut along, or the level of the seam."""
    shape, y = guide.shape, guide.spot.anchor_y
    name = _ANCHORS.get(guide.drop.measured_from, "the seam")
    on_neck = shape.face in ("front", "back") and guide.drop.measured_from in ("collar", "neck seam")
    if on_neck:
        n, drop = shape.neck, shape.collar_y
        curve = [
            ("m", (-n, 0.0)),
            ("c", (-n, drop * 0.75, -n * 0.62, drop, 0.0, drop)),
            ("c", (n * 0.62, drop, n, drop * 0.75, n, 0.0)),
        ]
        canvas.draw_path(frame.map_segments(curve), 0.8)
        told = f"Cut along the thick line. It lies against {name}; the centre line meets it there."
    else:
        left, right = frame.map_point(guide.area.x, y), frame.map_point(guide.area.right, y)
        canvas.draw_line(*left, *right, 0.8)
        level = "level with its highest point" if shape.face in ("front", "back") and y <= 0 else "on the fold"
        told = f"This line lies on {name}, {level}."
    x, top = frame.map_point(guide.area.x + 3, guide.area.y + 1.5)
    if guide.area.y + 14 > y:  # no room above: below the line
        top = frame.map_point(0, y)[1] + 1.0
    if y > guide.spot.box.bottom:
        top = frame.map_point(0, y)[1] + 1.0
    _write_on_white(canvas, told, x, top, min(guide.area.w - 6, 120.0), 3.4, heavy=True)


def _write_on_white(
    canvas: PdfCanvas, text: str, x: float, top: float, width: float, size: float, *, heavy: bool
) -> float:
    """A paragraph with the lines behind it cleared; returns the y below it."""
    lettering = canvas.pages.choose_weight(heavy)
    lines = wrap_text(lettering, text, size, width)
    wide = max(lettering.shape_sentence(line).width for line in lines) * size
    canvas.draw_box(Box(x - 0.5, top, wide + 1.0, size * PITCH * len(lines) + 0.6), None, fill=1.0)
    return draw_paragraph(canvas, text, x, top, width, size, heavy=heavy)


def _draw_print(canvas: PdfCanvas, guide: PlacementGuide, frame: ViewFrame) -> None:
    """The greatest print in its place, with its size and where its figures come from."""
    box = frame.map_box(guide.spot.box)
    canvas.draw_box(box, 0.35, dash=(3, 1.5) if guide.open_side else ())
    x, y = box.centre
    canvas.draw_line(box.x - 4, y, box.x + 4, y, 0.2)
    canvas.draw_line(box.right - 4, y, box.right + 4, y, 0.2)
    edge = guide.measured_y - guide.spot.box.y + box.y
    canvas.draw_line(box.x - 6, edge, box.right + 6, edge, 0.8)
    if guide.spot.box.centre[0]:
        canvas.draw_line(x, box.y - 4, x, box.y + 2, 0.2)
        canvas.draw_line(x, box.bottom - 6, x, box.bottom + 4, 0.2)
    top = box.y + 2.0
    for text, size, heavy in _list_words(guide):
        lettering = canvas.pages.choose_weight(heavy)
        lines = wrap_text(lettering, text, size, box.w - 16)
        high = size * PITCH * len(lines)
        if top + high > box.bottom:
            break
        top = _write_on_white(canvas, text, box.x + 13, top, box.w - 16, size, heavy=heavy) + 0.8
    _draw_up(canvas, box)


def _list_words(guide: PlacementGuide) -> list[tuple[str, float, bool]]:
    """What the print's box says, the most needed first."""
    drop, box = guide.drop, guide.spot.box
    named = {"top of print": "TOP OF PRINT", "centre of print": "MIDDLE OF PRINT"}.get(drop.measured_to, "LOWER EDGE")
    above = drop.measured_from in ("hem seam", "cuff") or guide.shape.face == "hood"
    where = f"{'above' if above else 'below'} {_ANCHORS.get(drop.measured_from, 'the seam')}"
    words = [(f"{named}: {_say_both(drop.usual_mm)} {where}", 4.0, True)]
    across = guide.spot.across
    if across is not None:
        words.append((f"MIDDLE: {_say_both(across.usual_mm)} from {_BESIDE[across.measured_from]}", 3.4, True))
    elif guide.spot.midway:
        words.append(("MIDDLE: midway from the centre line to the sleeve seam: measure it", 3.4, True))
    size = f"{show_on_ruler(box.w, 'mm')} × {show_on_ruler(box.h, 'mm')}"
    size += f" ({show_on_ruler(box.w, 'in')} × {show_on_ruler(box.h, 'in')})"
    words.append((f"Greatest print: {size}{f', its {guide.open_side} open' if guide.open_side else ''}", 3.4, False))
    own = "your own figure" if drop.own else f"a figure to start from: {drop.source}"
    usual = ""
    if drop.least_mm is not None and drop.most_mm is not None and drop.least_mm < drop.most_mm:
        usual = f"; usual {show_on_ruler(drop.least_mm, 'mm')} to {show_on_ruler(drop.most_mm, 'mm')}"
    words.append((f"{own[:1].upper()}{own[1:]}{usual}", 2.8, False))
    words.append(
        ("Seams are drawn as on a usual garment of this size: the distance counts, not the drawing.", 2.8, False)
    )
    return words


def _say_both(mm: float) -> str:
    return f"{show_on_ruler(mm, 'mm')} ({show_on_ruler(mm, 'in')})"


def _draw_up(canvas: PdfCanvas, box: Box) -> None:
    """An arrow to the collar or shoulder, in the box's upper left corner."""
    x, top, high = box.x + 6.5, box.y + 2.5, min(16.0, box.h * 0.6)
    canvas.draw_line(x, top, x, top + high, 0.5)
    canvas.draw_polygon([(x, top), (x - 2, top + 4), (x + 2, top + 4)], None, fill=0.0)


def _draw_centre(canvas: PdfCanvas, guide: PlacementGuide, frame: ViewFrame) -> None:
    """The garment's centre line, or a sleeve's fold line, from edge to edge of the card."""
    if guide.shape.face == "hood":
        return
    top, bottom = frame.map_point(0, guide.area.y), frame.map_point(0, guide.area.bottom)
    canvas.draw_line(*top, *bottom, 0.35, dash=_CREASE)
    name = "SLEEVE'S FOLD LINE" if "sleeve" in guide.shape.face else "CENTRE LINE"
    name = "ZIP" if guide.shape.zip else name
    low = guide.spot.anchor_y > guide.spot.box.bottom  # then the seam is where the name would stand
    y = frame.map_point(0, guide.spot.box.bottom)[1] - 14.0 if low else bottom[1] - 3.0
    canvas.draw_words(name, bottom[0] - 1.2, y, 2.8, angle=90, heavy=True)


def _draw_drop(canvas: PdfCanvas, guide: PlacementGuide, frame: ViewFrame) -> None:
    """The distance from the seam, as a dimension beside the print."""
    box = guide.spot.box
    x = box.x + 4.0 if box.centre[0] >= 0 else box.right - 4.0
    (at, y1), (_, y2) = frame.map_point(x, guide.spot.anchor_y), frame.map_point(x, guide.measured_y)
    canvas.draw_line(at, y1, at, y2, 0.2)
    for y, way in ((y1, 1 if y2 > y1 else -1), (y2, -1 if y2 > y1 else 1)):
        canvas.draw_polygon([(at, y), (at - 1.1, y + 3.2 * way), (at + 1.1, y + 3.2 * way)], None, fill=0.0)
    line = canvas.pages.choose_weight(True).shape_sentence(_say_both(guide.drop.usual_mm))
    middle = (y1 + y2) / 2
    canvas.draw_box(Box(at + 1.2, middle - 3.0, line.width * 4.0 + 1.6, 4.6), None, fill=1.0)
    canvas.draw_words(line, at + 2.0, middle + 0.6, 4.0, heavy=True)


def _draw_cross(canvas: PdfCanvas, letter: str, x: float, y: float) -> None:
    """Where two pages meet: the same cross on both."""
    half = OVERLAP_MM / 2 - 1.0
    canvas.draw_line(x - half, y, x + half, y, 0.15)
    canvas.draw_line(x, y - half, x, y + half, 0.15)
    canvas.draw_words(letter, x + 1.0, y - 1.0, 3.2, heavy=True)
