"""`price`: what to charge for a delivery, order by order, from its record and the shop's prices.

Paper, ink and handling are what the record says that the sheets cost; blanks, the press and power are reckoned by the
prices in force now. It keeps no books.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from fractions import Fraction
from pathlib import Path
from typing import Any

from impose.errors import Exit, Finding, Trouble
from impose.orders.batch import OrderKey
from impose.pages.proof.garment_looks import list_prints, make_look_key
from impose.profiles.currencies import find_minor_unit
from impose.profiles.prices import ShopPrices
from impose.profiles.profiles import Profiles
from impose.run.load_batch import load_profiles_in_force
from impose.run.made_work import MadeWork
from impose.run.options import Options
from impose.run.record_file import RecordFile, read_record, read_values
from impose.run.tickets_from_record import read_tickets
from impose.sheet.charges import (
    PARTS,
    GarmentCharge,
    MadeCosts,
    MissingCost,
    OrderCharge,
    SpoilageRates,
    charge_garments,
    make_line_key,
    price_order,
    share_seconds,
)
from impose.sheet.costs import format_amount, read_amount
from impose.sheet.money import to_millionths
from impose.sheet.piece import describe_ordered_garment
from impose.values import FrozenStruct

COUNTED_FROM = 50
"""Transfers made again from which on the shop's own count stands for its spoilage."""

NO_BOOKS = "This is no bookkeeping. Tax rules are local: ask who knows yours."

_REMEDIES = {
    "paper_cost": "Enter its cost in papers.toml, and make the sheets again.",
    "ink_cost": "Enter ink_cost and ink_ml_per_m2 of the printer in printers.toml, and make the sheets again.",
    "handling": "Make the sheets again: this record is of an earlier version, or of a paper without a cost.",
}


class PricedBatch(FrozenStruct):
    """What a record's orders cost and what is charged for them; amounts in whole millionths.

    `missing` are the costs that are unknown: while there is one, nothing has a price. `charged` is False of prints made
    again, which cost the customer nothing.
    """

    source: RecordFile
    currency: str
    prices: ShopPrices
    spoilage: SpoilageRates
    orders: tuple[OrderCharge, ...]
    missing: tuple[Finding, ...]
    charged: bool

    @property
    def round_to(self) -> int:
        """What a garment's price is rounded to."""
        return round_step(self.prices, self.currency)

    def sum_costs(self) -> dict[str, int]:
        """What the batch costs, by part, as far as it is known."""
        return add_parts([garment for order in self.orders for garment in order.garments])

    def list_values(self) -> dict[str, Any]:
        """Plain values: amounts as decimal texts, None where unknown."""
        return {
            "batch": self.source.printed.batch,
            "code": self.source.printed.code,
            "currency": self.currency,
            "charged": self.charged,
            "round_to": format_amount(self.round_to),
            "spoilage": {
                "prints": _format_share(self.spoilage.prints),
                "blanks": _format_share(self.spoilage.blanks),
                "told": self.spoilage.told,
            },
            "costs": _list_costs(self.sum_costs()),
            "missing": [{"what": finding.what, "remedy": str(finding.remedy)} for finding in self.missing],
            "orders": [_list_order(order) for order in self.orders],
            "note": NO_BOOKS,
        }


def price_record(path: Path, options: Options, ledger: Path) -> PricedBatch:
    """Reckon what to charge for the delivery at `path`, its folder or its record. Raises `Trouble`.

    A cost that is unknown does not raise: it is among `missing`.
    """
    source = read_record(path)
    profiles = load_profiles_in_force(options)
    return price_made(source, read_values(source), profiles, MadeWork(ledger).read_spoilage(COUNTED_FROM))


def price_made(
    source: RecordFile, values: Mapping[str, Any], profiles: Profiles, counted: SpoilageRates | None
) -> PricedBatch:
    """The same of a record that is read; `counted` is the spoilage of the shop's own count, where it is known."""
    currency = profiles.settings.currency
    _refuse_other_currency(source, values, currency)
    prices = profiles.prices
    smallest = find_minor_unit(currency)
    if round_step(prices, currency) % smallest:
        what = f"round_to is {prices.round_to}, which is no whole number of the smallest coin of {currency}"
        remedy = f"Write a multiple of {format_amount(smallest)} in prices.toml."
        raise Trouble(Finding(what, remedy, kind="profile", exit=Exit.USAGE))
    origin = values.get("reprint_of")
    spoilage = counted or _start_spoilage(prices)
    anew: set[str] | None = None
    if origin is not None:  # an allowance was made for it when the first were charged
        spoilage = SpoilageRates(Fraction(0), Fraction(0), "none is added to prints that are made again")
        anew = {name for garment in origin.get("garments", ()) for name in garment["transfers"]}
    tickets = read_tickets(source, profiles, "garment").tickets
    press = profiles.find_press(profiles.settings.press)
    seconds = share_seconds(tickets, press, profiles.settings.ticket_grouping)
    made = _read_made_costs(values, profiles)
    garments, missing = charge_garments(tickets, seconds, made, prices, spoilage, anew)
    if prices.markup is None:
        missing.append(MissingCost("the mark-up is not entered", "markup"))
    if prices.tax is None:
        missing.append(MissingCost("the rate of tax is not entered", "tax"))
    orders = _group_by_order(garments)
    known = not missing
    charged = origin is None
    priced = [price_order(key, _part_lines(of), prices, smallest, known and charged) for key, of in orders.items()]
    findings = tuple(_make_finding(entry) for entry in missing) if charged else ()
    return PricedBatch(source, currency, prices, spoilage, tuple(priced), findings, charged)


