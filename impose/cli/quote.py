"""`impose quote`: what a batch takes, before anything is written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import LEDGER, SOURCES, add_recurring_options, find_ledger_file, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import (
    Progress,
    describe_visits,
    format_money,
    print_json,
    print_table,
    write_for_programs,
)
from impose.errors import Exit, Finding, Trouble, count_noun
from impose.orders.findings_log import list_few
from impose.units import format_length, format_minutes, show_at_most

if TYPE_CHECKING:
    from impose.orders.kit_expansions import KitExpansion
    from impose.run import Quote
    from impose.run.press_forecast import PressForecast
    from impose.run.quote import PaperOffer
    from impose.run.size_advice import SizeAdvice
    from impose.sheet.costs import BatchCost
    from impose.sheet.large_print_options import LargePrint

LARGE_SHOWN, KIT_SHOWN, BLANKS_SHOWN = 3, 60, 30
"""Large prints, lines of a kit's roster, and kinds of garments told on a terminal; JSON has all."""


@click.command(cls=GroupedCommand)
@SOURCES
@option("--csv", "as_csv", is_flag=True, group="Program", help="Print a table for spreadsheets, to the transfer.")
@option("--blanks", is_flag=True, group="Program", help="Print the garments to buy as a table for spreadsheets.")
@add_recurring_options
@LEDGER
@run_command_body
def quote(sources: tuple[Path, ...], as_csv: bool, blanks: bool, ledger: Path | None, **chosen: Any) -> int:
    """Compare papers: sheets, paper and ink for a batch.

    You see each paper alone, the cheapest mix, and each order. Nothing is written.
    """
    from impose.run import quote as quote_batch
    from impose.run.paper_stock import PaperStock

    asked = [name for name, on in (("--csv", as_csv), ("--blanks", blanks), ("--json", chosen["as_json"])) if on]
    if len(asked) > 1:
        raise Trouble(Finding(f"{' and '.join(asked)} are both given", "Choose one of them.", exit=Exit.USAGE))

    limits = PaperStock(find_ledger_file(ledger)).read_left()
    with Progress(chosen["quiet"]) as progress:
        quoted = quote_batch(sources, make_options(**chosen, limits=limits), progress)
    print_findings(quoted.left_out)
    if chosen["as_json"]:
        print_json(quoted.json_values())
    elif as_csv:
        from impose.pages.csv_list import make_csv
        from impose.run.quote import CSV_HEADING

        write_for_programs(make_csv(CSV_HEADING, quoted.csv_rows()))
    elif blanks:
        from impose.pages.blanks_list import make_blanks_text

        write_for_programs(make_blanks_text(quoted.pressing.blanks if quoted.pressing else ()))
    else:
        _print_quote(quoted)
    return int(quoted.exit)


def _print_quote(quoted: Quote) -> None:
    rows = [("paper", "sheets", "yield", f"cost {quoted.currency}", "ink", "total", "handling", "one a sheet", "")]
    for offer in quoted.offers:
        name = " + ".join(paper.alias for paper in offer.papers)
        if offer.refused:
            rows.append((name, *"-------", _explain_refusal(offer)))
            continue
        used = [f"{count} {alias}" for alias, count in offer.sheets.items() if count]
        sheets_used = ", ".join(used) if len(offer.papers) > 1 else str(sum(offer.sheets.values()))
        marks = [mark for mark, on in (("best", offer is quoted.best_offer), ("proven least", offer.proven)) if on]
        if offer.straight is not None:
            marks.append(f"straight cuts +{format_money(offer.straight)}")
        rows.append(
            (name, sheets_used, f"{offer.yield_:.0%}", format_money(offer.cost), *_format_sums(offer), ", ".join(marks))
        )
    print_table(rows)
    click.echo(count_noun(quoted.transfers, "transfer"))
    _print_handling(quoted)
    if quoted.swatches is not None:
        count = quoted.swatches
        click.echo(f"swatches in waste: {count.placed} of {count_noun(count.pictures, 'picture')}")
    for advice in quoted.advice:
        click.echo(_describe_advice(advice, quoted))
    for large in quoted.large[:LARGE_SHOWN]:
        _print_large_prints(large, quoted)
    for kit in quoted.kits:
        _print_kit(kit)
    _print_best(quoted)


def _print_best(quoted: Quote) -> None:
    """The best offer order by order, and what it comes to at the press; or why there is none."""
    if quoted.best_offer is None:
        print_findings(quoted.offers[-1].refused)
    elif quoted.best_offer.bill is not None:
        _print_orders(quoted.best_offer.bill, quoted.currency)
    if quoted.pressing is not None:
        _print_pressing(quoted.pressing)


def _print_handling(quoted: Quote) -> None:
    """What decided between papers: the cheapest paper alone beside the best with its handling; and visits."""
    best, least = quoted.best_offer, quoted.least_paper
    if best is None or best.handling is None:
        return
    if least is not None:
        ways = (("cheapest paper alone", least), ("best with handling", best.handling.made))
        for name, tally in ways:
            sheets = ", ".join(f"{count} {quoted.aliases.get(sheet, sheet)}" for sheet, count in tally.sheets.items())
            click.echo(
                f"{name}: {sheets}; paper {format_money(tally.paper)}, handling {format_money(tally.handling)}, "
                f"together {format_money(tally.total)} {quoted.currency}"
            )
    if best.handling.garments:
        click.echo(describe_visits(best.handling.garments, best.handling.visits))


