"""The garments of one order by how they look, as a customer is shown them: each look once, with who gets it.

A team's garments carry the same pictures at the same places and differ in size, name and number. They are one look:
drawn once, with a row for each garment. Sizes are those worn: the cloth's allowance is off, panels are whole again.
"""

from __future__ import annotations

from collections.abc import Sequence

from impose.orders.batch import BatchRow, OrderKey
from impose.orders.garment_groups import GarmentPrints
from impose.pages.proof.gallery import picture_key
from impose.profiles.customer_texts import CustomerTexts
from impose.profiles.profiles import Profiles
from impose.sheet.layout import BatchLayout
from impose.sheet.piece import Piece
from impose.sheet.press_steps import PressStep, PressTicket, list_pressed_garments, make_garment_ticket
from impose.sheet.record import make_batch_code
from impose.sheet.transfer import describe_ordered_garment
from impose.values import FrozenStruct, replace

Size = tuple[float, float]


def order_code(looks: Sequence[GarmentLook]) -> str:
    """Four characters that name what an order's page shows, from that alone: who gets what, where and how large."""
    return make_batch_code(
        [
            [
                garment.count,
                garment.wearer,
                garment.words,
                [[p.row.placement, p.row.words, p.pictures, p.size] for p in garment.prints],
            ]
            for look in looks
            for garment in look.garments
        ]
    )


class ProofPrint(FrozenStruct):
    """One print of a garment: the steps it is pressed in, one or a panel each; `size` is as worn, in mm."""

    steps: tuple[PressStep, ...]

    @property
    def piece(self) -> Piece:
        """The piece, or the first panel of it."""
        return self.steps[0].transfer.piece

    @property
    def row(self) -> BatchRow:
        """The row that asked for it."""
        return self.piece.row

    @property
    def size(self) -> Size:
        """Width and height as worn, of the whole print."""
        wide, high = self.piece.finished_size
        return round(wide, 2), round(high, 2)

    @property
    def pictures(self) -> tuple[object, ...]:
        """What tells its picture from others, size and placement aside."""
        return tuple(picture_key(step.transfer.piece.picture) for step in self.steps)


class ProofGarment(FrozenStruct):
    """Garments that are alike in everything: for whom, what they are, what they carry, how many."""

    worn: GarmentPrints
    prints: tuple[ProofPrint, ...]
    count: int

    @property
    def wearer(self) -> str:
        """The person it is for, maybe empty."""
        return self.worn.wearer

    @property
    def words(self) -> str:
        """The garment in the customer's words."""
        return describe_ordered_garment(self.prints[0].row)

    def tell_count(self, texts: CustomerTexts) -> str:
        """The garment, and how many where they are several."""
        if self.count == 1:
            return self.words
        return texts.fill_sentence("approval", "several", count=self.count, garment=self.words)


class GarmentLook(FrozenStruct):
    """Garments with the same pictures at the same places; the first stands for all in the drawing."""

    garments: tuple[ProofGarment, ...]

    @property
    def first(self) -> ProofGarment:
        """The garment that is drawn."""
        return self.garments[0]

    @property
    def count(self) -> int:
        """How many garments."""
        return sum(garment.count for garment in self.garments)

    def list_sizes(self, index: int) -> list[Size]:
        """The sizes that a print has on the garments, smallest first."""
        return sorted({garment.prints[index].size for garment in self.garments})

    @property
    def one_size(self) -> bool:
        """Whether every picture has one size on all of them; words have their letters', however long."""
        prints = enumerate(self.first.prints)
        return all(len(self.list_sizes(index)) == 1 for index, proof_print in prints if not proof_print.row.words)


class LooksByOrder:
    """The looks of every order, each order's made when they are asked for: of a large batch they are never all held."""

    def __init__(self, rows: Sequence[BatchRow], layout: BatchLayout, profiles: Profiles) -> None:
        self._pressed = list_pressed_garments(rows, layout)
        self._profiles = profiles
        self._garments: dict[OrderKey, list[GarmentPrints]] = {}
        for worn in self._pressed.garments:
            row, _ = min(worn.prints, key=_get_print_key)
            self._garments.setdefault(row.order_key, []).append(worn)

    def find_looks(self, order: OrderKey) -> list[GarmentLook]:
        """The looks of one order, by its key."""
        looks: dict[object, dict[object, ProofGarment]] = {}
        for worn in self._garments[order]:
            ticket = make_garment_ticket(worn, self._pressed, self._profiles)
            prints = list_prints(ticket)
            garments = looks.setdefault(make_look_key(prints), {})
            same = _make_same_key(ticket, prints)
            known = garments.get(same)
            garments[same] = replace(known, count=known.count + 1) if known else ProofGarment(ticket.worn, prints, 1)
        return [GarmentLook(tuple(of.values())) for of in looks.values()]

    def list_all(self) -> dict[OrderKey, list[GarmentLook]]:
        """The looks of every order, by the order's key, in the order of the batch."""
        return {order: self.find_looks(order) for order in self._garments}


def _get_print_key(pressed: tuple[BatchRow, int]) -> tuple[tuple[int, int], int]:
    row, copy = pressed
    return row.key, copy


def list_prints(ticket: PressTicket) -> tuple[ProofPrint, ...]:
    """The prints of a garment as its rows name them; panels of one print together, by number."""
    together: dict[tuple[tuple[int, int], int], list[PressStep]] = {}
    for step in ticket.steps:
        together.setdefault(step.print, []).append(step)
    return tuple(ProofPrint(tuple(sorted(together[key], key=_get_panel_number))) for key in sorted(together))


def _get_panel_number(step: PressStep) -> int:
    panel = step.transfer.piece.panel
    return panel.number if panel else 0


def make_look_key(prints: Sequence[ProofPrint]) -> object:
    """What garments share that look alike: places, pictures, their colours; of words only that there are some."""
    of = [
        (
            proof_print.row.placement,
            proof_print.piece.up,
            bool(proof_print.row.words) or proof_print.row.art,
            proof_print.row.recolour,
        )
        for proof_print in prints
    ]
    return prints[0].steps[0].shape.kind, tuple(of)


def _make_same_key(ticket: PressTicket, prints: Sequence[ProofPrint]) -> object:
    """What garments share that are alike in everything."""
    of = tuple((proof_print.pictures, proof_print.size, proof_print.row.words) for proof_print in prints)
    return ticket.worn.wearer, describe_ordered_garment(prints[0].row), of
