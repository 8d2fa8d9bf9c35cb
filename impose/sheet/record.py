"""The record, `batch.json`: everything needed to find, check, cost and reprint a transfer.

Boxes are millimetres on the printed side from the sheet's top left corner, after mirroring and turning, as they shall
measure on paper. Amounts of money are decimal strings that add up exactly. Nothing in it depends on a clock, a
machine or the order in which work finished.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

from impose.errors import Finding, Severity
from impose.orders.batch import Batch
from impose.profiles.profiles import Paper
from impose.sheet.costs import BatchCost, PaperAndInk, cost_record, format_amount
from impose.sheet.layout import BatchLayout, PlacedSwatch, PlacedTransfer, SheetLayout
from impose.sheet.listed_values import ListedValues, choose_listing
from impose.sheet.margins import TearMargins
from impose.sheet.panels import Panel
from impose.sheet.piece import Piece
from impose.sheet.row_record import row_values
from impose.sheet.transfer import Edge
from impose.units import Box
from impose.values import FrozenStruct

FORMAT = "impose-record/1"

# No vowels, so that no word can appear, and no characters that a hurried eye confuses (0 O, 1 I L, 5 S, 2 Z).
CODE_LETTERS = "346789BCDFGHJKMNPQRTVWX"
CODE_LENGTH = 4


class FewestBound(FrozenStruct):
    """What no nesting can go below: sheets (None where papers are mixed), cost in millionths, and how sure it is."""

    sheets: int | None
    cost: int
    proven: bool
    clock: bool


def make_batch_code(content: Iterable[object]) -> str:
    """Four characters that name a batch on paper, from its content alone; entries may be iterators of many values."""
    digest = hashlib.sha256()
    for text in _encode_content(content):
        digest.update(text.encode())
    number = int.from_bytes(digest.digest()[:8], "big")
    letters = []
    for _ in range(CODE_LENGTH):
        number, index = divmod(number, len(CODE_LETTERS))
        letters.append(CODE_LETTERS[index])
    return "".join(letters)


def list_content(name: str, pieces: Iterable[Piece], options: Mapping[str, Any]) -> list[Any]:
    """What names a batch: what is printed, how large, for whom, on what; not where the files lie. To be read once."""
    rows = (
        [row_values(piece.row), round(piece.ink_w_mm, 4), round(piece.ink_h_mm, 4), piece.picture.sha256]
        for piece in pieces
    )
    return [name, rows, options]


_content_json = json.JSONEncoder(sort_keys=True, separators=(",", ":"), default=str).encode


def _encode_content(values: Iterable[object]) -> Iterator[str]:
    """A list as JSON entry by entry: the rows of a large batch are never in memory as values or as text."""
    lead = "["
    for value in values:
        yield lead
        if isinstance(value, Iterator):
            yield from _encode_content(value)
        else:
            yield _content_json(value)
        lead = ","
    yield "[]" if lead == "[" else "]"


def name_sheet_file(paper: Paper, part: int | None = None, digits: int = 3, first: bool = False) -> str:
    """The PDF that holds the sheets of one paper, or one part of them; those of the first ones off have their own."""
    stem = f"{'first' if first else 'sheets'}-{paper.alias}"
    return f"{stem}.pdf" if part is None else f"{stem}-{part:0{digits}}.pdf"


def list_files(layout: BatchLayout) -> list[tuple[str, list[SheetLayout]]]:
    """The PDFs of a layout, each with its sheets: one for a paper, or as many as it takes with `part_sheets` each."""
    most = layout.part_sheets
    if most is None:
        return [(name_sheet_file(run[0].paper, first=run[0].first), run) for run in layout.group_by_run()]
    found = []
    for run in layout.group_by_run():
        paper, first = run[0].paper, run[0].first
        digits = max(3, len(str(-(-len(run) // most))))
        for part, start in enumerate(range(0, len(run), most), 1):
            found.append((name_sheet_file(paper, part, digits, first), run[start : start + most]))
    return found


def make_record(
    batch: Batch,
    layout: BatchLayout,
    fewest: FewestBound,
    options: Mapping[str, Any],
    currency: str,
    codec: str,
    findings: Sequence[Finding],
    bill: BatchCost,
    places: Mapping[tuple[int, int], Mapping[str, str] | None],
) -> dict[str, Any]:
    """The record as plain values, ready for `encode_record`; of a batch in parts sheets and transfers are made
    as they are read. `places` are where each row's print is measured to on the garment.
    """
    papers = layout.group_by_paper()
    listed = choose_listing(layout.part_sheets is not None)

    def make_transfer(placed: PlacedTransfer) -> dict[str, Any]:
        place = places.get(placed.transfer.piece.row.key)
        values = _transfer_record(placed, bill.find_cost(placed.transfer.id))
        return values if place is None else {**values, "measured": dict(place)}

    def make_sheet(where: tuple[SheetLayout, str, int]) -> dict[str, Any]:
        sheet, file, page = where
        return _sheet_record(sheet, file, page, listed(sheet.placed, make_transfer))

    return {
        "format": FORMAT,
        "batch": layout.name,
        "code": layout.code,
        "source": batch.source,
        "art_root": str(batch.art_root),
        "options": dict(options),
        "codec": codec,
        "currency": currency,
        "warnings": listed([f for f in findings if f.severity is not Severity.NOTE], str),
        "findings": listed(findings, list_finding_values),
        "paper": [
            {"name": paper.name, "sheets": len(sheets), "cost": format_amount(sum(sheet.cost for sheet in sheets))}
            for paper, sheets in papers
        ],
        "cost": format_amount(sum(sheet.cost for sheet in layout.sheets)),
        "fewest": list_fewest_values(fewest),
        "money": cost_record(bill, listed),
        "sheets": listed(
            [(sheet, file, page) for file, run in list_files(layout) for page, sheet in enumerate(run, 1)], make_sheet
        ),
    }


def list_swatch_record(layout: BatchLayout) -> list[dict[str, Any]]:
    """The swatches of all sheets, by name: no transfers, and counted nowhere."""
    found = [
        _swatch_record(swatch, sheet, layout.code, (file, page))
        for file, run in list_files(layout)
        for page, sheet in enumerate(run, 1)
        for swatch in sheet.swatches
    ]
    return sorted(found, key=lambda values: str(values["id"]))


def _swatch_record(swatch: PlacedSwatch, sheet: SheetLayout, code: str, where: tuple[str, int]) -> dict[str, Any]:
    row, drawing = swatch.piece.row, swatch.piece.ppi is None
    return {
        "id": swatch.name,
        "label": f"{code}-{swatch.name}",
        "sheet": sheet.number,
        "file": where[0],
        "page": where[1],
        "row": row.row,
        "art": row.art,
        "art_sha256": swatch.picture.sha256,
        **({"recolour": row_values(row)["recolour"]} if row.recolour else {}),
        "ink_px": None if drawing else list(swatch.picture.ink),
        "ink_mm": _box_record(swatch.ink),
        "place_mm": _box_record(swatch.place),
        "mirrored": True,
    }


def encode_record(record: Mapping[str, Any]) -> bytes:
    """UTF-8 JSON with sorted keys and a final line end."""
    return b"".join(encode_in_pieces(record))


def encode_in_pieces(record: Mapping[str, Any]) -> Iterator[bytes]:
    """The same, a sheet, an order or a finding at a time, for records too large to be put together in memory."""
    for text in _encode_pieces(record, ""):
        # A finding may name a file whose name is no text; such a byte is written as JSON's own escape for it.
        yield text.encode("utf-8", "backslashreplace")
    yield b"\n"


def _encode_pieces(value: Any, indent: str) -> Iterator[str]:
    """What `_encode_json` gives, entry by entry."""
    if isinstance(value, Mapping) and any(_is_plain_list(item) for item in value.values()):
        lead = "{"
        for key in sorted(value):
            yield f"{lead}{_plain(key)}: "
            yield from _encode_pieces(value[key], indent)
            lead = ",\n" if not indent else ", "
        yield "}"
    elif _is_plain_list(value):
        lead, deeper = "[\n", f"{indent} "
        for item in value:
            yield f"{lead}{deeper}{_encode_json(item, deeper)}"
            lead = ",\n"
        yield f"\n{indent}]"
    else:
        yield _plain(value)


def _encode_json(value: Any, indent: str) -> str:
    """JSON with sorted keys and a line for each entry of a list of entries: a transfer, a sheet, a finding.

    The library's own indenting is many times as slow, and puts every number on a line of its own.
    """
    if isinstance(value, str):
        return _plain(value)
    return "".join(_encode_pieces(value, indent))


def _is_plain_list(value: Any) -> bool:
    if isinstance(value, ListedValues):
        return len(value) > 0
    return isinstance(value, list) and bool(value) and isinstance(value[0], (dict, str))


_plain = json.JSONEncoder(ensure_ascii=False, sort_keys=True, default=list).encode


def list_fewest_values(fewest: FewestBound) -> dict[str, Any]:
    """What no nesting can go below, as plain values."""
    return {
        "sheets": fewest.sheets,
        "cost": format_amount(fewest.cost),
        "proven": fewest.proven,
        "clock": fewest.clock,
    }


def list_finding_values(finding: Finding) -> dict[str, Any]:
    """A finding as plain values; what is unknown is left out."""
    values: dict[str, Any] = {"severity": str(finding.severity), "what": finding.what}
    for name in ("kind", "why", "remedy", "file", "row", "kit_row", "column", "read", "px", "mm"):
        value = getattr(finding, name)
        if value not in (None, "") and (name != "kit_row" or value):
            values[name] = list(value) if isinstance(value, tuple) else str(value) if name == "remedy" else value
    return values


def _box_record(box: Box) -> dict[str, float]:
    return {"x": _round_mm(box.x), "y": _round_mm(box.y), "w": _round_mm(box.w), "h": _round_mm(box.h)}


def _round_mm(value: float) -> float:
    # A nanometre: whoever renders a box from here at the artwork's own resolution meets its very pixels.
    return round(value, 6) + 0.0  # + 0.0 turns a negative zero into zero


def _sheet_record(sheet: SheetLayout, file: str, page: int, transfers: Sequence[Any]) -> dict[str, Any]:
    return {
        "sheet": sheet.number,
        "paper": sheet.paper.name,
        "width_mm": _round_mm(sheet.width_mm),
        "height_mm": _round_mm(sheet.height_mm),
        "printable_mm": _box_record(sheet.area),
        # Straight cuts, in their order; each from edge to edge of the part it divides.
        **({"cuts_mm": [[_round_mm(at) for at in cut] for cut in sheet.cuts]} if sheet.cuts else {}),
        "marks_mm": [_box_record(box) for box in sheet.marks],  # slug, rulers, swatches: kept clear of later
        "file": file,
        "page": page,
        **({"first": True} if sheet.first else {}),
        "yield": round(sheet.paper_yield, 4),
        "cost": format_amount(sheet.cost),
        "transfers": transfers,
    }


def _transfer_record(placed: PlacedTransfer, cost: PaperAndInk) -> dict[str, Any]:
    piece = placed.transfer.piece
    ink = piece.ink
    crease_x, crease_y = placed.to_sheet(ink.x + piece.crease_x_mm, ink.y + piece.crease_y_mm)
    sides = piece.sides
    return {
        **row_values(piece.row),
        "id": placed.transfer.id,
        "art_sha256": piece.picture.sha256,
        "copy": placed.transfer.copy,
        "ink_px": None if piece.ppi is None else list(piece.picture.ink),
        "ink_mm": _box_record(placed.ink),
        "cell_mm": _box_record(placed.cell),
        "crease_mm": {"x": _round_mm(crease_x), "y": _round_mm(crease_y)},
        "tear_mm": _tear_record(sides),
        "level": piece.level,
        "may_turn": piece.may_turn,
        "up": _list_up_values(piece.up, piece.up_word),
        "turned": placed.turned,
        "mirrored": True,
        "ppi": None if piece.ppi is None else round(piece.ppi, 1),
        "cost": format_amount(cost.paper),  # its share of the sheet, waste included
        "cost_used": format_amount(cost.used),
        "ink_cost": format_amount(cost.ink),
        "ink_ml": cost.ink_ul / 1000,
        "cloth": [round(piece.cloth_x, 4), round(piece.cloth_y, 4)],
        "panel": None if piece.panel is None else _panel_record(piece.panel),
    }


# What thousands of transfers have in common is one object in memory.
@lru_cache(maxsize=1024)
def _tear_record(sides: TearMargins) -> dict[str, list[float]]:
    """Of the upright transfer, before turning: from the ink outwards kept paper, tear zone, marks band."""
    every = {"top": sides.top, "right": sides.right, "bottom": sides.bottom, "left": sides.left}
    return {name: [side.kept_mm, side.zone_mm, side.band_mm] for name, side in every.items()}


@lru_cache(maxsize=64)
def _list_up_values(edge: Edge, word: str) -> dict[str, str]:
    return {"edge": edge, "word": word}


def _panel_record(panel: Panel) -> dict[str, Any]:
    """Which panel of a print that was parted, its place in the whole as worn, and when it is pressed."""
    return {
        "panel": panel.number,
        "panels": panel.of,
        "pressed": panel.press,
        "overlap_mm": _round_mm(panel.overlap_mm),
        "worn_mm": _box_record(panel.box),
        "whole_mm": {"w": _round_mm(panel.whole[0]), "h": _round_mm(panel.whole[1])},
        "joins_mm": [[axis, _round_mm(at)] for axis, at in panel.joins],
    }
