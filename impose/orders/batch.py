"""A batch of orders: the rows that are nested together, after reading."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from pathlib import Path, PurePosixPath
from typing import Literal

from impose.errors import Exit, Finding, Severity, Trouble, count_noun
from impose.file_types import MENDS, Asked, ColourChange
from impose.orders.findings_log import list_few
from impose.profiles.cloth import WHITE_POLYESTER, Cloth
from impose.profiles.garment import Garment
from impose.profiles.placement import PlacementOffset, TearMargin
from impose.profiles.word_styles import WordStyle
from impose.values import FrozenStruct, replace

Centre = Literal["ink", "canvas", "mass"]

MOST_COPIES = 100_000
MOST_TRANSFERS = 250_000
"""In one batch. A hundred thousand take 0.9 GB in parts (tests/bench/growth.py); far more is a slip (own choice).

A batch has no more rows either.
"""


OrderKey = tuple[str, str | int]
"""The order's name; where there is none, the wearer, or the number of the row."""


class BatchRow(FrozenStruct):
    """One line of a batch: one artwork at one size, so many copies.

    `row` is the line of the file at which the record starts; `art` the artwork's path as written, `path`
    where it was found. `width_mm` and `height_mm` are what the row itself asks for: together they mean
    fit inside, neither means the placement's size. `tear` is the row's own tear margin, if it names one.
    `words`, if any, are set in `style` in place of an artwork, one line of them a line; `art` is then what they are
    called; `letters_mm` is the height of its letters where the row gives one; `set_mm` is the width at which they come
    out where the letters' height decides it. `accept` holds the kinds of findings the customer has agreed to. `extra`
    are the cells of columns that are not ours, kept for the ticket. `cloth` is what the garment is made of. Of a row
    that came from a kit, `row` is the row of the batch, `kit_row` the kit's, `name` and `number` what was put into its
    words. `page` of its file is the one to print, `mend` what is mended in it (see `impose.file_types.MENDS`),
    `recolour` which of its flat colours others take the place of, and `drawn_mm` the size of its ink for which a
    drawing is rendered. `drop` and `across` say where on the garment it is measured to, where the row says it and not
    its placement.
    """

    row: int
    order: str
    wearer: str
    art: str
    path: Path
    placement: str | None
    garment: Garment
    copies: int
    width_mm: float | None
    height_mm: float | None
    tear: TearMargin | None = None
    centre: Centre = "ink"
    may_turn: bool = True
    accept: frozenset[str] = frozenset()
    note: str = ""
    extra: tuple[tuple[str, str], ...] = ()
    words: str = ""
    font: str = ""
    style: WordStyle | None = None
    letters_mm: float | None = None
    set_mm: float | None = None
    cloth: Cloth = WHITE_POLYESTER
    kit: str = ""
    kit_row: int = 0
    name: str = ""
    number: str = ""
    page: int | None = None
    mend: frozenset[str] = frozenset()
    drawn_mm: tuple[float | None, float | None] | None = None
    drop: PlacementOffset | None = None
    across: PlacementOffset | None = None
    recolour: tuple[ColourChange, ...] = ()

    @property
    def art_name(self) -> str:
        """The artwork's file name, without the folders it lies in: those are the shop's own business."""
        return PurePosixPath(self.art.replace("\\", "/")).name

    @property
    def asked(self) -> Asked:
        """What is asked of its file: rows that ask the same share a picture."""
        return Asked(self.path, self.page, self.mend, self.drawn_mm, () if self.words else self.recolour)

    @property
    def fitted(self) -> bool:
        """Whether the letters' height decides how wide its words are."""
        return self.set_mm is not None

    @property
    def key(self) -> tuple[int, int]:
        """What tells it from all other rows: its number in the batch, and in the kit (0 without one)."""
        return self.row, self.kit_row

    @property
    def order_key(self) -> OrderKey:
        """What belongs together: rows of one order; of rows that name none, those of one wearer, or the row alone.

        A wearer's rows may meet on one garment, which is never parted between orders.
        """
        return (self.order, 0) if self.order else ("", self.wearer or self.row)


