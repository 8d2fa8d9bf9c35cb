"""What garments cost a shop and what is charged for them: exact sums in whole millionths of the currency unit.

A cost of the whole batch (the press, power, handling, the allowance for spoilage) is rounded up once and then shared
by the method of the largest remainder, so that garments, orders and batch add up. Garments alike have one price: their
mean cost, with the mark-up and less what the quantity takes off, rounded once. A cost that is unknown is named in
`missing` and left out of every sum; where any is missing there is no price.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction

from impose.orders.batch import OrderKey
from impose.profiles.currencies import MILLIONTHS
from impose.profiles.press import HeatPress
from impose.profiles.prices import ShopPrices
from impose.sheet.money import split_by_weight
from impose.sheet.piece import describe_ordered_garment
from impose.sheet.press_steps import PressTicket
from impose.sheet.press_times import time_evening, time_steps
from impose.values import FrozenStruct, field

PARTS = ("blank", "paper", "ink", "handling", "press", "power", "spoilage")
"""The costs of a garment, in the order in which they are told."""


class SpoilageRates(FrozenStruct):
    """The shares of prints and of blanks that are spoiled, None where nobody has said; `told` is where from."""

    prints: Fraction | None
    blanks: Fraction | None
    told: str = ""


class MadeCosts(FrozenStruct):
    """What a record says that it cost to make, in whole millionths: by transfer, and of the whole batch.

    None is unknown: a paper without a price, an ink without one, a record that says nothing of handling.
    """

    paper: Mapping[str, int] | None
    ink: Mapping[str, int] | None
    handling: int | None


class GarmentCharge(FrozenStruct):
    """One garment: its costs by part (those that are known), and the seconds at the press."""

    ticket: PressTicket
    seconds: int
    costs: Mapping[str, int]

    @property
    def cost(self) -> int:
        """All that is known of what it costs."""
        return sum(self.costs.values())

    @property
    def ids(self) -> list[str]:
        """Its transfers."""
        return list(dict.fromkeys(step.transfer.id for step in self.ticket.steps))


class PriceLine(FrozenStruct):
    """Garments of an order that have one price: alike in their prints and in what their blank costs.

    `unit` and `amount` are None where a cost is missing. `by_step` is the price of one from each quantity step on.
    """

    garments: tuple[GarmentCharge, ...]
    unit: int | None
    by_step: Mapping[int, int] = field(default_factory=dict)

    @property
    def amount(self) -> int | None:
        """The price of all of them."""
        return None if self.unit is None else self.unit * len(self.garments)


class OrderCharge(FrozenStruct):
    """An order: its lines; `net` is the price, `tax` what comes on it; None where they cannot be known."""

    key: OrderKey
    lines: tuple[PriceLine, ...]
    share_off: Decimal
    net: int | None
    tax: int | None

    @property
    def garments(self) -> list[GarmentCharge]:
        """Its garments, line by line."""
        return [garment for line in self.lines for garment in line.garments]

    @property
    def first_row(self) -> int:
        """The number of its first row."""
        return min(row.row for garment in self.garments for row, _ in garment.ticket.worn.prints)

    @property
    def total(self) -> int | None:
        """What the customer pays."""
        return None if self.net is None or self.tax is None else self.net + self.tax


class MissingCost(FrozenStruct):
    """A cost that is unknown, in words, and the key of the prices that would say it; of blanks which they are."""

    what: str
    key: str
    names: tuple[str, ...] = ()


def share_seconds(tickets: Sequence[PressTicket], press: HeatPress, grouping: str) -> list[int]:
    """The seconds of the evening at the press, changes of the set-up included, shared by what each garment takes.

    `grouping` is the order of work: garment or platen.
    """
    evening = time_evening(tickets, press)
    whole = evening.times if evening.by == grouping else evening.other
    own = [time_steps(ticket.steps, press).seconds for ticket in tickets]
    return split_by_weight(whole.seconds, [float(seconds) for seconds in own], 1)


def charge_garments(
    tickets: Sequence[PressTicket],
    seconds: Sequence[int],
    made: MadeCosts,
    prices: ShopPrices,
    spoilage: SpoilageRates,
    anew: Collection[str] | None = None,
) -> tuple[list[GarmentCharge], list[MissingCost]]:
    """What each garment costs, and what of it is not known. `seconds` are those that each takes at the press.

    Of a reprint `anew` are the transfers whose garments are begun anew: the others have their blank.
    """
    missing: dict[str, MissingCost] = {}
    parts: dict[str, list[int]] = {}
    _add_made(parts, tickets, made, missing)
    _add_work(parts, seconds, prices, missing)
    blanks = [
        _find_blank_cost(ticket, prices, missing)
        if anew is None or any(step.transfer.id in anew for step in ticket.steps)
        else 0
        for ticket in tickets
    ]
    if spoilage.prints is None or spoilage.blanks is None:
        missing["spoilage"] = MissingCost("the share of prints that are spoiled is not entered", "spoilage")
    else:
        printed = [sum(of) for of in zip(*parts.values(), strict=True)] if parts else [0] * len(tickets)
        exact = [spoilage.prints * a + spoilage.blanks * (b or 0) for a, b in zip(printed, blanks, strict=True)]
        parts["spoilage"] = _share_out(sum(exact, Fraction(0)), exact)
    found = []
    for index, ticket in enumerate(tickets):
        costs = {name: parts[name][index] for name in PARTS if name in parts}
        blank = blanks[index]
        found.append(GarmentCharge(ticket, seconds[index], costs if blank is None else {"blank": blank, **costs}))
    return found, list(missing.values())


def _add_made(
    parts: dict[str, list[int]], tickets: Sequence[PressTicket], made: MadeCosts, missing: dict[str, MissingCost]
) -> None:
    """Paper and ink of each garment's transfers; handling shared by their paper."""
    ids = [list(dict.fromkeys(step.transfer.id for step in ticket.steps)) for ticket in tickets]
    for name, costs, what in (
        ("paper", made.paper, "a paper of this batch had no cost when the sheets were made"),
        ("ink", made.ink, "the printer had no cost of ink when the sheets were made"),
    ):
        if costs is None:
            missing[name] = MissingCost(what, f"{name}_cost")
        else:
            parts[name] = [sum(costs.get(ident, 0) for ident in names) for names in ids]
    if made.handling is None:
        missing["handling"] = MissingCost("the record does not say what handling its sheets cost", "handling")
    else:
        weights = parts.get("paper") or [len(names) for names in ids]
        parts["handling"] = split_by_weight(made.handling, [float(weight) for weight in weights], 1)


