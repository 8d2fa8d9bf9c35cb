"""`impose price`: what to charge for a delivery, order by order, and an offer for each order."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import PATH, find_ledger_file, keep_options, make_ledger_option, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import Progress, make_terminal_safe, print_json
from impose.errors import Exit, count_noun

if TYPE_CHECKING:
    from impose.run.price import PricedBatch
    from impose.sheet.charges import OrderCharge


@click.command(cls=GroupedCommand)
@click.argument("folder", type=PATH, metavar="FOLDER")
@option("--no-offers", is_flag=True, group="Output", help="Only show the prices: write no offers.")
@option("--replace", is_flag=True, group="Output", help="Replace offers that have changed.")
@make_ledger_option("What was made again, for the allowance for spoilage.")
@keep_options("art_root", "profiles_dir", "no_cache", "as_json", "quiet", "verbose")
@run_command_body
def price(
    folder: Path, no_offers: bool, replace: bool, ledger: Path | None, as_json: bool, quiet: bool, verbose: bool,
    **chosen: Any,
) -> int:  # fmt: skip
    """Say what to charge for a FOLDER of sheets, by order.

    FOLDER is an output folder, or the batch.json in it. Blanks, work, mark-up and tax are those of your
    prices.toml. If a cost is missing, you are told which, and there is no price. An offer for each order (HTML and
    PDF) is written into FOLDER/offers: it shows prices, never costs.
    """
    from impose.run.offers import write_offers
    from impose.run.price import price_record

    options = make_options(**chosen)
    priced = price_record(folder, options, find_ledger_file(ledger))
    if as_json:
        print_json(priced.list_values())
    elif not quiet:
        for line in _list_lines(priced):
            click.echo(make_terminal_safe(line).rstrip())
    print_findings(priced.missing)
    if priced.missing:
        return int(Exit.USAGE)
    if priced.charged and not no_offers:
        with Progress(quiet) as progress:
            written = write_offers(priced, options, replace, progress)
        for path in () if quiet else written:
            click.echo(make_terminal_safe(str(path)), err=as_json)
    return int(Exit.DONE)


def _list_lines(priced: PricedBatch) -> Iterator[str]:
    from impose.profiles.currencies import format_minor

    if not priced.charged:
        yield "Nothing is charged: these prints are made again. What they cost you:"
    for order in priced.orders:
        yield from _list_order(priced, order)
    costs = priced.sum_costs()
    yield f"{count_noun(len(priced.orders), 'order')}: {_describe_costs(priced, costs)}"
    if priced.missing:
        yield f"no price: {count_noun(len(priced.missing), 'cost')} not entered"
        return
    if priced.charged:
        total = sum(order.total or 0 for order in priced.orders)
        yield f"to charge in all: {format_minor(total, priced.currency)} {priced.currency}"
        step = format_minor(priced.round_to, priced.currency)
        yield f"The price of a garment is rounded to {step}, the tax of an order to the smallest coin, halves up."
    yield f"Spoilage: {priced.spoilage.told}."
    from impose.run.price import NO_BOOKS

    yield NO_BOOKS


def _list_order(priced: PricedBatch, order: OrderCharge) -> Iterator[str]:
    from impose.profiles.currencies import format_minor
    from impose.run.price import add_parts
    from impose.sheet.charges import describe_garments

    code = priced.currency
    row = min(row.row for row, _ in order.garments[0].ticket.worn.prints)
    yield f"{order.key[0] or f'row {row}'}: {count_noun(len(order.garments), 'garment')}"
    for line in order.lines:
        words = f"  {describe_garments(line.garments)}"
        if line.unit is None or line.amount is None:
            yield words
            continue
        count = len(line.garments)
        each = f"{format_minor(line.unit, code)} each, " if count > 1 else ""
        yield f"{words}: {each}{format_minor(line.amount, code)}"
    if order.net is not None and order.tax is not None and order.total is not None:
        off = f" ({float(order.share_off) * 100:.6g} % off for the quantity)" if order.share_off else ""
        rate = f"{float(priced.prices.tax or 0) * 100:.6g} %"
        yield (
            f"  price {format_minor(order.net, code)}{off}, tax {rate} {format_minor(order.tax, code)}, "
            f"to charge {format_minor(order.total, code)} {code}"
        )
    minutes = -(-sum(garment.seconds for garment in order.garments) // 60)
    yield f"  {_describe_costs(priced, add_parts(order.garments))}; {minutes} min at the press"
    yield ""


def _describe_costs(priced: PricedBatch, costs: dict[str, int]) -> str:
    """The costs by part, in amounts that add up as they are shown; said to be in part where some are unknown."""
    from impose.profiles.currencies import find_minor_unit, format_minor
    from impose.sheet.charges import show_parts

    shown, total = show_parts(list(costs.values()), find_minor_unit(priced.currency))
    parts = ", ".join(
        f"{name} {format_minor(amount, priced.currency)}" for name, amount in zip(costs, shown, strict=True)
    )
    known = "known costs" if priced.missing else "costs"
    return f"{known} {format_minor(total, priced.currency)} ({parts})"
