"""`impose quote`: what a batch takes, before anything is written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.choices import LEDGER, SOURCES, ledger_file, options_of, recurring
from impose.cli.door import door, report
from impose.cli.telling import Progress, counted, for_programs, money, print_json, table
from impose.errors import Exit, Finding, Trouble
from impose.units import show_at_most, show_length

if TYPE_CHECKING:
    from impose.run import Quote
    from impose.run.quote import Offer
    from impose.sheet.bill import Bill
    from impose.sheet.ways import Large

LARGE_SHOWN = 3
"""Large prints told on a terminal; JSON has all."""


@click.command()
@SOURCES
@click.option("--csv", "as_csv", is_flag=True, help="Print a table for spreadsheets, down to every transfer.")
@LEDGER
@recurring
@door
def quote(sources: tuple[Path, ...], as_csv: bool, ledger: Path | None, **chosen: Any) -> int:
    """Say what a batch takes of each paper and of the best mix.

    Sheets, yield, paper and ink, down to the order. Writes nothing.
    """
    from impose.run import quote as quote_batch
    from impose.run.stock import Shelf

    if as_csv and chosen["as_json"]:
        raise Trouble(Finding("--csv and --json are both given", "Choose one of them.", exit=Exit.USAGE))

    limits = Shelf(ledger_file(ledger)).left()
    with Progress(chosen["quiet"]) as progress:
        quoted = quote_batch(sources, options_of(**chosen, limits=limits), progress)
    report(quoted.left_out)
    if chosen["as_json"]:
        print_json(quoted.values())
    elif as_csv:
        from impose.pages.spreadsheet import csv_text
        from impose.run.quote import CSV_HEADING

        for_programs(csv_text(CSV_HEADING, quoted.rows()))
    else:
        _tell_quote(quoted)
    return int(quoted.exit)


def _tell_quote(quoted: Quote) -> None:
    rows = [("paper", "sheets", "yield", f"cost {quoted.currency}", "ink", "total", "one a sheet", "")]
    for offer in quoted.offers:
        name = " + ".join(paper.alias for paper in offer.papers)
        if offer.refused:
            rows.append((name, *"------", _why_not(offer)))
            continue
        used = [f"{count} {alias}" for alias, count in offer.sheets.items() if count]
        sheets_used = ", ".join(used) if len(offer.papers) > 1 else str(sum(offer.sheets.values()))
        marks = [mark for mark, on in (("best", offer is quoted.best), ("proven least", offer.proven)) if on]
        if offer.straight is not None:
            marks.append(f"straight cuts +{money(offer.straight)}")
        rows.append((name, sheets_used, f"{offer.yield_:.0%}", money(offer.cost), *_sums(offer), ", ".join(marks)))
    table(rows)
    click.echo(counted(quoted.transfers, "transfer"))
    for large in quoted.large[:LARGE_SHOWN]:
        _tell_large(large, quoted)
    if quoted.best is not None and quoted.best.bill is not None:
        _tell_orders(quoted.best.bill, quoted.currency)
    if quoted.best is None:
        report(quoted.offers[-1].refused)


def _tell_large(large: Large, quoted: Quote) -> None:
    """A large print: every way to print one of it, and what it costs on paper of its own."""
    size = f"{show_length(large.width_mm, quoted.units)} × {show_length(large.height_mm, quoted.units)}"
    place = f"{large.placement.replace('-', ' ')}, " if large.placement else ""
    click.echo(f"\nlarge print: {place}row {large.row}, {size}; one of it costs {quoted.currency}")
    rows = []
    for way in large.ways:
        how = f"{'turned' if way.turned else 'upright'}, {_MARGINS[way.level]}"
        if way.level != "full":
            how += f": {show_at_most(way.side_mm, quoted.units)}"
        if way.panels > 1:
            how = f"in {way.panels} panels, a seam shows (--oversize panels)"
        mark = "taken" if way.taken else "" if way.offered else "on file, offer it with -p"
        rows.append((f"  {way.paper.alias}", how, money(way.cost), mark))
    for paper, width, height in large.most:
        most = f"takes at most {show_at_most(width, quoted.units)} × {show_at_most(height, quoted.units)}"
        rows.append((f"  {paper.alias}", most if width > 0 else "takes nothing of it", "-", ""))
    table(rows)


_MARGINS = {"full": "full margin", "tight": "smaller margin", "thin": "thin margin left and right"}


def _why_not(offer: Offer) -> str:
    if any(finding.kind == "stock" for finding in offer.refused):
        return f"{offer.refused[0].what}"
    return f"cannot take {len(offer.refused)} of the rows"


def _sums(offer: Offer) -> tuple[str, str, str]:
    """Ink, paper and ink together, and what paper one print to a sheet would take."""
    if offer.bill is None or offer.bill.alone is None:
        return "-", "-", "-"
    cost = offer.bill.cost
    return money(cost.ink), money(cost.total), money(offer.bill.alone.paper)


def _tell_orders(bill: Bill, currency: str) -> None:
    """The best offer order by order; every column adds up to the batch's."""
    rows = [("order", "garments", "transfers", "paper", "by area", "ink ml", "ink", f"total {currency}")]
    from impose.sheet.money import show_column

    orders = list(bill.orders())
    names = [*(one.lines[0][0].piece.row.order or "-" for one in orders), "together"]
    paper, used, ink, total = (
        show_column([getattr(one.cost, column) for one in orders], getattr(bill.cost, column))
        for column in ("paper", "used", "ink", "total")
    )
    for part, name, *costs in zip([*orders, bill], names, paper, used, ink, total, strict=True):
        counts = (str(len(part.garments())), str(len(part.lines)))
        rows.append((name, *counts, costs[0], costs[1], f"{part.cost.ink_ul / 1000:g}", costs[2], costs[3]))
    click.echo("")
    table(rows)
