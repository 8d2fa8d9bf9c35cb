"""Sheets that are printed already, offered a second time: their free places as paper that costs nothing.

A sheet fed again lies about 1 mm off along the feed and 0.1 to 0.5 mm across (common practice; printers differ), so
new cells, slug and rulers keep 2 mm clear of everything that is on it, unless told otherwise. It has to go in with the
same edge first as the first time: then its printable area, which is measured from that edge, is the same, and the
places are where the record says. It must not have been cut apart.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Severity, Trouble
from impose.nest import NestedSheet, Nesting, Placement, Stock
from impose.profiles.paper import Paper, Printer
from impose.profiles.press import PressSetting
from impose.remedies import Remedy
from impose.run.offcuts import CLEAR_MM
from impose.run.record_file import RecordFile
from impose.sheet.margins import PrintArea, print_area
from impose.sheet.record_reader import PrintedSheet, PrintedTransfer
from impose.sheet.slug_and_rulers import find_free_rectangles
from impose.units import Box, to_um_down, to_um_up
from impose.values import ChangingStruct, FrozenStruct, field, replace

MOST_PLACES = 24


class OntoRequest(FrozenStruct):
    """Which record's sheets are offered again (all of them if none is named), and how far to keep clear."""

    record: Path
    sheets: tuple[int, ...] = ()
    clear_mm: float = CLEAR_MM


class PrintedPaper(FrozenStruct):
    """One printed sheet as a paper of its own: where it can be printed, and where it must not be."""

    sheet: PrintedSheet
    area: PrintArea
    taken: tuple[Box, ...]


class PrintedSheets(ChangingStruct):
    """The free places of printed sheets, for `impose.run.nest_batch.nest_transfers`."""

    source: RecordFile
    wish: OntoRequest
    used: tuple[PrintedPaper, ...]
    _places: dict[str, tuple[PrintedPaper, Box, Box]] = field(default_factory=dict)

    def list_stocks(self, slack_mm: float, cells: Sequence[tuple[float, float]]) -> list[Stock]:
        """Each free place as a sheet of which there is one, at the least price there is: used only where it saves."""
        self._places = {}
        for used in self.used:
            room = used.area.grow_by_slack(slack_mm)
            for number, box in enumerate(_part_free_paper(room, used.taken, cells), 1):
                self._places[f"{used.area.paper.name}#{number}"] = used, room, box
        return [
            Stock(name, to_um_down(box.w), to_um_down(box.h), cost=1, limit=1)
            for name, (_, _, box) in self._places.items()
        ]

    def join_places(self, nesting: Nesting, areas: tuple[PrintArea, ...]) -> tuple[Nesting, tuple[PrintArea, ...]]:
        """The nesting with all places of one sheet on one sheet, and the print areas with those of the sheets used."""
        others = [sheet for sheet in nesting.sheets if sheet.stock not in self._places]
        again: list[NestedSheet] = []
        for used in self.used:
            parts = [s for s in nesting.sheets if s.stock in self._places and self._places[s.stock][0] is used]
            if parts:
                again.append(self._join_sheet(used, parts))
        sheets = (*again, *others)
        cost = sum(sheet.cost for sheet in sheets)
        names = {sheet.stock for sheet in again}
        mine = tuple(used.area for used in self.used if used.area.paper.name in names)
        bound, fewest = min(nesting.bound, cost), min(nesting.fewest, len(sheets))
        least = None if nesting.least is None else min(nesting.least, cost + nesting.handling)
        return replace(nesting, sheets=sheets, cost=cost, bound=bound, fewest=fewest, least=least), (*mine, *areas)

    def _join_sheet(self, used: PrintedPaper, parts: Sequence[NestedSheet]) -> NestedSheet:
        placements: list[Placement] = []
        room = used.area.box
        for part in parts:
            _, room, box = self._places[part.stock]
            dx, dy = to_um_up(box.x - room.x), to_um_up(box.y - room.y)
            placements += [replace(placement, x=placement.x + dx, y=placement.y + dy) for placement in part.placements]
        return NestedSheet(used.area.paper.name, to_um_down(room.w), to_um_down(room.h), 0, tuple(placements))

    @property
    def blocked_boxes(self) -> dict[str, tuple[Box, ...]]:
        """Where each sheet carries ink already, with the clearance; by the name of its paper."""
        return {used.area.paper.name: used.taken for used in self.used}

    def record_values(self) -> dict[str, Any]:
        """For the record's options."""
        return {
            "code": self.source.printed.code,
            "record_sha256": self.source.sha256,
            "sheets": [used.sheet.number for used in self.used],
            "clear_mm": self.wish.clear_mm,
        }

    def annotate_record(self, record: dict[str, Any]) -> dict[str, Any]:
        """The record, each sheet that is printed again saying which one it is and how it goes in."""
        by_name = {used.area.paper.name: used for used in self.used}
        record["sheets"] = list(record["sheets"])
        for sheet in record["sheets"]:
            used = by_name.get(sheet["paper"])
            if used is not None:
                sheet["onto"] = {
                    "code": self.source.printed.code,
                    "record_sha256": self.source.sha256,
                    "sheet": used.sheet.number,
                    "paper": used.sheet.paper,
                    "feed": self._describe_feed(used),
                }
        return record

    def list_findings(self, nesting: Nesting) -> Iterator[Finding]:
        """How every sheet that is used goes back into the printer; or that none is, since it was asked for."""
        names = {sheet.stock for sheet in nesting.sheets}
        if not any(used.area.paper.name in names for used in self.used):
            what = (
                f"nothing is printed on sheets of {self.source.printed.code} again: no free place on them saves paper"
            )
            remedy = Remedy("keep-less-clear")
            yield Finding(what, remedy, Severity.WARN, kind="printed-again")
        for used in self.used:
            if used.area.paper.name in names:
                what = f"sheets-{used.area.paper.alias}.pdf prints on a sheet that is printed already"
                yield Finding(what, self._describe_feed(used), Severity.NOTE, kind="printed-again")

    def _describe_feed(self, used: PrintedPaper) -> str:
        code, number = self.source.printed.code, used.sheet.number
        on_it = [transfer for transfer in self.source.printed.transfers if transfer.sheet == number]
        top = _find_top_transfers(on_it)
        beside = f", the edge beside {' and '.join(f'{code}-{transfer.id}' for transfer in top)}" if top else ""
        return (
            f"Put sheet {number} of {code} back, not yet cut apart: its top edge{beside} first into the printer, as "
            "the first time, printed side where it was printed. Print this file alone, at actual size."
        )


