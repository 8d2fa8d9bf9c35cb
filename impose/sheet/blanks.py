"""The blank garments that a batch needs, by kind, size and colour, with spares: to buy, and to count in.

Garments count that carry a print of the layout. Of a reprint only those whose print was spoiled: whether the garment
was spoiled with it only the shop knows.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from fractions import Fraction
from typing import Any

from impose.orders.garment_groups import GarmentPrints
from impose.profiles.blank_spares import BlankSpares
from impose.profiles.garment import GarmentCatalogue
from impose.sheet.press_steps import PressTicket
from impose.type.sanitise import fold_text
from impose.values import FrozenStruct, replace, unfold_value

_CLOTH, _COLOUR = "polyester", "white"  # where no row says anything
BlankKey = tuple[str, str, str, str]


class BlankLine(FrozenStruct):
    """One kind of blank: so many are needed, and so many spare. `size` is blank where no order says it.

    `named` says that the orders name the garment; without it a T-shirt was taken.
    """

    kind: str
    group: str
    size: str
    cloth: str
    colour: str
    needed: int
    spares: int
    orders: tuple[str, ...]
    named: bool

    @property
    def total(self) -> int:
        """What to buy."""
        return self.needed + self.spares

    def list_values(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {**unfold_value(self), "orders": list(self.orders), "total": self.total}


def list_blanks(
    tickets: Iterable[PressTicket], wardrobe: GarmentCatalogue, rule: BlankSpares, only: Collection[str] | None = None
) -> list[BlankLine]:
    """The blanks for the garments of some tickets; `only` keeps those with one of these transfers, by id."""
    worn: dict[int, GarmentPrints] = {}
    for ticket in tickets:
        if only is None or any(step.transfer.id in only for step in ticket.steps):
            worn.setdefault(id(ticket.worn), ticket.worn)
    counted: dict[tuple[object, ...], list[GarmentPrints]] = {}
    for garment in worn.values():
        what, cloth = garment.garment, garment.cloth
        key = what.kind, what.group, what.size, fold_text(cloth.text or _CLOTH), fold_text(cloth.colour or _COLOUR)
        counted.setdefault((*key, bool(what.text)), []).append(garment)
    lines = [_make_line(group, wardrobe) for group in counted.values()]
    lines.sort(key=lambda line: _rank_line(line, wardrobe))
    return _add_spares(lines, rule)


def _make_line(group: Sequence[GarmentPrints], wardrobe: GarmentCatalogue) -> BlankLine:
    first = group[0]
    garment, cloth = first.garment, first.cloth
    orders = dict.fromkeys(worn.order for worn in group if worn.order)
    kind, body = wardrobe.kinds.get(garment.kind), wardrobe.groups.get(garment.group)
    return BlankLine(
        kind.title if kind else garment.kind,
        body.title if body else garment.group,
        garment.size,
        cloth.text or _CLOTH,
        cloth.colour or _COLOUR,
        len(group),
        0,
        tuple(orders),
        bool(garment.text),
    )


_SIZES = ("XS", "S", "M", "L", "XL", "2XL", "3XL", "4XL", "5XL", "6XL")


def _rank_line(line: BlankLine, wardrobe: GarmentCatalogue) -> tuple[object, ...]:
    """Kind, group, colour, then from the smallest size to the largest; sizes of no known order by their names."""
    titles = [group.title for group in wardrobe.groups.values()]
    group = titles.index(line.group) if line.group in titles else len(titles)
    known = _SIZES.index(line.size) if line.size in _SIZES else len(_SIZES)
    return line.kind, group, line.colour, line.cloth, known, line.size, not line.named


def _add_spares(lines: Sequence[BlankLine], rule: BlankSpares) -> list[BlankLine]:
    """The lines with their spares. Those of a run, which is one kind, cut and colour, go to the sizes most needed."""
    if rule.by_size:
        return [replace(line, spares=rule.count_spares(line.needed)) for line in lines]
    runs: dict[BlankKey, list[int]] = {}
    for index, line in enumerate(lines):
        runs.setdefault((line.kind, line.group, line.cloth, line.colour), []).append(index)
    found = list(lines)
    for run in runs.values():
        counts = [lines[index].needed for index in run]
        for index, spares in zip(run, share_out(rule.count_spares(sum(counts)), counts), strict=True):
            found[index] = replace(lines[index], spares=spares)
    return found


def share_out(spares: int, counts: Sequence[int]) -> list[int]:
    """Spares in proportion to counts, by largest remainder; of equal ones the larger count first, then the first."""
    total = sum(counts)
    exact = [Fraction(spares * count, total) for count in counts]
    shares = [int(share) for share in exact]
    order = sorted(range(len(counts)), key=lambda index: (shares[index] - exact[index], -counts[index], index))
    for index in order[: spares - sum(shares)]:
        shares[index] += 1
    return shares
