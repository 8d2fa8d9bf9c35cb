"""The job label of a transfer: what it says, what gives way where room is short, and where in the marks band it lies.

Coordinates are those of `impose.sheet.marks`: millimetres from the cell's top left corner, printed side.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from impose.errors import Finding, Severity
from impose.profiles.placement import MARKS_MM
from impose.sheet.margins import has_marks
from impose.sheet.marks import (
    CLEAR_MM,
    CORNER_MM,
    JOIN_MM,
    LineShaper,
    MarkShape,
    PlacedWords,
    list_join_lines,
    measure_outer_edge,
)
from impose.sheet.transfer import Edge, Piece, Transfer, describe_ordered_garment
from impose.type.lettering import ShapedLine, describe_unwritten
from impose.values import FrozenStruct

SIZES_MM = (2.2, 1.9, 1.65)  # em; 2.2 mm is about 6 pt, the largest whose ascenders and descenders fit 3 mm
SMALLEST_MM = 1.3  # only for what may never be left out, on a cell with room for nothing larger


class PlacedLabel(NamedTuple):
    """The placed label: its words, its arrow, and what had to be left out or shortened."""

    words: tuple[PlacedWords, ...]
    arrow: MarkShape | None
    left_out: tuple[str, ...]


class LabelFields(FrozenStruct):
    """The text of a label. `ident`, `order` and `up` are never left out; the rest goes in the order of `spare`."""

    ident: str
    order: str
    wearer: str
    garment: str
    placement: str
    copy: str
    up: str

    # Copy number first: it can be told from the id. The wearer last: a name is what a garment is sorted by.
    spare = ("copy", "placement", "garment", "wearer")

    def list_texts(self, without: Iterable[str] = ()) -> list[str]:
        """The fields that are written, in reading order."""
        names = ("ident", "order", "wearer", "garment", "placement", "copy")
        return [getattr(self, name) for name in names if name not in without and getattr(self, name)]


def limit_to_band(line: ShapedLine, size: float) -> float:
    """The size, lessened where a script's tall marks would reach out of the 3 mm that may be printed."""
    return min(size, MARKS_MM / (line.ascent + line.descent))


def make_job_label(transfer: Transfer, code: str, shaper: LineShaper, findings: list[Finding]) -> PlacedLabel:
    """The label of a transfer of the batch `code`; what is to be said of it is added to `findings`, once for a row."""
    piece = transfer.piece
    row = piece.row
    fields = LabelFields(
        f"{code}-{transfer.id}" + (f" {piece.panel.describe}" if piece.panel else ""),
        row.order,
        row.wearer,
        describe_ordered_garment(row),
        (row.placement or "").replace("-", " "),
        f"{transfer.copy}/{row.copies}",
        piece.up_word,
    )
    made = place_label(piece, fields, shaper)
    if transfer.copy == 1:
        findings.extend(_report_unwritten(made, row.row))
    shortened = [name for name in made.left_out if name in ("ident", "order", "up word")]
    if shortened and transfer.copy == 1:
        findings.append(
            Finding(
                f"the label of {transfer.id} has no room for its whole {' and '.join(shortened)}",
                "Give the transfer a wider tear margin, or a shorter order name.",
                Severity.WARN,
                kind="short-label",
                row=row.row,
                kit_row=row.kit_row,
            )
        )
    return made


def _report_unwritten(made: PlacedLabel, row: int) -> Iterator[Finding]:
    """What no font can write, or what is no text, said for each row; the label shows a stand-in."""
    missing, removed = describe_unwritten([words.line for words in made.words])
    if missing:
        yield Finding(
            f"no font at hand can write {missing} on the label",
            "Write the name in another way, or check by the row which name it is.",
            Severity.WARN,
            kind="unwritable",
            row=row,
        )
    if removed:
        yield Finding(
            f"left out of the label, since it is no text: {removed}",
            "Check the name in the batch; control characters do not belong in it.",
            Severity.WARN,
            kind="not-text",
            row=row,
        )


