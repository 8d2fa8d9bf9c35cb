"""The paper left as people ask for it: papers by their everyday names, amounts in sheets or in a roll's length."""

from __future__ import annotations

import re
import sqlite3
from decimal import Decimal
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.ledger import stock
from impose.profiles.paper import Paper
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.paper_amounts import format_paper_amount, is_roll_name
from impose.run.paper_stock import PaperStock
from impose.units import LengthError, parse_length
from impose.values import FrozenStruct

MOST = 10_000_000
"""Sheets, or metres of a roll: more is a slip of the finger."""


class PaperCount(FrozenStruct):
    """One counted paper: `amount` in whole sheets, or micrometres where `unit` is "um"."""

    paper: str
    alias: str
    amount: int
    unit: str
    shown: str


class CountedStock:
    """A shelf whose papers and amounts are those that a person writes. Every fault is `Trouble`."""

    def __init__(self, ledger: Path, options: Options) -> None:
        self.shelf = PaperStock(ledger)
        self.profiles = load_profiles_in_force(options)

    def list_counts(self, name: str | None = None) -> list[PaperCount]:
        """All counted papers, or one."""
        wanted = None if name is None else self.profiles.find_paper(name).name
        left = self.shelf.read_left(below_nothing=True)
        return [self._make_count(paper, amount) for paper, amount in left.items() if wanted in (None, paper)]

    def change_count(self, name: str, how: str, amount: str, because: str) -> None:
        """Count a paper by hand: `how` is set, add, waste or stop."""
        paper = self.profiles.find_paper(name)
        number = 0 if how == "stop" else _parse_amount(amount, paper)

        def work(db: sqlite3.Connection, at: str) -> None:
            if how == "set":
                stock.set_count(db, paper.name, number, at, because)
            elif how == "stop":
                stock.stop_counting(db, paper.name, at, because)
            elif how == "add":
                stock.change_count(db, paper.name, number, at, how, because)
            else:
                self._refuse_more_than_left(number, paper, stock.read_counts(db).get(paper.name))
                stock.change_count(db, paper.name, -number, at, how, because)

        try:
            self.shelf.change_counts(work, first=how == "set")
        except KeyError as error:
            what = f"{paper.alias} is not counted yet"
            remedy = Remedy("count-first", paper=paper.alias)
            raise Trouble(Finding(what, remedy, kind="stock", exit=Exit.USAGE)) from error

    def _refuse_more_than_left(self, spoiled: int, paper: Paper, left: int | None) -> None:
        """What is not there cannot be spoiled: either number is a slip, and a count below nothing would hide it."""
        if left is not None and spoiled > left:
            shown = self._format_count(paper.name, left)
            what = f"{self._format_count(paper.name, spoiled)} of {paper.alias} cannot be spoiled: {shown} left"
            remedy = Remedy("count-again", paper=paper.alias)
            raise Trouble(Finding(what, remedy, kind="stock", exit=Exit.USAGE))

    def list_history(self, name: str | None = None) -> list[dict[str, str]]:
        """What changed the counts, oldest first."""
        wanted = None if name is None else self.profiles.find_paper(name).name
        return [
            {
                "at": movement.at,
                "paper": self._make_count(movement.paper, 0).alias,
                "change": f"{'+' if movement.change > 0 else ''}{self._format_count(movement.paper, movement.change)}",
                "left": self._format_count(movement.paper, movement.left),
                "kind": movement.kind,
                "reason": movement.reason,
            }
            for movement in self.shelf.list_movements(wanted)
        ]

    def _make_count(self, name: str, amount: int) -> PaperCount:
        roll = is_roll_name(name)
        known = next((paper.alias for paper in self.profiles.papers.values() if paper.name == name), name)
        return PaperCount(name, known, amount, "um" if roll else "sheets", self._format_count(name, amount))

    def _format_count(self, name: str, amount: int) -> str:
        return format_paper_amount(amount, name, self.profiles.settings.units)


def _parse_amount(text: str, paper: Paper) -> int:
    """Whole sheets, or a roll's length in micrometres; metres are taken too, since rolls are bought by them."""
    if not paper.is_roll:
        if not re.fullmatch(r"[0-9]{1,8}", text.strip()) or int(text) > MOST:
            raise _make_unusable(text, f"Give whole sheets, 0 to {MOST:,}.")
        return int(text)
    metres = re.fullmatch(r"([0-9]{1,6}(?:[.,][0-9]{1,6})?)\s*m", text.strip())
    if metres:
        return int(Decimal(metres[1].replace(",", ".")) * 1_000_000)
    try:
        return round(parse_length(text, zero=True) * 1000)
    except LengthError:
        # The remedy for any other length would forbid the metres that are wanted here.
        raise _make_unusable(text, "Give a roll's length, such as 12.5m or 12500 mm.") from None


def _make_unusable(text: str, remedy: str) -> Trouble:
    return Trouble(Finding("the amount cannot be read", remedy, kind="stock", read=text, exit=Exit.USAGE))
