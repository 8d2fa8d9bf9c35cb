"""What a proof shows, gathered by order: rows, their transfers, where each lies and what it costs."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from decimal import Decimal
from typing import Any

from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow, OrderKey
from impose.sheet.costs import read_amount
from impose.sheet.finding_causes import group_by_cause
from impose.sheet.layout import BatchLayout, PlacedTransfer, SheetLayout
from impose.sheet.money import to_decimal
from impose.sheet.transfer import Piece, describe_ordered_garment
from impose.type.sanitise import clean_text
from impose.values import ChangingStruct, FrozenStruct, field

HUES = 8
"""Orders are told apart by as many colours, and beyond that by name: colour is never the only sign."""


class RowLot(ChangingStruct):
    """The transfers of one row: the same artwork at the same size, so many times, with their sheets and costs.

    Costs are whole millionths together: of a hundred thousand transfers amounts one by one would take 20 MB.
    """

    piece: Piece
    placed: list[tuple[SheetLayout, PlacedTransfer]] = field(default_factory=list)
    paper_cost: int = 0
    ink_cost: int = 0

    @property
    def row(self) -> BatchRow:
        """The row that asked for them."""
        return self.piece.row

    @property
    def ids(self) -> list[str]:
        """Their names, in order."""
        return [placed.transfer.id for _, placed in self.placed]

    @property
    def paper(self) -> Decimal:
        """What their share of the sheets costs together."""
        return to_decimal(self.paper_cost)

    @property
    def ink(self) -> Decimal:
        """What their ink costs together."""
        return to_decimal(self.ink_cost)


class OrderLots(FrozenStruct):
    """One customer's lots. `number` counts orders from 1; `name` is the order as written, maybe empty."""

    number: int
    name: str
    lots: tuple[RowLot, ...]

    @property
    def hue(self) -> int:
        """Which of the colours marks it."""
        return (self.number - 1) % HUES

    @property
    def title(self) -> str:
        """What it is called where a name is needed."""
        return clean_text(self.name)[0] or f"Row {self.lots[0].row.row}, no order name"

    @property
    def count(self) -> int:
        """How many transfers."""
        return sum(len(lot.placed) for lot in self.lots)

    @property
    def paper(self) -> Decimal:
        """What their share of the sheets costs together."""
        return sum((lot.paper for lot in self.lots), Decimal(0))

    @property
    def ink(self) -> Decimal:
        """What their ink costs together."""
        return sum((lot.ink for lot in self.lots), Decimal(0))


def list_orders(layout: BatchLayout, record: Mapping[str, Any]) -> list[OrderLots]:
    """The orders in the order of the batch, each with its rows in the same order."""
    said = {
        transfer["id"]: (read_amount(transfer["cost"]), read_amount(transfer["ink_cost"]))
        for sheet in record["sheets"]
        for transfer in sheet["transfers"]
    }
    found: dict[OrderKey, dict[tuple[Any, ...], RowLot]] = {}
    everything = ((sheet, placed) for sheet in layout.sheets for placed in sheet.placed)
    for pair in sorted(everything, key=lambda pair: _order_rank(pair[1])):
        piece = pair[1].transfer.piece
        lots = found.setdefault(piece.row.order_key, {})
        lot = lots.setdefault((piece.row.key, piece.ink_w_mm, piece.ink_h_mm, piece.picture.sha256), RowLot(piece))
        lot.placed.append(pair)
        paper, ink = said[pair[1].transfer.id]
        lot.paper_cost += paper
        lot.ink_cost += ink
    return [OrderLots(n, key[0], tuple(lots.values())) for n, (key, lots) in enumerate(found.items(), 1)]


def _order_rank(placed: PlacedTransfer) -> tuple[int, int, str]:
    ident = placed.transfer.id
    return placed.transfer.piece.row.row, len(ident), ident


def name_recipient(row: BatchRow) -> str:
    """Who a print is for: the wearer, else the order."""
    return clean_text(row.wearer)[0] or clean_text(row.order)[0] or f"row {row.row}"


def describe_print(row: BatchRow) -> str:
    """Where it goes, in words: 'left chest on hoodie adult M'."""
    place = (row.placement or "").replace("-", " ")
    garment = clean_text(describe_ordered_garment(row))[0]
    return f"{place}, {garment}" if place else garment


class GroupedFinding(FrozenStruct):
    """Findings that say the same, once, with every place they are said of."""

    first: Finding
    all: tuple[Finding, ...]

    @property
    def row_numbers(self) -> list[int]:
        """The rows they are said of, in order, each once."""
        return sorted({row for f in self.all for row in f.rows})

    @property
    def keys(self) -> list[tuple[int, int]]:
        """The rows with those of their kits, in order, each once."""
        return sorted({key for f in self.all for key in f.keys})


def group_findings(findings: Iterable[Finding]) -> list[GroupedFinding]:
    """Worst first; findings of one picture and cause, or with the same words, are said once."""
    together: dict[Hashable, list[Finding]] = {}
    for group in group_by_cause(findings):
        cause = group[0]
        words = (cause.severity, cause.kind, cause.what, cause.why, cause.remedy, cause.file, cause.column, cause.read)
        together.setdefault(words, []).extend(group)
    rank = list(Severity)
    said = [GroupedFinding(group[0], tuple(group)) for group in together.values()]
    return sorted(said, key=lambda grouped: rank.index(grouped.first.severity))


def format_ranges(numbers: Iterable[int], most: int | None = None) -> str:
    """Whole numbers as people list them: '2, 5–9, 12'; beyond `most` entries how many more there are."""
    runs = list(_find_number_runs(sorted(set(numbers))))
    told = ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in runs[:most])
    more = sum(b - a + 1 for a, b in runs[most:]) if most is not None else 0
    return f"{told} and {more:,} more" if more else told


def _find_number_runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
    start = last = None
    for value in numbers:
        if start is None or last is None:
            start = value
        elif value != last + 1:
            yield start, last
            start = value
        last = value
    if start is not None and last is not None:
        yield start, last