class _BandStrip(FrozenStruct):
    """One half of a marks band, between a corner mark and the tick: a strip that holds text."""

    x: float  # where reading starts, at the strip's outer top edge as the text stands
    y: float
    length: float
    angle: int

    def lay_words(self, line: ShapedLine, offset: float, size: float) -> PlacedWords:
        """The line laid on the strip, `offset` along it, between its long edges."""
        size = limit_to_band(line, size)
        spare = MARKS_MM - (line.ascent + line.descent) * size
        drop = spare / 2 + line.ascent * size
        if self.angle == 0:
            return PlacedWords(line, self.x + offset, self.y + drop, size, 0)
        return PlacedWords(line, self.x + drop, self.y - offset, size, 270)

    def lay_arrow(self, offset: float, size: float, up: Edge) -> MarkShape:
        """A triangle that points to the up edge, whichever way the text beside it reads."""
        if self.angle == 0:
            cx, cy = self.x + offset + size / 2, self.y + MARKS_MM / 2
        else:
            cx, cy = self.x + MARKS_MM / 2, self.y - offset - size / 2
        radius = size / 2
        heading = {"top": -90.0, "right": 0.0, "left": 180.0}[up]
        corners = (math.radians(heading + turn) for turn in (0.0, 125.0, -125.0))
        return MarkShape(tuple((cx + radius * math.cos(a), cy + radius * math.sin(a)) for a in corners))


def _list_strips(piece: Piece) -> list[tuple[_BandStrip, _BandStrip]]:
    """The two strips of every banded side, longest side first."""
    sides, w, h = piece.sides, piece.cell_w_mm, piece.cell_h_mm
    x, y = sides.left.total_mm + piece.crease_x_mm, sides.top.total_mm + piece.crease_y_mm
    start_x, end_x = measure_outer_edge(piece, "left"), w - measure_outer_edge(piece, "right")
    start_y, end_y = h - measure_outer_edge(piece, "bottom"), measure_outer_edge(piece, "top")
    inset = CORNER_MM + CLEAR_MM
    left_x, right_x = _spans_beside_tick(x, start_x + inset, end_x - inset, list_join_lines(piece, "x"))
    above_y, below_y = _spans_beside_tick(y, end_y + inset, start_y - inset, list_join_lines(piece, "y"))
    found: list[tuple[float, tuple[_BandStrip, _BandStrip]]] = []
    for side, top in (("top", measure_outer_edge(piece, "top")), ("bottom", h - sides.bottom.band_mm)):
        if has_marks(getattr(sides, side)):
            first = _BandStrip(left_x[0], top, left_x[1] - left_x[0], 0)
            second = _BandStrip(right_x[0], top, right_x[1] - right_x[0], 0)
            found.append((w, (first, second)))
    for side, left in (("left", measure_outer_edge(piece, "left")), ("right", w - sides.right.band_mm)):
        if has_marks(getattr(sides, side)):
            first = _BandStrip(left, below_y[1], below_y[1] - below_y[0], 270)
            second = _BandStrip(left, above_y[1], above_y[1] - above_y[0], 270)
            found.append((h, (first, second)))
    return [pair for _, pair in sorted(found, key=lambda entry: -entry[0])]


