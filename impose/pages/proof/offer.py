"""What an offer says, in words and amounts as they are read: prices alone, never a cost, a mark-up or a rate of work.

The pages that write it know nothing else, so that nothing else can be told by them.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import reduce

from impose.pages.proof.garment_looks import GarmentLook
from impose.profiles.customer_texts import CustomerTexts
from impose.values import FrozenStruct


class OfferLine(FrozenStruct):
    """Garments of one price: how many of what, the price of one and of all, and what one costs from how many on."""

    look: int
    garments: str
    count: int
    each: str
    amount: str
    steps: tuple[tuple[int, str], ...] = ()


class Offer(FrozenStruct):
    """An offer of one order; amounts are texts, without the currency. `looks` are drawn, numbered from 1.

    `places` are, by look, where its prints go, in the customer's words. `less` and `tax_rate` are in per cent, empty
    where there is none.
    """

    texts: CustomerTexts
    title: str
    reference: str
    shop: str
    terms: str
    currency: str
    looks: tuple[GarmentLook, ...]
    places: tuple[str, ...]
    lines: tuple[OfferLine, ...]
    net: str
    tax: str
    tax_rate: str
    total: str
    less: str
    rounded: str

    def say_sentence(self, key: str, **values: str | int) -> str:
        """A sentence of the offer, by its key in texts.toml."""
        return self.texts.fill_sentence("offer", key, **values)

    @property
    def heads(self) -> tuple[str, str, str, str]:
        """The headings of the columns."""
        return (
            self.say_sentence("garments"),
            self.say_sentence("number"),
            self.say_sentence("each"),
            self.say_sentence("amount", currency=self.currency),
        )

    @property
    def sums(self) -> list[tuple[str, str]]:
        """The lines below the garments: price, tax, total; the total alone where no tax is added."""
        if not self.tax_rate:
            return [(self.say_sentence("total_untaxed"), self.total)]
        tax = self.say_sentence("tax", rate=self.tax_rate)
        return [(self.say_sentence("price"), self.net), (tax, self.tax), (self.say_sentence("total"), self.total)]

    @property
    def notes(self) -> list[str]:
        """What is to be known beside the sums."""
        less = [self.say_sentence("less", share=self.less)] if self.less else []
        rounded = self.say_sentence("rounded", currency=self.currency, amount=self.rounded)
        return [*less, rounded, self.say_sentence("holds")]

    def caption_look(self, number: int) -> str:
        """What stands below the drawing of a look."""
        return self.say_sentence("look", number=number, places=self.places[number - 1])

    def describe_prints(self, line: OfferLine) -> str:
        """Where the prints of a line go, and which drawing shows them, if there are several."""
        places = self.places[line.look - 1]
        return places if len(self.looks) == 1 else self.say_sentence("as_drawn", number=line.look, places=places)

    def list_steps(self, line: OfferLine) -> str:
        """What one costs in larger orders, in a sentence; nothing where no step is left."""
        told = [self.say_sentence("step", count=count, price=price) for count, price in line.steps]
        return self.say_sentence("steps", steps=join_texts(self.texts, told)) if told else ""


def join_texts(texts: CustomerTexts, parts: Iterable[str]) -> str:
    """Texts one after the other, as the customer's language parts them."""
    return reduce(lambda first, second: texts.fill_sentence("offer", "both", first=first, second=second), parts)
