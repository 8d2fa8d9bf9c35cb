"""From a nesting to sheets: where every transfer lies, and every mark, label, slug and ruler drawn there.

Coordinates are millimetres of real paper from the sheet's top left corner, printed side. The printer's scale is not
in them: the page writer corrects for it, so what stands here is what a ruler shall read.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from functools import partial
from itertools import groupby
from typing import Literal

from impose.art.prepare import PreparedPicture
from impose.errors import Finding, Severity
from impose.nest import Cut, NestedSheet, Nesting
from impose.profiles.profiles import Paper
from impose.sheet.label import make_job_label
from impose.sheet.margins import PrintArea
from impose.sheet.marks import LineShaper, MarkShape, MarkStroke, PlacedWords, list_strokes, measure_outer_edge
from impose.sheet.money import compute_sheet_cost
from impose.sheet.piece import Piece, Transfer
from impose.sheet.scale_check import ScaleCheck, find_scale_check, report_untold_checks
from impose.sheet.slug_and_rulers import WastePaper
from impose.units import Box, format_length
from impose.values import FrozenStruct, field, replace

Point = tuple[float, float]


class PlacedTransfer(FrozenStruct):
    """A transfer on its sheet: the cell's top left corner, and whether it is turned 90 degrees clockwise."""

    transfer: Transfer
    x: float
    y: float
    turned: int

    @property
    def name(self) -> str:
        """The transfer's id."""
        return self.transfer.id

    @property
    def picture(self) -> PreparedPicture:
        """What is drawn."""
        return self.transfer.piece.picture

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
        x, y = self.to_sheet(ink.x, ink.bottom) if self.turned else self.to_sheet(ink.x, ink.y)
        return Box(x, y, ink.h, ink.w) if self.turned else Box(x, y, ink.w, ink.h)

    @property
    def marks_area(self) -> Box:
        """The cell less the blank rest of its bands, on the sheet: ink, kept paper, tear zone and marks. No cut enters.

        A side without a band has no such rest.
        """
        piece = self.transfer.piece
        left, top = measure_outer_edge(piece, "left"), measure_outer_edge(piece, "top")
        right, bottom = (
            piece.cell_w_mm - measure_outer_edge(piece, "right"),
            piece.cell_h_mm - measure_outer_edge(piece, "bottom"),
        )
        if self.turned:
            return Box(*self.to_sheet(left, bottom), bottom - top, right - left)
        return Box(*self.to_sheet(left, top), right - left, bottom - top)

    @property
    def to_sheet(self) -> Callable[[float, float], Point]:
        """Takes a point of the upright cell to the sheet."""
        left, top = self.x, self.y
        if self.turned:
            right = left + self.transfer.piece.cell_h_mm
            return lambda x, y: (right - y, top + x)
        return lambda x, y: (left + x, top + y)

    def strokes_on_sheet(self, strokes: Iterable[MarkStroke]) -> list[MarkStroke]:
        """Lines of the upright cell, on the sheet."""
        at = self.to_sheet
        return [MarkStroke(*at(x1, y1), *at(x2, y2)) for x1, y1, x2, y2 in strokes]

    def words_on_sheet(self, words: Iterable[PlacedWords]) -> list[PlacedWords]:
        """Labels of the upright cell, on the sheet: they turn with the cell."""
        at = self.to_sheet
        return [PlacedWords(line, *at(x, y), size, (angle + self.turned) % 360) for line, x, y, size, angle in words]

    def shape_on_sheet(self, shape: MarkShape) -> MarkShape:
        """A polygon of the upright cell, on the sheet."""
        at = self.to_sheet
        return MarkShape(tuple([at(x, y) for x, y in shape.points]))


class PlacedSwatch(FrozenStruct):
    """A part of the picture of `piece`, to be tried on scrap: its ink, its label and the place that both take."""

    name: str
    piece: Piece
    picture: PreparedPicture
    ink: Box
    place: Box
    words: tuple[PlacedWords, ...]

    @property
    def turned(self) -> int:
        """Swatches lie upright."""
        return 0