def _describe_advice(advice: SizeAdvice, quoted: Quote) -> str:
    """What a little less width of a placement's prints would save."""
    what = advice.placement.replace("-", " ")
    if not what:
        what = (
            f"kit {advice.kit}"
            if advice.kit
            else f"row{'s' if len(advice.rows) > 1 else ''} {list_few([str(row) for row in advice.rows])}"
        )
    widest, narrowest = (format_length(width, quoted.units) for width in reversed(advice.widths_mm))
    now = widest if widest == narrowest else f"{narrowest} to {widest}"
    sheets = ", ".join(f"{count} {quoted.aliases.get(name, name)}" for name, count in advice.then.sheets.items())
    saved = f"saves {format_money(advice.saved)} {quoted.currency}"
    if advice.saved_sheets:
        noun = count_noun(abs(advice.saved_sheets), "sheet")
        saved += f" and {noun}" if advice.saved_sheets > 0 else f" on {noun} more"
    return f"{what}: {format_length(advice.less_mm, quoted.units)} narrower (now {now}) {saved}: {sheets}"


def _print_kit(kit: KitExpansion) -> None:
    """What a kit made of its roster, a line for each garment."""
    click.echo(f"\nkit {kit.kit}: {count_noun(len(kit.lines), 'row')} of the roster")
    cells = kit.list_cells()
    print_table([tuple(head.lower() for head in kit.heads), *cells[:KIT_SHOWN]])
    if len(cells) > KIT_SHOWN:
        click.echo(f"and {len(cells) - KIT_SHOWN} more; the proof shows all")


def _print_large_prints(large: LargePrint, quoted: Quote) -> None:
    """A large print: every way to print one of it, and what it costs on paper of its own."""
    size = f"{format_length(large.width_mm, quoted.units)} × {format_length(large.height_mm, quoted.units)}"
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
        rows.append((f"  {way.paper.alias}", how, format_money(way.cost), mark))
    rows += [(f"  {size.paper.alias}", size.told.removeprefix(f"{size.paper.alias} "), "-", "") for size in large.most]
    print_table(rows)


_MARGINS = {"full": "full margin", "tight": "smaller margin", "thin": "thin margin left and right"}


def _explain_refusal(offer: PaperOffer) -> str:
    if any(finding.kind == "stock" for finding in offer.refused):
        return f"{offer.refused[0].what}"
    return f"cannot take {len(offer.refused)} of the rows"


def _format_sums(offer: PaperOffer) -> tuple[str, str, str, str]:
    """Ink, paper and ink together, handling beside them, and what paper one print to a sheet would take."""
    handling = "-" if offer.handling is None else format_money(offer.handling.made.handling)
    if offer.bill is None or offer.bill.alone is None:
        return "-", "-", handling, "-"
    cost = offer.bill.total_cost
    return format_money(cost.ink), format_money(cost.total), handling, format_money(offer.bill.alone.paper)


def _print_orders(bill: BatchCost, currency: str) -> None:
    """The best offer order by order; every column adds up to the batch's."""
    rows = [("order", "garments", "transfers", "paper", "by area", "ink ml", "ink", f"total {currency}")]
    from impose.sheet.money import show_column

    orders = list(bill.split_by_order())
    names = [*(order.lines[0][0].piece.row.order or "-" for order in orders), "together"]
    paper, used, ink, total = (
        show_column([getattr(order.total_cost, column) for order in orders], getattr(bill.total_cost, column))
        for column in ("paper", "used", "ink", "total")
    )
    # Hundredths of a millilitre, as money is in hundredths: nobody measures ink finer.
    volumes = show_column([order.total_cost.ink_ul * 1000 for order in orders], bill.total_cost.ink_ul * 1000)
    for part, name, *costs in zip([*orders, bill], names, paper, used, volumes, ink, total, strict=True):
        rows.append((name, str(len(part.split_by_garment())), str(len(part.lines)), *costs))
    click.echo("")
    print_table(rows)


def _print_pressing(pressing: PressForecast) -> None:
    """How long pressing takes, in the shop's order and in the other, and the garments to buy."""
    evening = pressing.evening
    orders = {"garment": "garment by garment", "platen": "set-up by set-up"}
    other = next(words for name, words in orders.items() if name != evening.by)
    click.echo(
        f"\npressing: {count_noun(evening.garments, 'garment')}, {count_noun(evening.prints, 'print')}, "
        f"about {format_minutes(evening.times.minutes)} {orders[evening.by]} "
        f"({format_minutes(evening.other.minutes)} {other})"
    )
    lines = pressing.blanks[:BLANKS_SHOWN]
    rows = [("buy", "garment", "cut", "size", "colour", "cloth", "needed", "spare")]
    rows += [
        (str(line.total), line.kind, line.group, line.size or "not said", line.colour, line.cloth, str(line.needed),
         str(line.spares))
        for line in lines
    ]  # fmt: skip
    click.echo("")
    print_table(rows)
    if len(pressing.blanks) > len(lines):
        click.echo(f"and {len(pressing.blanks) - len(lines)} more kinds of garment; --blanks prints all")