def _add_work(
    parts: dict[str, list[int]], seconds: Sequence[int], prices: ShopPrices, missing: dict[str, MissingCost]
) -> None:
    """The press by the hour, and the power it draws while it is in use."""
    if prices.press_rate is None:
        missing["press"] = MissingCost("an hour of work at the press has no rate", "press_rate")
    else:
        rate = Fraction(prices.press_rate) * MILLIONTHS / 3600
        parts["press"] = _share_out(rate * sum(seconds), seconds)
    for key, value, what in (
        ("power_kw", prices.power_kw, "what the press draws is not entered"),
        ("power_cost", prices.power_cost, "a kilowatt-hour has no cost"),
    ):
        if value is None:
            missing[key] = MissingCost(what, key)
    if prices.power_kw is not None and prices.power_cost is not None:
        each = Fraction(prices.power_kw) * Fraction(prices.power_cost) * MILLIONTHS / 3600
        parts["power"] = _share_out(each * sum(seconds), seconds)


def _share_out(exact: Fraction, weights: Sequence[int | Fraction]) -> list[int]:
    """An exact amount rounded up to a whole millionth, once, and shared by weight."""
    whole = math.ceil(exact)
    total = sum(weights, Fraction(0))
    if total <= 0:
        return [0] * len(weights)
    shares = [divmod(whole * Fraction(weight) / total, 1) for weight in weights]
    parts = [int(share) for share, _ in shares]
    late = sorted(range(len(parts)), key=lambda index: (-shares[index][1], index))[: whole - sum(parts)]
    for index in late:
        parts[index] += 1
    return parts