class SheetLayout(FrozenStruct):
    """One sheet with everything that is drawn on it. `number` counts over the whole batch, from 1."""

    number: int
    paper: Paper
    width_mm: float
    height_mm: float
    area: Box
    placed: tuple[PlacedTransfer, ...]
    ticks: tuple[MarkStroke, ...]
    labels: tuple[PlacedWords, ...]
    arrows: tuple[MarkShape, ...]
    slug: tuple[PlacedWords, ...]
    rulers: tuple[MarkStroke, ...]
    cost: int  # whole millionths of the currency unit
    cuts: tuple[MarkStroke, ...] = ()  # straight cuts in their order, where they were asked for
    marks: tuple[Box, ...] = ()  # the waste that slug, rulers and swatches take, and what an earlier printing left
    first: bool = False  # of those that are printed, pressed and looked at before the rest
    check: ScaleCheck | None = None  # what to measure where no ruler has room: in the slug, else on the cutting list
    swatches: tuple[PlacedSwatch, ...] = ()

    @property
    def pictures(self) -> tuple[PlacedTransfer | PlacedSwatch, ...]:
        """All that is drawn of artwork, in the order in which it is drawn."""
        return (*self.placed, *self.swatches)

    @property
    def paper_yield(self) -> float:
        """The share of the paper that cells cover."""
        used = sum(placed.cell.w * placed.cell.h for placed in self.placed)
        return used / (self.width_mm * self.height_mm)


def _keep_as_is(sheet: SheetLayout) -> SheetLayout:
    return sheet


class BatchLayout(FrozenStruct):
    """All sheets of a batch, and what was worth saying while they were drawn.

    With `part_sheets` they are written in files of so many, and hold no strokes, labels and slugs: see `drawn`.
    """

    code: str
    name: str
    sheets: tuple[SheetLayout, ...]
    findings: tuple[Finding, ...]
    part_sheets: int | None = None
    redraw: Callable[[SheetLayout], SheetLayout] = field(default=_keep_as_is)

    def draw_sheets(self, sheets: Iterable[SheetLayout]) -> list[SheetLayout]:
        """Sheets of this layout with everything that is drawn on them; large layouts keep only what lies on them."""
        return [self.redraw(sheet) for sheet in sheets]

    def group_by_paper(self) -> list[tuple[Paper, list[SheetLayout]]]:
        """The sheets of each paper."""
        found: dict[str, tuple[Paper, list[SheetLayout]]] = {}
        for sheet in self.sheets:
            found.setdefault(sheet.paper.name, (sheet.paper, []))[1].append(sheet)
        return list(found.values())

    def group_by_run(self) -> list[list[SheetLayout]]:
        """The sheets of each printer run: it takes one paper, and the first ones off have runs of their own."""
        return [list(run) for _, run in groupby(self.sheets, key=_find_run)]


def _find_run(sheet: SheetLayout) -> tuple[bool, str]:
    return sheet.first, sheet.paper.name


class SlugFacts(FrozenStruct):
    """What the slug says beside the sheet's own number.

    `blocked`, by paper name, is where a sheet that is printed a second time carries ink already.
    """

    code: str
    name: str
    shaper: LineShaper
    units: Literal["mm", "in"] = "mm"
    blocked: Mapping[str, tuple[Box, ...]] = field(default_factory=dict)