def open_printed_sheets(
    source: RecordFile, wish: OntoRequest, printer: Printer, papers: Iterable[Paper] = ()
) -> PrintedSheets:
    """The sheets of a record as places to print on. Raises `Trouble` (wrong use) for sheets that are not in it.

    `papers` are those on file: what the press is set to for a paper stays with its sheets.
    """
    printed = source.printed
    numbers = wish.sheets or tuple(sheet.number for sheet in printed.sheets)
    known = {sheet.number for sheet in printed.sheets}
    unknown = [number for number in dict.fromkeys(numbers) if number not in known]
    if unknown:
        raise Trouble(
            [
                _make_usage_finding(f"no sheet {name} in the record {printed.code}", "Look at its slug.")
                for name in unknown
            ]
        )
    settings = {paper.name: paper.setting for paper in papers}
    used = [
        _make_printed_paper(sheet, source, wish.clear_mm, printer, settings.get(sheet.paper))
        for sheet in map(printed.find_sheet, dict.fromkeys(numbers))
    ]
    return PrintedSheets(source, wish, tuple(used))


def _make_printed_paper(
    sheet: PrintedSheet, source: RecordFile, clear_mm: float, printer: Printer, setting: PressSetting | None
) -> PrintedPaper:
    if sheet.marks is None:
        what = "the record does not say where slug and rulers are printed, since an earlier version wrote it"
        raise Trouble(_make_usage_finding(what, "Print on a new sheet."))
    size = f"{_format_decimal(sheet.width_mm)}x{_format_decimal(sheet.height_mm)}mm"
    name = f"onto-{source.printed.code}-{sheet.number}"
    paper = Paper(
        name=f"custom_{name.lower()}_{size}",
        alias=name,
        aliases=(),
        width_mm=sheet.width_mm,
        height_mm=sheet.height_mm,
        cost=Decimal(0),
        setting=setting,
    )
    cells = [transfer.cell for transfer in source.printed.transfers if transfer.sheet == sheet.number]
    taken = tuple(box.inset_by(*[-clear_mm] * 4) for box in (*cells, *sheet.marks))
    return PrintedPaper(sheet, print_area(paper, printer), taken)


def _part_free_paper(room: Box, taken: Sequence[Box], cells: Sequence[tuple[float, float]]) -> list[Box]:
    """The free paper parted into places, in the way that holds most of the middle-sized cell.

    Each way takes one place after another: the largest left, or the one that holds most of the smallest, the
    middle-sized or the largest cell.
    """
    by_size = sorted(cells, key=lambda cell: (cell[0] * cell[1], cell))
    small, middle, large = by_size[0], by_size[len(by_size) // 2], by_size[-1]
    ways = [list(_list_places(room, taken, small, by)) for by in (None, small, middle, large)]
    return max(ways, key=lambda boxes: sum(_count_cells(box, middle) + _count_cells(box, small) / 100 for box in boxes))


def _count_cells(box: Box, cell: tuple[float, float]) -> int:
    """How many of a cell lie in a box in rows, all turned one way."""
    counts = [int((box.w + 1e-6) // w) * int((box.h + 1e-6) // h) for w, h in (cell, cell[::-1])]
    return max(counts)


def _list_places(
    room: Box, taken: Sequence[Box], least: tuple[float, float], by: tuple[float, float] | None
) -> Iterator[Box]:
    """Free places that do not overlap and hold the least cell; in whole micrometres from the room's corner."""
    blocked = list(taken)
    for _ in range(MOST_PLACES):
        free = [box for box in find_free_rectangles(room, blocked) if _count_cells(box, least)]
        if not free:
            return
        # Of equals the first, which is the largest.
        box = free[0] if by is None else max(free, key=lambda candidate: _count_cells(candidate, by))
        blocked.append(box)
        left, top = to_um_up(box.x - room.x) / 1000, to_um_up(box.y - room.y) / 1000
        right, bottom = to_um_down(box.right - room.x) / 1000, to_um_down(box.bottom - room.y) / 1000
        yield Box(room.x + left, room.y + top, right - left, bottom - top)


def _find_top_transfers(transfers: Sequence[PrintedTransfer]) -> list[PrintedTransfer]:
    """The first and the last transfer along the top edge, from left to right."""
    if not transfers:
        return []
    highest = min(transfer.cell.y for transfer in transfers)
    row = sorted(
        (transfer for transfer in transfers if transfer.cell.y - highest < 20), key=lambda transfer: transfer.cell.x
    )
    return row[:1] if len(row) == 1 else [row[0], row[-1]]


def _format_decimal(mm: float) -> str:
    return f"{mm:.3f}".rstrip("0").rstrip(".")


def _make_usage_finding(what: str, remedy: str) -> Finding:
    return Finding(what, remedy, kind="reprint", exit=Exit.USAGE)
