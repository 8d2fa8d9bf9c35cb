"""The job as the search sees it: how many of each size, on which papers. Names come back at the very end.

Pieces of one size are interchangeable, so the search moves sizes, not pieces: thousands of copies of few sizes cost
what few pieces cost, and who lies where can be chosen afterwards for the shop's sake.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

from impose.nest.model import Rectangle, Stock
from impose.values import FrozenStruct

Limits = list[int | None]  # what is left of each paper: sheets, or micrometres of roll; None for no limit


class PieceSize(NamedTuple):
    """One size. A kind that may turn is kept lying (width >= height); a square never needs to turn."""

    width: int
    height: int
    turn: bool


class PlacedSpot(NamedTuple):
    """One piece of a kind on a sheet: top left corner and size as placed."""

    kind: int
    x: int
    y: int
    width: int
    height: int


@dataclass(slots=True)
class FilledSheet:
    """A sheet in the making: which paper (index into the job's stocks) and what lies on it."""

    stock: int
    spots: list[PlacedSpot] = field(default_factory=list)

    @property
    def used_height(self) -> int:
        """How far down the pieces reach."""
        return max((s.y + s.height for s in self.spots), default=0)

    @property
    def kinds(self) -> list[int]:
        """What lies here, one entry a piece."""
        return [s.kind for s in self.spots]


class NestingInstance(FrozenStruct):
    """Sizes, how many of each (`counts`), whose they are (`members`: indexes into the pieces), and the papers."""

    kinds: tuple[PieceSize, ...]
    counts: tuple[int, ...]
    members: tuple[tuple[int, ...], ...]
    stocks: tuple[Stock, ...]

    @property
    def piece_count(self) -> int:
        """Number of pieces."""
        return sum(self.counts)

    def list_pieces(self) -> list[int]:
        """Every piece by its kind, kinds in order."""
        return [k for k, count in enumerate(self.counts) for _ in range(count)]

    def piece_area(self, kind: int) -> int:
        """Square micrometres of one piece of the kind."""
        return self.kinds[kind].width * self.kinds[kind].height

    def list_fitting_kinds(self, stock: int) -> list[bool]:
        """For each kind whether an empty sheet of that paper holds it."""
        width, tallest = self.stocks[stock].width, self.stocks[stock].tallest
        high: float = inf if tallest is None else tallest
        return [(w <= width and h <= high) or (turn and h <= width and w <= high) for w, h, turn in self.kinds]

    def remaining_limits(self, sheets: Sequence[FilledSheet]) -> Limits:
        """What is left of each paper once these sheets are taken."""
        left = [stock.limit for stock in self.stocks]
        for sheet in sheets:
            left[sheet.stock] = self.limit_after(left[sheet.stock], sheet)
        return left

    def limit_after(self, limit: int | None, sheet: FilledSheet, back: bool = False) -> int | None:
        """What is left of a paper once the sheet is taken from it, or given back."""
        if limit is None:
            return None
        stock = self.stocks[sheet.stock]
        taken = 1 if stock.height is not None else stock.length(sheet.used_height)
        return limit + taken if back else limit - taken

    def keeps_limits(self, sheets: Sequence[FilledSheet]) -> bool:
        """Whether there is as much of each paper as the sheets take."""
        return all(left is None or left >= 0 for left in self.remaining_limits(sheets))

    def sheet_cost(self, sheet: FilledSheet) -> int:
        """What the sheet costs with its handling, a roll cut to what is used."""
        stock = self.stocks[sheet.stock]
        return stock.compute_price(sheet.used_height if stock.height is None else stock.height)

    def total_cost(self, sheets: Sequence[FilledSheet]) -> int:
        """What all the sheets cost."""
        return sum(self.sheet_cost(s) for s in sheets)


def make_piece_size(piece: Rectangle) -> PieceSize:
    """The piece's size in the form that makes equal sizes equal."""
    turn = piece.may_turn and piece.width != piece.height
    if turn and piece.width < piece.height:
        return PieceSize(piece.height, piece.width, True)
    return PieceSize(piece.width, piece.height, turn)


def make_instance(pieces: Sequence[Rectangle], chosen: Sequence[int], stocks: Sequence[Stock]) -> NestingInstance:
    """The job of placing `chosen` (indexes into `pieces`) on `stocks`; kinds largest first, ties by their size."""
    members: dict[PieceSize, list[int]] = {}
    for index in chosen:
        members.setdefault(make_piece_size(pieces[index]), []).append(index)
    kinds = sorted(members, key=lambda k: (-k.width * k.height, -k.width, k.turn))
    return NestingInstance(
        tuple(kinds),
        tuple(len(members[k]) for k in kinds),
        tuple(tuple(members[k]) for k in kinds),
        tuple(stocks),
    )
