"""Which rows go on which garment: from the rows of a batch to single garments, each with its prints.

A wearer is the person one garment is for, so rows of one order that name the same wearer and garment meet on the same
garments. That holds only where there is one way to do it; where there are several, the rows are refused, since a print
on the wrong garment spoils two.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from impose.errors import Finding, Severity
from impose.orders.batch import BatchRow
from impose.orders.findings_log import format_spans, list_few
from impose.profiles.cloth import WHITE_POLYESTER, Cloth
from impose.profiles.garment import Garment
from impose.remedies import Remedy
from impose.type.sanitise import fold_text
from impose.values import FrozenStruct


class GarmentPrints(FrozenStruct):
    """One garment: whose it is, what it is, and what is pressed on it as (row, copy), in the order of the batch.

    `number` counts, from 1, among the `of` garments that the same rows make.
    """

    order: str
    wearer: str
    garment: Garment
    number: int
    of: int
    prints: tuple[tuple[BatchRow, int], ...]

    @property
    def cloth(self) -> Cloth:
        """What it is made of: as its first row that says anything of it has it."""
        said = (row.cloth for row, _ in self.prints if row.cloth.said)
        return next(said, self.prints[0][0].cloth if self.prints else WHITE_POLYESTER)


def assign_garments(rows: Sequence[BatchRow]) -> tuple[list[GarmentPrints], list[Finding]]:
    """The garments of a batch in the order of their first rows, and a stop for every group of rows that is ambiguous.

    A row that names neither wearer nor garment makes a garment of each of its copies.
    """
    worn: list[GarmentPrints] = []
    findings: list[Finding] = []
    for group in _group_rows(rows):
        fault = _find_ambiguity(group)
        if fault is None:
            worn.extend(_lay_on_garments(group))
        else:
            findings.extend(_refuse_group(group, *fault))
    return worn, findings


def _group_rows(rows: Sequence[BatchRow]) -> list[list[BatchRow]]:
    """Rows that are about the same garments: the same wearer and garment within an order.

    Rows without an order stand alone, as everywhere, unless a wearer's name ties them together (`order_key`).
    """
    groups: dict[object, list[BatchRow]] = {}
    for row in rows:
        text = fold_text(row.garment.text)
        named = bool(row.wearer or text)
        key = (row.order_key, row.wearer, text) if named else row.row
        groups.setdefault(key, []).append(row)
    apart = [part for group in groups.values() for part in _group_by_kit(group)]
    return [part for group in apart for part in _part_group(group)]


def _group_by_kit(group: Sequence[BatchRow]) -> list[list[BatchRow]]:
    """A row of the batch with a kit is a garment of its own, also beside one of the same name.

    What is ordered for the same wearer without a kit joins it where there is one such row alone.
    """
    kits = list(dict.fromkeys(row.row for row in group if row.kit))
    if len(kits) < 2:
        return [list(group)]
    parts = [[row for row in group if row.kit and row.row == number] for number in kits]
    rest = [row for row in group if not row.kit]
    return [*parts, rest] if rest else parts


def _part_group(group: Sequence[BatchRow]) -> list[list[BatchRow]]:
    """A row without a placement joins the others where its copies match theirs, and stands alone where they do not."""
    placed = [row for row in group if row.placement is not None]
    count = max((sum(row.copies for row in rows) for rows in _group_by_place(placed or group[:1]).values()), default=0)
    joined: list[BatchRow] = []
    apart: list[list[BatchRow]] = []
    for row in group:
        if row.placement is not None or row.copies == count:
            joined.append(row)
        else:
            apart.append([row])
    return [joined, *apart]


def _group_by_place(group: Sequence[BatchRow]) -> dict[str, list[BatchRow]]:
    """The rows of each place on the garment; a print without a placement has a place of its own."""
    places: dict[str, list[BatchRow]] = {}
    for row in group:
        places.setdefault(row.placement or f"row {row.row}", []).append(row)
    return places


def _find_ambiguity(group: Sequence[BatchRow]) -> tuple[str, str] | None:
    """What leaves more than one way to lay the rows on garments, and the remedy; None where there is one way."""
    places = _group_by_place(group)
    shared = {place: rows for place, rows in places.items() if len(rows) > 1}
    cloths = {(row.cloth.text.casefold(), row.cloth.colour.casefold()): row for row in group if row.cloth.said}
    if len(cloths) > 1:
        told = " and ".join(f"{row.cloth.words} (row {row.row})" for row in cloths.values())
        return f"their cloth is said to be {told}", _APART
    totals = {place: sum(row.copies for row in rows) for place, rows in places.items()}
    for place, rows in shared.items():
        if rows[0].wearer and len({row.copies for row in rows}) > 1:
            copies = list_few([f"{row.copies} (row {row.row})" for row in rows], " and ")
            return f"{_describe_place(place)} is asked for more than once, with {copies} copies", _APART
    if len(shared) > 1:
        names = list_few([_describe_place(place) for place in shared], " and ")
        return f"{names} are each asked for more than once, and which go together is not said", _APART
    if len(set(totals.values())) > 1:
        counts = list_few([f"{total} × {_describe_place(place)}" for place, total in totals.items()])
        if not group[0].wearer:
            return f"the copies do not come out even ({counts}), and no wearer says which garments are meant", _WHICH
        return f"the copies do not come out even ({counts}), so which garment carries which print is not said", _EVEN
    return None


_WHICH, _APART = Remedy("name-wearers"), Remedy("part-garments")
_EVEN = (
    "Give every print of one garment the same number of copies, and name garments that carry something else apart "
    "in the column wearer, such as “crew” and “spare”."
)


def _describe_place(place: str) -> str:
    return place.replace("-", " ")


def _refuse_group(group: Sequence[BatchRow], what: str, remedy: str) -> Iterator[Finding]:
    """One refusal for a group, at its first row, naming the others."""
    first, rows = group[0], format_spans(row.row for row in group)
    whose = first.wearer or first.garment.text
    yield Finding(
        f"rows {rows} are for {whose or 'no wearer'}, but {what}",
        remedy,
        kind="which-garment",
        why="A print on the wrong garment spoils two.",
        row=first.row,
        column="copies",
        read=str(first.copies),
    )


def report_like_garments(rows: Sequence[BatchRow]) -> list[Finding]:
    """A note for every group of rows without a wearer that was laid on like garments, since nobody said so."""
    told = []
    for group in _group_rows(rows):
        places = _group_by_place(group)
        if group[0].wearer or group[0].kit or len(places) < 2 or _find_ambiguity(group) is not None:
            continue
        count = sum(row.copies for row in next(iter(places.values())))
        names = " and ".join(_describe_place(place) for place in places)
        made = f"{count} like garments are made, each" if count > 1 else "one garment is made"
        numbers = [row.row for row in group]
        told.append(
            Finding(
                f"rows {format_spans(numbers)} name no wearer: {made} with {names}",
                Remedy("part-like-garments"),
                Severity.NOTE,
                "like-garments",
                row=numbers[0],
                also=tuple(numbers[1:]),
                column="wearer",
            )
        )
    return told


def _lay_on_garments(group: Sequence[BatchRow]) -> Iterator[GarmentPrints]:
    """The garments of rows that can be laid in one way only: copy by copy, rows of one place one after another."""
    stacks = [
        [(row, copy) for row in rows for copy in range(1, row.copies + 1)] for rows in _group_by_place(group).values()
    ]
    first = group[0]
    for number, prints in enumerate(zip(*stacks, strict=True), 1):
        yield GarmentPrints(first.order, first.wearer, first.garment, number, len(stacks[0]), prints)
