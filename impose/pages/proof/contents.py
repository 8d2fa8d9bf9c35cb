"""What a proof shows, gathered by order: rows, their transfers, where each lies and what it costs."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from impose.errors import Finding, Severity
from impose.sheet.causes import by_cause
from impose.sheet.cleaning import clean
from impose.sheet.layout import Layout, Placed, Sheet
from impose.sheet.transfer import Piece, garment_words
from impose.shop.orders import Row

HUES = 8
"""Orders are told apart by as many colours, and beyond that by name: colour is never the only sign."""


@dataclass(frozen=True, slots=True)
class Lot:
    """The transfers of one row: the same artwork at the same size, so many times, with their sheets and costs."""

    piece: Piece
    placed: list[tuple[Sheet, Placed]] = field(default_factory=list)
    costs: list[Decimal] = field(default_factory=list)
    inks: list[Decimal] = field(default_factory=list)

    @property
    def row(self) -> Row:
        """The row that asked for them."""
        return self.piece.row

    @property
    def ids(self) -> list[str]:
        """Their names, in order."""
        return [placed.transfer.id for _, placed in self.placed]

    @property
    def paper(self) -> Decimal:
        """What their share of the sheets costs together."""
        return sum(self.costs, Decimal(0))

    @property
    def ink(self) -> Decimal:
        """What their ink costs together."""
        return sum(self.inks, Decimal(0))


@dataclass(frozen=True, slots=True)
class Order:
    """One customer's lots. `number` counts orders from 1; `name` is the order as written, maybe empty."""

    number: int
    name: str
    lots: tuple[Lot, ...]

    @property
    def hue(self) -> int:
        """Which of the colours marks it."""
        return (self.number - 1) % HUES

    @property
    def title(self) -> str:
        """What it is called where a name is needed."""
        return clean(self.name)[0] or f"Row {self.lots[0].row.row}, no order name"

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


def orders_of(layout: Layout, record: Mapping[str, Any]) -> list[Order]:
    """The orders in the order of the batch, each with its rows in the same order."""
    said = {one["id"]: (one["cost"], one["ink_cost"]) for sheet in record["sheets"] for one in sheet["transfers"]}
    found: dict[tuple[str, int], dict[tuple[Any, ...], Lot]] = {}
    everything = ((sheet, placed) for sheet in layout.sheets for placed in sheet.placed)
    for sheet, placed in sorted(everything, key=lambda one: _rank(one[1])):
        piece = placed.transfer.piece
        lots = found.setdefault(piece.row.order_key, {})
        lot = lots.setdefault((piece.row.key, piece.ink_w_mm, piece.ink_h_mm, piece.picture.sha256), Lot(piece))
        lot.placed.append((sheet, placed))
        paper, ink = said[placed.transfer.id]
        lot.costs.append(Decimal(paper))
        lot.inks.append(Decimal(ink))
    return [Order(n, key[0], tuple(lots.values())) for n, (key, lots) in enumerate(found.items(), 1)]


def _rank(placed: Placed) -> tuple[int, int, str]:
    ident = placed.transfer.id
    return placed.transfer.piece.row.row, len(ident), ident


def whose(row: Row) -> str:
    """Who a print is for: the wearer, else the order."""
    return clean(row.wearer)[0] or clean(row.order)[0] or f"row {row.row}"


def what(row: Row) -> str:
    """Where it goes, in words: 'left chest on hoodie adult M'."""
    place = (row.placement or "").replace("-", " ")
    garment = clean(garment_words(row))[0]
    return f"{place}, {garment}" if place else garment


@dataclass(frozen=True, slots=True)
class Said:
    """Findings that say the same, once, with every place they are said of."""

    first: Finding
    all: tuple[Finding, ...]

    @property
    def rows(self) -> list[int]:
        """The rows they are said of, in order, each once."""
        return sorted({f.row for f in self.all if f.row is not None})


def grouped(findings: Iterable[Finding]) -> list[Said]:
    """Worst first; findings of one picture and cause, or with the same words, are said once."""
    together: dict[Hashable, list[Finding]] = {}
    for group in by_cause(findings):
        one = group[0]
        words = (one.severity, one.kind, one.what, one.why, one.remedy, one.file, one.column, one.read)
        together.setdefault(words, []).extend(group)
    rank = list(Severity)
    said = [Said(group[0], tuple(group)) for group in together.values()]
    return sorted(said, key=lambda one: rank.index(one.first.severity))


def ranges(numbers: Iterable[int], most: int | None = None) -> str:
    """Whole numbers as people list them: '2, 5–9, 12'; beyond `most` entries how many more there are."""
    runs = list(_runs(sorted(set(numbers))))
    told = ", ".join(str(a) if a == b else f"{a}–{b}" for a, b in runs[:most])
    more = sum(b - a + 1 for a, b in runs[most:]) if most is not None else 0
    return f"{told} and {more:,} more" if more else told


def _runs(numbers: Sequence[int]) -> Iterator[tuple[int, int]]:
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