def lay_out(
    nesting: Nesting,
    transfers: Mapping[str, Transfer],
    areas: Sequence[PrintArea],
    slack_mm: float,
    press: SlugFacts,
    part_sheets: int | None = None,
    first: frozenset[str] = frozenset(),
) -> Generator[tuple[int, int], None, BatchLayout]:
    """Draw every sheet of the nesting, ordered by paper so that each printer run is numbered in one piece.

    Sheets of the `first` transfers go before all others. In steps: yields how many sheets are drawn, of how many, and
    returns the layout.

    With `part_sheets` drawings are let go once they are checked, so that memory is that of what lies on the sheets.
    """
    by_name = {area.paper.name: area for area in areas}
    order = {area.paper.name: index for index, area in enumerate(areas)}
    nested = sorted(nesting.sheets, key=lambda sheet: (not _holds_first(sheet, first), order[sheet.stock]))
    findings: list[Finding] = []
    sheets: list[SheetLayout] = []
    runs = _RunChecks(len(nested), press, thin=part_sheets is not None)
    for number, nest_sheet in enumerate(nested, 1):
        area = by_name[nest_sheet.stock]
        room = area.grow_by_slack(slack_mm)
        placed = tuple(
            PlacedTransfer(transfers[p.id], room.x + p.x / 1000, room.y + p.y / 1000, 90 if p.turned else 0)
            for p in sorted(nest_sheet.placements, key=lambda p: (p.y, p.x))
        )
        page = _page_size(area, nest_sheet.height, slack_mm)
        sheet = _draw_sheet(number, area.paper, page, placed, press, findings)
        sheet = replace(
            sheet, first=_holds_first(nest_sheet, first), cuts=tuple(_cut_stroke(cut, room) for cut in nest_sheet.cuts)
        )
        sheets.append(runs.note_sheet(_add_slug_and_rulers(sheet, len(nested), press)))
        yield number, len(nested)
    done = [sheet for _, run in groupby(sheets, key=_find_run) for sheet in runs.ensure_checkable(list(run))]
    findings.extend(_report_missing_slug(runs.bare))
    findings.extend(report_untold_checks(runs.untold))
    redraw = partial(_redraw_sheet, len(nested), press)
    return BatchLayout(press.code, press.name, tuple(done), tuple(findings), part_sheets, redraw)


def _holds_first(sheet: NestedSheet, first: frozenset[str]) -> bool:
    return any(placement.id in first for placement in sheet.placements)


class _RunChecks:
    """What is to be known of all sheets once they are drawn, so that their drawings may be let go."""

    def __init__(self, of: int, press: SlugFacts, thin: bool) -> None:
        self.bare: list[int] = []
        self._of, self._press, self._thin = of, press, thin
        self.untold: list[tuple[int, ScaleCheck]] = []
        self._ruled: dict[int, str] = {}

    def note_sheet(self, sheet: SheetLayout) -> SheetLayout:
        """Note which axes a drawn sheet has rulers on and whether it has a slug; what is to be kept of it."""
        self._ruled[sheet.number] = "".join(a for a in "xy" if any(_runs_along(stroke, a) for stroke in sheet.rulers))
        if not sheet.slug:
            self.bare.append(sheet.number)
        return replace(sheet, ticks=(), labels=(), arrows=(), slug=(), rulers=()) if self._thin else sheet

    def ensure_checkable(self, run: list[SheetLayout]) -> list[SheetLayout]:
        """See that a printer run can be checked for scale: by a ruler on each axis, or else by two ticks it names."""
        if all(any(axis in self._ruled[sheet.number] for sheet in run) for axis in "xy"):
            return run
        check = find_scale_check(placed.transfer for sheet in run for placed in sheet.placed)
        first = run[0]
        self.bare = [number for number in self.bare if number != first.number]
        drawn = _add_slug_and_rulers(replace(first, check=check), self._of, self._press)
        if not _tells_check(drawn):
            self.untold.append((first.number, check))
        named = self.note_sheet(drawn)
        self.bare.sort()
        return [named, *run[1:]]


def _tells_check(sheet: SheetLayout) -> bool:
    """Whether the words in the waste of a sheet say what to measure."""
    check = sheet.check
    told = [field for words in sheet.slug for field in words.line.fields]
    return check is None or any(check.words in field or check.short in field for field in told)


def _redraw_sheet(of: int, press: SlugFacts, sheet: SheetLayout) -> SheetLayout:
    """A sheet of a finished layout with its drawings; as it is where it has them."""
    if sheet.ticks or sheet.labels:
        return sheet
    page = (sheet.width_mm, sheet.height_mm, sheet.area)
    whole = _draw_sheet(sheet.number, sheet.paper, page, sheet.placed, press, [])
    drawn = _add_slug_and_rulers(replace(whole, cuts=sheet.cuts, check=sheet.check, first=sheet.first), of, press)
    return replace(drawn, swatches=sheet.swatches, marks=sheet.marks)


def _cut_stroke(cut: Cut, room: Box) -> MarkStroke:
    """A straight cut of the nesting, on the sheet."""
    ends = (room.x + cut.x1 / 1000, room.y + cut.y1 / 1000, room.x + cut.x2 / 1000, room.y + cut.y2 / 1000)
    return MarkStroke(*ends)