def round_step(prices: ShopPrices, currency: str) -> int:
    """What a garment's price is rounded to, in millionths: as the shop says, or the minor unit of the currency."""
    return find_minor_unit(currency) if prices.round_to is None else to_millionths(prices.round_to)


def add_parts(garments: Sequence[GarmentCharge]) -> dict[str, int]:
    """The costs of some garments by part, those that are known."""
    sums: dict[str, int] = {}
    for part in PARTS:
        if any(part in garment.costs for garment in garments):
            sums[part] = sum(garment.costs.get(part, 0) for garment in garments)
    return sums


def _start_spoilage(prices: ShopPrices) -> SpoilageRates:
    if prices.spoilage is None:
        return SpoilageRates(None, None, "not entered")
    share = Fraction(prices.spoilage)
    return SpoilageRates(share, share, f"{float(prices.spoilage) * 100:.6g} %, the figure to start from")


def _refuse_other_currency(source: RecordFile, values: Mapping[str, Any], currency: str) -> None:
    then = values.get("currency")
    if then is not None and then != currency:
        what = f"the sheets were reckoned in {then}, and your prices are in {currency}"
        remedy = "Costs in two currencies are not added up: make the sheets again, or set the currency back."
        raise Trouble(Finding(what, remedy, kind="profile", file=str(source.path), exit=Exit.USAGE))


def _read_made_costs(values: Mapping[str, Any], profiles: Profiles) -> MadeCosts:
    """What the record says; what it says of a paper or an ink without a price is unknown and not 0."""
    sheets = values["sheets"]
    paper = _read_transfer_costs(sheets, "cost")
    # A sheet that is printed again was paid for the first time.
    if any(read_amount(sheet.get("cost", "0")) == 0 and "onto" not in sheet for sheet in sheets):
        paper = None
    ink = _read_transfer_costs(sheets, "ink_cost")
    if ink is not None and not any(ink.values()) and not _is_ink_priced(values, profiles):
        ink = None
    handling = values.get("handling")
    cost = None if handling is None or paper is None else read_amount(handling["cost"])
    return MadeCosts(paper, ink, cost)


def _is_ink_priced(values: Mapping[str, Any], profiles: Profiles) -> bool:
    """Whether somebody has entered what the ink of the record's printer costs, be it nothing."""
    printer = values["options"].get("printer")
    name = printer.get("name") if isinstance(printer, dict) else None
    return all(f"printers.{name}.{key}" in profiles.origins for key in ("ink_cost", "ink_ml_per_m2"))


def _read_transfer_costs(sheets: Sequence[Mapping[str, Any]], key: str) -> dict[str, int] | None:
    """By transfer; None where an earlier version did not write it."""
    found = {}
    for sheet in sheets:
        for transfer in sheet["transfers"]:
            if key not in transfer:
                return None
            found[transfer["id"]] = read_amount(transfer[key])
    return found


def _group_by_order(garments: Sequence[GarmentCharge]) -> dict[OrderKey, list[GarmentCharge]]:
    """Garments by their order, orders as in the batch."""
    found: dict[OrderKey, list[GarmentCharge]] = {}
    for garment in sorted(garments, key=lambda of: min(row.row for row, _ in of.ticket.worn.prints)):
        found.setdefault(garment.ticket.worn.prints[0][0].order_key, []).append(garment)
    return found


def _part_lines(garments: Sequence[GarmentCharge]) -> list[list[GarmentCharge]]:
    """The garments of an order that have one price: alike in look and blank."""
    lines: dict[object, list[GarmentCharge]] = {}
    for garment in garments:
        look = make_look_key(list_prints(garment.ticket))
        lines.setdefault(make_line_key(garment, look), []).append(garment)
    return list(lines.values())


def _make_finding(entry: MissingCost) -> Finding:
    key, blank, name = entry.key.partition(": ")
    remedy = _REMEDIES.get(key)
    if remedy is None and blank:
        quoted = json.dumps(name, ensure_ascii=False)
        remedy = f"Enter it under [blanks] in prices.toml: {quoted} = what you pay for it."
        if len(entry.names) > 1:
            remedy += " A group, a size and a colour may follow where they cost something else."
    remedy = remedy or f"Enter {key} in prices.toml; 0 where there is none."
    return Finding(entry.what, remedy, kind="missing-cost", exit=Exit.USAGE)


def _format_share(share: Fraction | None) -> str | None:
    return None if share is None else f"{float(share):.6g}"


def _list_costs(costs: Mapping[str, int]) -> dict[str, str]:
    return {**{part: format_amount(amount) for part, amount in costs.items()},
            "total": format_amount(sum(costs.values()))}  # fmt: skip


def _format_known(amount: int | None) -> str | None:
    return None if amount is None else format_amount(amount)


def _list_order(order: OrderCharge) -> dict[str, Any]:
    garments = order.garments
    return {
        "order": order.key[0],
        "row": order.first_row,
        "garments": len(garments),
        "share_off": f"{order.share_off:f}",
        "net": _format_known(order.net),
        "tax": _format_known(order.tax),
        "total": _format_known(order.total),
        "seconds": sum(garment.seconds for garment in garments),
        "costs": _list_costs(add_parts(garments)),
        "lines": [
            {
                "unit": _format_known(line.unit),
                "count": len(line.garments),
                "amount": _format_known(line.amount),
                "steps": {str(count): format_amount(price) for count, price in line.by_step.items()},
                "garments": [
                    {
                        "garment": describe_ordered_garment(garment.ticket.worn.prints[0][0]),
                        "wearer": garment.ticket.worn.wearer,
                        "transfers": garment.ids,
                        "seconds": garment.seconds,
                        "costs": _list_costs(garment.costs),
                    }
                    for garment in line.garments
                ],
            }
            for line in order.lines
        ],
    }