def _spans_beside_tick(
    tick: float, start: float, end: float, lines: Sequence[float]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """The spans before and after a tick that no joining tick lies in."""
    astride = JOIN_MM + CLEAR_MM
    near = any(abs(line - tick) < JOIN_MM for line in lines)
    before, after = tick - (astride if near else CLEAR_MM), tick + (astride if near else CLEAR_MM)
    for line in lines:
        if line <= tick - JOIN_MM:
            start = max(start, line + astride)
        elif line >= tick + JOIN_MM:
            end = min(end, line - astride)
    return (start, max(before, start)), (after, max(end, after))


class _LabelWriter:
    """Measures and places the parts of one label at one size."""

    def __init__(self, shaper: LineShaper, up: Edge, up_word: str) -> None:
        self.shaper, self.up, self.up_word = shaper, up, up_word

    def measure_widths(self, texts: Sequence[str], size: float) -> list[float]:
        """The length of each text."""
        lines = [self.shaper.shape_line([text]) for text in texts]
        return [line.width * limit_to_band(line, size) for line in lines]

    def measure_up_mark(self, size: float) -> float:
        return size * 1.4 + self.shaper.shape_line([self.up_word]).width * size

    def put_texts(self, slot: _BandStrip, texts: Sequence[str], size: float) -> list[PlacedWords]:
        words, offset = [], 0.0
        for text in texts:
            line = self.shaper.shape_line([text])
            words.append(slot.lay_words(line, offset, size))
            offset += line.width * limit_to_band(line, size) + size
        return words

    def put_up_mark(self, slot: _BandStrip, offset: float, size: float) -> tuple[PlacedWords, MarkShape]:
        word = slot.lay_words(self.shaper.shape_line([self.up_word]), offset + size * 1.4, size)
        return word, slot.lay_arrow(offset, size, self.up)


def place_label(piece: Piece, fields: LabelFields, shaper: LineShaper) -> PlacedLabel:
    """The job label on the longest edge that holds it, crossing no tick.

    All fields are tried on every edge at every size before one is left out; id, order and up mark never are. On a
    cell too small even for those they are spread over whatever strips there are, the order shortened if it must be.
    """
    writer = _LabelWriter(shaper, piece.up, fields.up)
    edges = _list_strips(piece)
    for count in range(len(fields.spare) + 1):
        without = fields.spare[:count]
        texts = fields.list_texts(without)
        for size in SIZES_MM:
            for pair in edges:
                placed = _place_on_edge(writer, pair, texts, size)
                if placed is not None:
                    left_out = tuple(name for name in without if getattr(fields, name))
                    return PlacedLabel(placed[0], placed[1], left_out)
    return _spread_over_strips(writer, edges, fields)


def _place_on_edge(
    writer: _LabelWriter, pair: tuple[_BandStrip, _BandStrip], texts: Sequence[str], size: float
) -> tuple[tuple[PlacedWords, ...], MarkShape] | None:
    """Text and up mark on one side: text before the tick and mark after it, as far as the text fits there."""
    first, second = pair
    up, wide = writer.measure_up_mark(size), writer.measure_widths(texts, size)
    for split in range(len(texts), -1, -1):
        tail_width = _sum_length(wide[split:], size) + (size * 2 if split < len(texts) else 0.0)
        if _sum_length(wide[:split], size) <= first.length and tail_width + up <= second.length:
            words = [*writer.put_texts(first, texts[:split], size), *writer.put_texts(second, texts[split:], size)]
            word, arrow = writer.put_up_mark(second, tail_width, size)
            return (*words, word), arrow
    whole = _sum_length(wide, size) + size * 2
    if whole + up <= first.length:
        word, arrow = writer.put_up_mark(first, whole, size)
        return (*writer.put_texts(first, texts, size), word), arrow
    return None


def _sum_length(widths: Sequence[float], size: float) -> float:
    """Texts in one line, an em between them."""
    return sum(widths) + max(0, len(widths) - 1) * size


def _spread_over_strips(
    writer: _LabelWriter, edges: Sequence[tuple[_BandStrip, _BandStrip]], fields: LabelFields
) -> PlacedLabel:
    """Id, order and up mark over separate strips, at the smallest size, each where it fits."""
    slots = sorted((slot for pair in edges for slot in pair), key=lambda slot: -slot.length)
    left_out = [name for name in fields.spare if getattr(fields, name)]
    words: list[PlacedWords] = []
    arrow: MarkShape | None = None
    size = SMALLEST_MM
    free = iter(slots)
    for name, text in (("order", fields.order), ("ident", fields.ident)):
        slot = next(free, None) if text else None
        if slot is None:
            continue
        line = writer.shaper.shape_line([text])
        if line.width * size > slot.length:
            line = writer.shaper.fit_line(text, slot.length / size)
            left_out.append(name)
        words.append(slot.lay_words(line, 0.0, size))
    slot = next(free, None)
    if slot is not None and writer.measure_up_mark(size) <= slot.length:
        word, arrow = writer.put_up_mark(slot, 0.0, size)
        words.append(word)
    elif slot is not None:
        arrow = slot.lay_arrow(0.0, size, writer.up)
        left_out.append("up word")
    return PlacedLabel(tuple(words), arrow, tuple(left_out))
