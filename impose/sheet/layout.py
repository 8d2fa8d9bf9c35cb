"""From a nesting to sheets: where every transfer lies, and every mark, label, slug and ruler drawn there.

Coordinates are millimetres of real paper from the sheet's top left corner, printed side. The printer's scale is not
in them: the page writer corrects for it, so what stands here is what a ruler shall read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import groupby

from impose.errors import Finding, Severity
from impose.nest import Cut, Nesting
from impose.sheet.label import job_label
from impose.sheet.margins import PrintArea, has_marks
from impose.sheet.marks import Shape, Shaper, Stroke, Words, strokes
from impose.sheet.money import sheet_cost
from impose.sheet.transfer import Transfer
from impose.sheet.waste import Waste
from impose.shop.profiles import Paper
from impose.units import Box, show_length

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Placed:
    """A transfer on its sheet: the cell's top left corner, and whether it is turned 90 degrees clockwise."""

    transfer: Transfer
    x: float
    y: float
    turned: int

    @property
    def cell(self) -> Box:
        """Ink and margin, as it lies."""
        piece = self.transfer.piece
        w, h = piece.cell_w_mm, piece.cell_h_mm
        return Box(self.x, self.y, h, w) if self.turned else Box(self.x, self.y, w, h)

    @property
    def ink(self) -> Box:
        """The ink bounds, as they lie."""
        ink = self.transfer.piece.ink
        x, y = self.at(ink.x, ink.bottom) if self.turned else self.at(ink.x, ink.y)
        return Box(x, y, ink.h, ink.w) if self.turned else Box(x, y, ink.w, ink.h)

    @property
    def at(self) -> Callable[[float, float], Point]:
        """Takes a point of the upright cell to the sheet."""
        left, top = self.x, self.y
        if self.turned:
            right = left + self.transfer.piece.cell_h_mm
            return lambda x, y: (right - y, top + x)
        return lambda x, y: (left + x, top + y)

    def strokes(self, strokes: Iterable[Stroke]) -> list[Stroke]:
        """Lines of the upright cell, on the sheet."""
        at = self.at
        return [Stroke(*at(x1, y1), *at(x2, y2)) for x1, y1, x2, y2 in strokes]

    def words(self, words: Iterable[Words]) -> list[Words]:
        """Labels of the upright cell, on the sheet: they turn with the cell."""
        at = self.at
        return [Words(line, *at(x, y), size, (angle + self.turned) % 360) for line, x, y, size, angle in words]

    def shape(self, shape: Shape) -> Shape:
        """A polygon of the upright cell, on the sheet."""
        at = self.at
        return Shape(tuple([at(x, y) for x, y in shape.points]))


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet with everything that is drawn on it. `number` counts over the whole batch, from 1."""

    number: int
    paper: Paper
    width_mm: float
    height_mm: float
    area: Box
    placed: tuple[Placed, ...]
    ticks: tuple[Stroke, ...]
    labels: tuple[Words, ...]
    arrows: tuple[Shape, ...]
    slug: tuple[Words, ...]
    rulers: tuple[Stroke, ...]
    cost: int  # whole millionths of the currency unit
    cuts: tuple[Stroke, ...] = ()  # straight cuts in their order, where they were asked for
    marks: tuple[Box, ...] = ()  # the waste that slug and rulers take, and what an earlier printing left
    check: str = ""  # what the slug says to measure where no ruler has room

    @property
    def yield_(self) -> float:
        """The share of the paper that cells cover."""
        used = sum(placed.cell.w * placed.cell.h for placed in self.placed)
        return used / (self.width_mm * self.height_mm)


def _as_it_is(sheet: Sheet) -> Sheet:
    return sheet


@dataclass(frozen=True, slots=True)
class Layout:
    """All sheets of a batch, and what was worth saying while they were drawn.

    With `part_sheets` they are written in files of so many, and hold no strokes, labels and slugs: see `drawn`.
    """

    code: str
    name: str
    sheets: tuple[Sheet, ...]
    findings: tuple[Finding, ...]
    part_sheets: int | None = None
    redraw: Callable[[Sheet], Sheet] = field(default=_as_it_is, repr=False, compare=False)

    def drawn(self, sheets: Iterable[Sheet]) -> list[Sheet]:
        """Sheets of this layout with everything that is drawn on them; large layouts keep only what lies on them."""
        return [self.redraw(sheet) for sheet in sheets]

    def by_paper(self) -> list[tuple[Paper, list[Sheet]]]:
        """The sheets of each paper: one printer run takes one paper."""
        return [(paper, list(run)) for paper, run in groupby(self.sheets, key=lambda sheet: sheet.paper)]


@dataclass(frozen=True, slots=True)
class Press:
    """What the slug says beside the sheet's own number.

    `blocked`, by paper name, is where a sheet that is printed a second time carries ink already.
    """

    code: str
    name: str
    shaper: Shaper
    units: str = "mm"
    blocked: Mapping[str, tuple[Box, ...]] = field(default_factory=dict)


def lay_out(
    nesting: Nesting,
    transfers: Mapping[str, Transfer],
    areas: Sequence[PrintArea],
    slack_mm: float,
    press: Press,
    on_sheet: Callable[[int, int], None] = lambda done, of: None,
    part_sheets: int | None = None,
) -> Layout:
    """Draw every sheet of the nesting, ordered by paper so that each printer run is numbered in one piece.

    With `part_sheets` drawings are let go once they are checked, so that memory is that of what lies on the sheets.
    """
    by_name = {area.paper.name: area for area in areas}
    order = {area.paper.name: index for index, area in enumerate(areas)}
    nested = sorted(nesting.sheets, key=lambda sheet: order[sheet.stock])
    findings: list[Finding] = []
    sheets: list[Sheet] = []
    runs = _Runs(len(nested), press, thin=part_sheets is not None)
    for number, nest_sheet in enumerate(nested, 1):
        area = by_name[nest_sheet.stock]
        room = area.grown(slack_mm)
        placed = tuple(
            Placed(transfers[p.id], room.x + p.x / 1000, room.y + p.y / 1000, 90 if p.turned else 0)
            for p in sorted(nest_sheet.placements, key=lambda p: (p.y, p.x))
        )
        page = _page(area, nest_sheet.height, slack_mm)
        sheet = _draw(number, area.paper, page, placed, press, findings)
        sheet = replace(sheet, cuts=tuple(_cut(cut, room) for cut in nest_sheet.cuts))
        sheets.append(runs.took(_with_slug(sheet, len(nested), press)))
        on_sheet(number, len(nested))
    done = [sheet for _, run in groupby(sheets, key=lambda sheet: sheet.paper) for sheet in runs.checkable(list(run))]
    findings.extend(_without_slug(runs.bare))
    redraw = partial(_redrawn, len(nested), press)
    return Layout(press.code, press.name, tuple(done), tuple(findings), part_sheets, redraw)


class _Runs:
    """What is to be known of all sheets once they are drawn, so that their drawings may be let go."""

    def __init__(self, of: int, press: Press, thin: bool) -> None:
        self.bare: list[int] = []
        self._of, self._press, self._thin = of, press, thin
        self._ruled: dict[int, str] = {}

    def took(self, sheet: Sheet) -> Sheet:
        """Note which axes a drawn sheet has rulers on and whether it has a slug; what is to be kept of it."""
        self._ruled[sheet.number] = "".join(a for a in "xy" if any(_runs(stroke, a) for stroke in sheet.rulers))
        if not sheet.slug:
            self.bare.append(sheet.number)
        return replace(sheet, ticks=(), labels=(), arrows=(), slug=(), rulers=()) if self._thin else sheet

    def checkable(self, run: list[Sheet]) -> list[Sheet]:
        """See that a printer run can be checked for scale: by a ruler on each axis, or else by two ticks it names."""
        if all(any(axis in self._ruled[sheet.number] for sheet in run) for axis in "xy"):
            return run
        spans = [(span, one.id, way) for sheet in run for p in sheet.placed for span, way, one in _spans(p.transfer)]
        length, name, way = max(spans, key=lambda entry: (entry[0], entry[1]))
        check = f"no room for rulers: {name} measures {show_length(length)} from its {way} tick, outer ends"
        first = run[0]
        self.bare = [number for number in self.bare if number != first.number]
        named = self.took(_with_slug(replace(first, check=check), self._of, self._press))
        self.bare.sort()
        return [named, *run[1:]]


def _redrawn(of: int, press: Press, sheet: Sheet) -> Sheet:
    """A sheet of a finished layout with its drawings; as it is where it has them."""
    if sheet.ticks or sheet.labels:
        return sheet
    page = (sheet.width_mm, sheet.height_mm, sheet.area)
    whole = _draw(sheet.number, sheet.paper, page, sheet.placed, press, [])
    return _with_slug(replace(whole, cuts=sheet.cuts, check=sheet.check), of, press)


def _cut(cut: Cut, room: Box) -> Stroke:
    """A straight cut of the nesting, on the sheet."""
    ends = (room.x + cut.x1 / 1000, room.y + cut.y1 / 1000, room.x + cut.x2 / 1000, room.y + cut.y2 / 1000)
    return Stroke(*ends)


def _page(area: PrintArea, cells_um: int, slack_mm: float) -> tuple[float, float, Box]:
    """Page size and printable box; a piece of roll is cut to what lies on it."""
    paper = area.paper
    if paper.height_mm is not None:
        return paper.width_mm, paper.height_mm, area.box
    # The blank slack of the last cells may hang over the trailing edge, as everywhere else.
    length = area.piece_mm(cells_um, slack_mm)
    return paper.width_mm, length, Box(area.box.x, area.box.y, area.box.w, area.printable_mm(length))


def _draw(
    number: int,
    paper: Paper,
    page: tuple[float, float, Box],
    placed: tuple[Placed, ...],
    press: Press,
    findings: list[Finding],
) -> Sheet:
    width, height, area = page
    cost = sheet_cost(paper, height)
    ticks = tuple(stroke for one in placed for stroke in one.strokes(strokes(one.transfer.piece)))
    words: list[Words] = []
    arrows: list[Shape] = []
    for one in placed:
        made = job_label(one.transfer, press.code, press.shaper, findings)
        words.extend(one.words(made.words))
        if made.arrow is not None:
            arrows.append(one.shape(made.arrow))
    return Sheet(number, paper, width, height, area, placed, ticks, tuple(words), tuple(arrows), (), (), cost)


def _with_slug(sheet: Sheet, of: int, press: Press) -> Sheet:
    """The sheet with slug and rulers laid in its waste, as far as there is room; the slug comes first."""
    blocked = press.blocked.get(sheet.paper.name, ())
    cells = [placed.cell for placed in sheet.placed]
    waste = Waste(sheet.area, [*cells, *blocked])
    waste.add_slug(_slug_texts(sheet, of, press), press.shaper)
    waste.add_ruler_across(press.shaper)
    waste.add_ruler_down(press.shaper)
    marks = tuple(waste.taken[len(cells) :])
    return replace(sheet, slug=tuple(waste.words), rulers=tuple(waste.strokes), marks=marks)


def _without_slug(bare: Sequence[int]) -> Iterator[Finding]:
    if bare:
        yield Finding(
            f"no waste paper wide enough for the sheet slug on sheet {', '.join(str(number) for number in bare)}",
            "Keep these sheets in order: their labels carry the batch code, but nothing names the sheet.",
            Severity.NOTE,
            kind="no-slug",
        )


def _slug_texts(sheet: Sheet, of: int, press: Press) -> list[str]:
    """The slug from its longest to its shortest wording; the longest that waste has room for is printed."""
    size = f"{show_length(sheet.width_mm)} × {show_length(sheet.height_mm)}"
    head = f"{press.code}   sheet {sheet.number} of {of}"
    paper = sheet.paper.alias
    check = f"   {sheet.check}" if sheet.check else ""
    return [
        f"{head}   {press.name}   {paper}, {size}{check}   print at actual size on the coated side, driver mirroring "
        "off: backwards words mean it is on",
        f"{head}   {paper}, {size}{check}   actual size, driver mirroring off: backwards words mean it is on",
        f"{head}   {paper}{check}   actual size; backwards words: switch driver mirroring off",
        f"{head}   {paper}{check}",
        f"{head}   {paper}   actual size; backwards words: switch driver mirroring off",
        f"{head}   {paper}",
        head,
    ]


def _spans(transfer: Transfer) -> Iterator[tuple[float, str, Transfer]]:
    """From the outer end of one tick to that of its opposite, where both are printed, as the label reads upright."""
    piece, sides = transfer.piece, transfer.piece.sides
    if has_marks(sides.left) and has_marks(sides.right):
        yield piece.cell_w_mm - sides.left.slack_mm - sides.right.slack_mm, "left to its right", transfer
    if has_marks(sides.top) and has_marks(sides.bottom):
        yield piece.cell_h_mm - sides.top.slack_mm - sides.bottom.slack_mm, "top to its bottom", transfer


def _runs(stroke: Stroke, axis: str) -> bool:
    length = abs(stroke.x2 - stroke.x1) if axis == "x" else abs(stroke.y2 - stroke.y1)
    return length > 99.0
