"""What is entered of a delivery in the shop's memory: its prints by row, what is made again, garments begun anew."""

from __future__ import annotations

import sqlite3
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from impose.ledger import made_records
from impose.ledger.made_records import MadeAgain, MadePrint, MadeRecord, NewBlank
from impose.orders.batch import BatchRow
from impose.orders.garment_groups import assign_garments
from impose.sheet.piece import describe_ordered_garment
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.run.plan import Plan
    from impose.run.record_file import RecordFile
    from impose.sheet.record_reader import PrintedTransfer


class MadeContent(FrozenStruct):
    """What is entered of a delivery: its prints by row, what of it is made again, and the garments begun anew."""

    code: str
    batch: str
    printer: str
    prints: tuple[MadePrint, ...]
    garments: int
    source: str = ""
    again: tuple[MadeAgain, ...] = ()
    blanks: tuple[NewBlank, ...] = ()


def begin_made(db: sqlite3.Connection, content: MadeContent, record: str, place: Path, at: str) -> int:
    """Enter what is about to take its place as a folder; its number, for the end of it."""
    transfers = sum(len(made.ids) for made in content.prints)
    made = MadeRecord(
        record, str(place.absolute()), content.code, content.batch, content.source, content.printer, transfers,
        content.garments, at,
    )  # fmt: skip
    return made_records.begin_record(db, made, content.prints, content.again, content.blanks)


def make_content(plan: Plan) -> MadeContent:
    """What is entered of a plan."""
    placed = (
        (placed.transfer.piece.row, placed.transfer.id, placed.transfer.piece.finished_size, sheet.paper.name)
        for sheet in plan.layout.sheets
        for placed in sheet.placed
    )
    content = MadeContent(
        plan.layout.code, plan.layout.name, plan.printer.name, gather_prints(placed), _count_garments(plan.batch.rows)
    )
    origin = plan.record.get("reprint_of")
    if origin is None:
        return content
    again = tuple(
        MadeAgain(origin["record_sha256"], values["reprint_of"]["id"], values["placement"] or "",
                  values["reprint_of"]["because"])
        for sheet in plan.record["sheets"]
        for values in sheet["transfers"]
    )  # fmt: skip
    return replace(content, source=origin["record_sha256"], again=again, blanks=tuple(list_blanks(origin)))


def make_content_of(source: RecordFile) -> MadeContent:
    """What is entered of a record that is found."""
    printed = source.printed
    papers = {sheet.number: sheet.paper for sheet in printed.sheets}
    transfers = [(t.ordered, t.id, _measure_finished(t), papers.get(t.sheet, "")) for t in printed.transfers]
    rows = list({t.key: t.ordered for t in printed.transfers}.values())
    origin: Any = printed.origin or {}
    printer = printed.options.get("printer")
    name = printer.get("name") if isinstance(printer, dict) else ""
    again = [
        MadeAgain(origin.get("record_sha256", ""), t.again[0], t.ordered.placement or "", t.again[1])
        for t in printed.transfers
        if t.again is not None
    ]
    return MadeContent(
        printed.code, printed.batch, str(name or ""), gather_prints(transfers), _count_garments(rows),
        str(origin.get("record_sha256", "")), tuple(again), tuple(list_blanks(origin)),
    )  # fmt: skip


def list_blanks(origin: Mapping[str, Any]) -> Iterator[NewBlank]:
    """The garments begun anew of a reprint, by what its record says that it comes from."""
    for garment in origin.get("garments", ()):
        yield NewBlank(origin["record_sha256"], garment["garment"], garment["wearer"], garment["because"])


def _measure_finished(transfer: PrintedTransfer) -> tuple[float, float]:
    width, height = transfer.panel.whole if transfer.panel else (transfer.ink_w_mm, transfer.ink_h_mm)
    return width / transfer.cloth[0], height / transfer.cloth[1]


def _count_garments(rows: Sequence[BatchRow]) -> int:
    worn, refused = assign_garments(rows)
    return len(worn) + sum(row.copies for row in rows if refused and row.row in {f.row for f in refused})


def gather_prints(placed: Iterable[tuple[BatchRow, str, tuple[float, float], str]]) -> tuple[MadePrint, ...]:
    """Transfers by their row: row, id, size as worn, paper."""
    found: dict[tuple[int, int], tuple[BatchRow, list[str], tuple[float, float], dict[str, None]]] = {}
    for row, ident, size, paper in placed:
        _, ids, _, papers = found.setdefault(row.key, (row, [], size, {}))
        ids.append(ident)
        papers[paper.rpartition("_")[2]] = None  # its size, which ends a name of PWG 5101.1
    return tuple(_make_print(*entry) for _, entry in sorted(found.items()))


def _make_print(row: BatchRow, ids: list[str], size: tuple[float, float], papers: Mapping[str, None]) -> MadePrint:
    garment = describe_ordered_garment(row)
    folded = fold_words(
        "\n".join((row.order, row.wearer, row.name, row.number, garment, row.placement or "", row.art, row.words))
    )
    return MadePrint(
        row.row, row.kit_row, row.order, row.wearer, garment, row.placement or "", row.art, round(size[0], 2),
        round(size[1], 2), ", ".join(papers), tuple(sorted(dict.fromkeys(ids))), folded,
    )  # fmt: skip


def fold_words(text: str) -> str:
    """Text as it is looked for: capitals, accents and the width of letters do not matter (Unicode NFKD, casefold)."""
    parts = unicodedata.normalize("NFKD", unicodedata.normalize("NFKC", text).casefold())
    plain = "".join(c for c in parts if not unicodedata.combining(c))
    return plain.translate(_LIKE)


_LIKE = str.maketrans({"ł": "l", "ø": "o", "đ": "d", "ð": "d", "ħ": "h", "ı": "i", "æ": "ae", "œ": "oe", "þ": "th"})
"""Letters that people type for others, and that have no decomposition in Unicode."""