def _page_size(area: PrintArea, cells_um: int, slack_mm: float) -> tuple[float, float, Box]:
    """Page size and printable box; a piece of roll is cut to what lies on it."""
    paper = area.paper
    if paper.height_mm is not None:
        return paper.width_mm, paper.height_mm, area.box
    # The blank slack of the last cells may hang over the trailing edge, as everywhere else.
    length = area.piece_mm(cells_um, slack_mm)
    return paper.width_mm, length, Box(area.box.x, area.box.y, area.box.w, area.printable_mm(length))


def _draw_sheet(
    number: int,
    paper: Paper,
    page: tuple[float, float, Box],
    placed: tuple[PlacedTransfer, ...],
    press: SlugFacts,
    findings: list[Finding],
) -> SheetLayout:
    width, height, area = page
    cost = compute_sheet_cost(paper, height)
    ticks = tuple(
        stroke for transfer in placed for stroke in transfer.strokes_on_sheet(list_strokes(transfer.transfer.piece))
    )
    words: list[PlacedWords] = []
    arrows: list[MarkShape] = []
    for transfer in placed:
        made = make_job_label(transfer.transfer, press.code, press.shaper, findings)
        words.extend(transfer.words_on_sheet(made.words))
        if made.arrow is not None:
            arrows.append(transfer.shape_on_sheet(made.arrow))
    return SheetLayout(number, paper, width, height, area, placed, ticks, tuple(words), tuple(arrows), (), (), cost)


def _add_slug_and_rulers(sheet: SheetLayout, of: int, press: SlugFacts) -> SheetLayout:
    """The sheet with slug and rulers laid in its waste, as far as there is room; the slug comes first."""
    blocked = press.blocked.get(sheet.paper.name, ())
    cells = [placed.cell for placed in sheet.placed]
    waste = WastePaper(sheet.area, [*cells, *blocked])
    waste.add_slug(_slug_texts(sheet, of, press), press.shaper)
    if sheet.check is not None and not _tells_check(replace(sheet, slug=tuple(waste.words))):
        waste.add_slug([sheet.check.short], press.shaper)
    waste.add_ruler_across(press.shaper)
    waste.add_ruler_down(press.shaper)
    marks = tuple(waste.taken[len(cells) :])
    return replace(sheet, slug=tuple(waste.words), rulers=tuple(waste.strokes), marks=marks)


def _report_missing_slug(bare: Sequence[int]) -> Iterator[Finding]:
    if bare:
        yield Finding(
            f"no waste paper wide enough for the sheet slug on sheet {', '.join(str(number) for number in bare)}",
            "Keep these sheets in order: their labels carry the batch code, but nothing names the sheet.",
            Severity.NOTE,
            kind="no-slug",
        )


def _slug_texts(sheet: SheetLayout, of: int, press: SlugFacts) -> list[str]:
    """The slug from its longest to its shortest wording; the longest that waste has room for is printed."""
    size = f"{format_length(sheet.width_mm, press.units)} × {format_length(sheet.height_mm, press.units)}"
    head = f"{press.code}   sheet {sheet.number} of {of}{'   first one off' if sheet.first else ''}"
    paper = sheet.paper.alias
    check = f"   no room for rulers: {sheet.check.words}" if sheet.check else ""
    return [
        f"{head}   {press.name}   {paper}, {size}{check}   print at actual size on the coated side, driver mirroring "
        "off: backwards words mean it is on",
        f"{head}   {paper}, {size}{check}   actual size, driver mirroring off: backwards words mean it is on",
        f"{head}   {paper}{check}   actual size; backwards words: switch driver mirroring off",
        f"{head}   {paper}{check}",
        *([f"{head}   {paper}   {sheet.check.short}", f"{head}   {sheet.check.short}"] if sheet.check else []),
        f"{head}   {paper}   actual size; backwards words: switch driver mirroring off",
        f"{head}   {paper}",
        head,
    ]


def _runs_along(stroke: MarkStroke, axis: str) -> bool:
    length = abs(stroke.x2 - stroke.x1) if axis == "x" else abs(stroke.y2 - stroke.y1)
    return length > 99.0