class Batch(FrozenStruct):
    """The rows nested together, in the order of the file, with what is worth knowing about them.

    `left` are the numbers of rows that were left out with their orders.
    """

    name: str
    source: str
    art_root: Path
    rows: tuple[BatchRow, ...]
    findings: tuple[Finding, ...] = ()
    left: frozenset[int] = frozenset()


class RowDefaults(FrozenStruct):
    """What the command says for rows that say nothing: taken where a row's own cell is blank or missing.

    `mend` is added to what a row asks for itself; `page` is that of loose files.

    `width_mm` and `height_mm` are taken together, and only by a row that gives neither. Raises `Trouble` (wrong
    use) for no copies, more than `MOST_COPIES`, or a size of nothing.
    """

    placement: str | None = None
    width_mm: float | None = None
    height_mm: float | None = None
    copies: int | None = None
    mend: frozenset[str] = frozenset()
    page: int | None = None

    def __post_init__(self) -> None:
        faults = [_make_unknown_mend(mend) for mend in sorted(self.mend) if mend not in MENDS]
        if self.copies is not None and not 1 <= self.copies <= MOST_COPIES:
            faults.append(_make_unusable("copies", f"from 1 to {MOST_COPIES:,}", str(self.copies)))
        for name, mm in (("width", self.width_mm), ("height", self.height_mm)):
            if mm is not None and not 0 < mm < math.inf:
                faults.append(_make_unusable(name, "more than nothing", f"{mm} mm"))
        if faults:
            raise Trouble(faults)


def _make_unknown_mend(name: str) -> Finding:
    remedy = f"Known are {', '.join(MENDS)}."
    return Finding("a mend that is not known", remedy, kind="bad-option", read=name, exit=Exit.USAGE)


def _make_unusable(name: str, wanted: str, read: str) -> Finding:
    return Finding(f"--{name} out of range", f"Give {wanted}.", kind="bad-option", read=read, exit=Exit.USAGE)


def leave_out_refused(
    batch: Batch, stops: Sequence[Finding], skip_bad: bool, refused: Collection[int] | None = None
) -> Batch:
    """The batch less the orders of the rows that `stops` refuse, if `skip_bad` allows it: decided here, nowhere else.

    `refused` are the refused rows whose order can be told, where these are not the rows of the stops. Raises `Trouble`
    with all stops if orders may not be left out, or one of the stops is of no row, or of one whose order nobody can
    tell, so that no order could be left out to be rid of it.
    """
    if not stops:
        return batch
    leaving = frozenset(row for stop in stops for row in stop.rows) if refused is None else frozenset(refused)
    if not skip_bad or not all(stop.rows and leaving.issuperset(stop.rows) for stop in stops):
        raise Trouble(stops)
    return _remove_orders(batch, leaving, stops)


def _remove_orders(batch: Batch, refused: Collection[int], findings: Collection[Finding]) -> Batch:
    """The batch less every order that has one of the `refused` rows, with a warning that says so on top.

    A half order is worse than a late one, so orders leave whole. `findings` are those that refused the
    rows; they are kept after the warning.
    """
    gone = {row.order_key for row in batch.rows if row.row in refused}
    kept = tuple(row for row in batch.rows if row.order_key not in gone)
    left_out = [row for row in batch.rows if row.order_key in gone]
    said = (_report_left_out(batch, left_out), *findings, *batch.findings)
    return replace(batch, rows=kept, findings=said, left=batch.left | {row.row for row in left_out})


def _report_left_out(batch: Batch, rows: Collection[BatchRow]) -> Finding:
    orders = list(dict.fromkeys(row.order for row in rows if row.order))
    nameless = list(dict.fromkeys(str(row.row) for row in rows if not row.order))
    parts = [f"orders {list_few(orders)}"] if orders else []
    parts += [f"rows {list_few(nameless)}, which name no order"] if nameless else []
    count = len({row.row for row in rows})  # a row with a kit is several prints
    return Finding(
        what=f"{count_noun(count, 'row')} left out: {'; '.join(parts)}",
        remedy="Mend the refused rows and run these orders again.",
        severity=Severity.WARN,
        kind="left-out",
        file=batch.source,
    )