def _find_blank_cost(ticket: PressTicket, prices: ShopPrices, missing: dict[str, MissingCost]) -> int | None:
    worn = ticket.worn
    found = prices.find_blank(worn.garment, worn.cloth)
    if found is not None:
        return int(found.cost * MILLIONTHS)
    # Named as the entry would be: kind, group, size; the colour where the order says one.
    garment = worn.garment
    name = " ".join(part for part in (garment.group, garment.size, worn.cloth.colour) if part)
    key = f"blank {garment.kind}"
    known = missing[key].names if key in missing else ()
    names = known if name in known else (*known, name)
    several = len(names) > 1
    told = f"blanks of {garment.kind} ({', '.join(names)}) have" if several else f"blank of {garment.kind} {name} has"
    entry = garment.kind if several else f"{garment.kind} {name}"
    missing[key] = MissingCost(f"the {told} no cost", f"blanks: {entry}", names)
    return None


def price_order(
    key: OrderKey,
    lines: Sequence[Sequence[GarmentCharge]],
    prices: ShopPrices,
    smallest: int,
    known: bool,
) -> OrderCharge:
    """An order's price: a price for each line's garments, their sum, and the tax on it.

    `lines` are garments that have one price; `smallest` is the minor unit in millionths; `known` says that no cost is
    missing. Tax is rounded once for the order, halves up.
    """
    count = sum(len(line) for line in lines)
    share_off = prices.find_share_off(count)
    step = smallest if prices.round_to is None else int(prices.round_to * MILLIONTHS)
    markup = prices.markup
    made = []
    for line in lines:
        if not known or markup is None:
            made.append(PriceLine(tuple(line), None))
            continue
        by_step = {least: compute_unit_price(line, markup, share, step) for least, share in prices.steps.items()}
        made.append(PriceLine(tuple(line), compute_unit_price(line, markup, share_off, step), by_step))
    amounts = [line.amount for line in made]
    net = None if None in amounts else sum(amount for amount in amounts if amount is not None)
    tax = None if net is None or prices.tax is None else round_half_up(net * Fraction(prices.tax), smallest)
    return OrderCharge(key, tuple(made), share_off, net, tax)


def compute_unit_price(line: Sequence[GarmentCharge], markup: Decimal, share_off: Decimal, step: int) -> int:
    """The price of one of a line's garments: mean cost, mark-up on, quantity off, rounded to `step` millionths."""
    mean = Fraction(sum(garment.cost for garment in line), len(line))
    return round_half_up(mean * (1 + Fraction(markup)) * (1 - Fraction(share_off)), step)


def round_half_up(exact: Fraction, step: int) -> int:
    """An amount of nothing or more as a whole multiple of `step`, halves up."""
    return math.floor(exact / step + Fraction(1, 2)) * step


def show_parts(parts: Sequence[int], smallest: int) -> tuple[list[int], int]:
    """Amounts for people who add them up: in whole minor units, as is their sum, and adding up to it."""
    total = round_half_up(Fraction(sum(parts)), smallest)
    units = _share_out(Fraction(total // smallest), list(parts))
    return [unit * smallest for unit in units], total


def make_line_key(garment: GarmentCharge, look: Hashable) -> Hashable:
    """What garments share that have one price: how they look, and what their blank costs."""
    return look, garment.costs.get("blank")


def count_garments(garments: Sequence[GarmentCharge]) -> dict[str, int]:
    """How many there are of each garment of a line, in the customer's words."""
    counts: dict[str, int] = {}
    for garment in garments:
        words = describe_ordered_garment(garment.ticket.worn.prints[0][0])
        counts[words] = counts.get(words, 0) + 1
    return counts


def describe_garments(garments: Sequence[GarmentCharge]) -> str:
    """The same as a text: 3 × hoodie adult M, hoodie adult L."""
    counts = count_garments(garments)
    return ", ".join(f"{count} × {words}" if count > 1 else words for words, count in counts.items())
