"""What goes into the bags: the garments of each order, whose they are, and where they are printed."""

from __future__ import annotations

from collections.abc import Iterable

from impose.orders.batch import OrderKey
from impose.orders.garment_groups import GarmentPrints
from impose.sheet.press_steps import PressTicket
from impose.values import FrozenStruct


class PackedGarment(FrozenStruct):
    """So many garments that are packed alike: for whom, what, and the placements of their prints (None: not named)."""

    wearer: str
    garment: str
    placements: tuple[str | None, ...]
    count: int = 1


class PackedOrder(FrozenStruct):
    """An order with its garments; `row` is that of its first print, by which an order without a name goes."""

    name: str
    row: int
    garments: tuple[PackedGarment, ...]

    @property
    def count(self) -> int:
        """How many garments."""
        return sum(garment.count for garment in self.garments)


def list_packed_orders(tickets: Iterable[PressTicket]) -> list[PackedOrder]:
    """The orders in the sequence of their first garment; garments of one person that are alike are counted together."""
    placed: dict[int, tuple[GarmentPrints, tuple[str | None, ...]]] = {}
    for ticket in tickets:
        _, before = placed.get(id(ticket.worn), (None, ()))
        names = (step.placement.name if step.placement else None for step in ticket.steps)
        placed[id(ticket.worn)] = ticket.worn, tuple(dict.fromkeys((*before, *names)))
    orders: dict[OrderKey, list[tuple[GarmentPrints, PackedGarment]]] = {}
    for worn, places in placed.values():
        row = worn.prints[0][0]
        packed = PackedGarment(worn.wearer, _name_garment(worn), places)
        orders.setdefault(row.order_key, []).append((worn, packed))
    return [_make_order(held) for held in orders.values()]


def _name_garment(worn: GarmentPrints) -> str:
    """The garment in the customer's words, or in ours where the order names none."""
    return worn.garment.text or f"{worn.garment.group} {worn.garment.kind}"


def _make_order(held: list[tuple[GarmentPrints, PackedGarment]]) -> PackedOrder:
    counts: dict[PackedGarment, int] = {}
    for _, packed in held:
        counts[packed] = counts.get(packed, 0) + 1
    first = held[0][0]
    garments = tuple(
        PackedGarment(packed.wearer, packed.garment, packed.placements, count) for packed, count in counts.items()
    )
    return PackedOrder(first.order, first.prints[0][0].row, garments)
