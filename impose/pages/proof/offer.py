"""What an offer says, in words and amounts as they are read: prices alone, never a cost, a mark-up or a rate of work.

The pages that write it know nothing else, so that nothing else can be told by them.
"""

from __future__ import annotations

from dataclasses import dataclass

from impose.pages.proof.garment_looks import GarmentLook

NOT_AN_INVOICE = "This is an offer, not an invoice."


@dataclass(frozen=True, slots=True)
class OfferLine:
    """Garments of one price: how many of what, the price of one and of all, and what one costs from how many on."""

    look: int
    garments: str
    count: int
    each: str
    amount: str
    steps: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """An offer of one order; amounts are texts, without the currency. `looks` are drawn, numbered from 1."""

    title: str
    reference: str
    shop: str
    terms: str
    currency: str
    looks: tuple[GarmentLook, ...]
    lines: tuple[OfferLine, ...]
    net: str
    tax: str
    tax_rate: str
    total: str
    less: str
    rounded: str

    @property
    def sums(self) -> list[tuple[str, str]]:
        """The lines below the garments: price, tax, total; the total alone where no tax is added."""
        if not self.tax_rate:
            return [("To pay, no tax added", self.total)]
        return [("Price", self.net), (f"Tax {self.tax_rate} %", self.tax), ("To pay", self.total)]

    @property
    def notes(self) -> list[str]:
        """What is to be known beside the sums."""
        less = [f"The price of a garment has {self.less} % off already, for the quantity."] if self.less else []
        return [
            *less,
            f"Amounts are in {self.currency}. The price of a garment is rounded to {self.rounded}.",
            "It holds for the garments and prints as drawn here. Spellings and sizes are on the page for your "
            f"approval, which has the same reference. {NOT_AN_INVOICE}",
        ]

    def describe_look(self, number: int) -> str:
        """The prints of a look by their places: full back, left chest."""
        return ", ".join(proof_print.place for proof_print in self.looks[number - 1].first.prints)

    def list_steps(self, line: OfferLine) -> str:
        """What one costs in larger orders, in a sentence; nothing where no step is left."""
        told = ", ".join(f"from {count}: {price}" for count, price in line.steps)
        return f"Each, by garments in the order: {told}." if told else ""
