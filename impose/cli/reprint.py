"""`impose reprint`: spoiled, lost or never printed transfers made again."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Literal

import click

from impose import values
from impose.cli.common_options import (
    LEDGER,
    PATH,
    REPLACE_FOLDER,
    WholeNumber,
    find_ledger_file,
    keep_options,
    make_options,
)
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.onto_options import add_onto_options, read_onto_request
from impose.cli.output import Progress, make_terminal_safe
from impose.cli.sheets import print_result


@click.command(cls=GroupedCommand)
@click.argument("record", type=PATH, metavar="RECORD")
@option(
    "--only", "ids", multiple=True, metavar="ID,ID", group="What is made", help="Transfers, by the id on the label."
)
@option("--order", "orders", multiple=True, metavar="NAME", group="What is made", help="All transfers of an order.")
@option(
    "--sheet",
    "numbers",
    multiple=True,
    type=WholeNumber(1),
    metavar="N",
    group="What is made",
    help="All transfers of a sheet.",
)
@option(
    "--garment",
    "garments",
    multiple=True,
    metavar="WHO",
    group="What is made",
    help="A whole spoiled garment: an id on it, or its wearer.",
)
@option("--list", "listed", type=PATH, metavar="FILE", group="What is made", help="What is ticked in this reprint.csv.")
@option(
    "--because",
    type=click.Choice(["spoiled", "lost", "unprinted"]),
    default="spoiled",
    metavar="WHY",
    group="What is made",
    help="spoiled (default), lost or unprinted.",
)
@option("--take-new-art", is_flag=True, group="What is made", help="Print changed artwork as it is now.")
@option(
    "-o",
    "--out",
    type=PATH,
    metavar="DIR",
    group="Output",
    help="Output folder (default: beside the record's).",
)
@REPLACE_FOLDER
@keep_options(
    "papers",
    "printer",
    "art_root",
    "straight_cuts",
    "sheet_handling",
    "paper_change",
    "steps",
    "seconds",
    "profiles_dir",
    "output_profile",
    "intent",
    "no_black_point",
    "swatches",
    "units",
    "workers",
    "no_cache",
    "as_json",
    "quiet",
    "verbose",
)
@LEDGER
@add_onto_options
@run_command_body
def reprint(
    record: Path,
    ids: tuple[str, ...],
    orders: tuple[str, ...],
    numbers: tuple[int, ...],
    garments: tuple[str, ...],
    listed: Path | None,
    because: Literal["spoiled", "lost", "unprinted"],
    take_new_art: bool,
    out: Path | None,
    replace: bool,
    ledger: Path | None,
    onto: Path | None,
    onto_sheets: tuple[int, ...],
    onto_clear: str | None,
    **chosen: Any,
) -> int:
    """Make transfers of a RECORD again, as they were.

    RECORD is an output folder, or the batch.json in it. Say what to make again with --only, --order, --sheet,
    --garment or --list; you may combine them. Artwork, sizes and margins stay; the transfers are nested anew on the
    fewest sheets. The customer pays nothing for prints made again. --garment makes all prints of a garment again,
    for a new blank.
    """
    from impose import files
    from impose.run import produce
    from impose.run.made_work import enter_delivery
    from impose.run.paper_stock import PaperStock, list_replaced
    from impose.run.record_file import read_record, refuse_own_record
    from impose.run.reprint import list_returning, plan_reprint
    from impose.run.selection import ReprintRequest, select_transfers

    source = read_record(record)
    out = out or files.find_free_name(_default_folder(source.path))
    files.refuse_taken(out, replace)
    refuse_own_record(out, record)
    if onto is not None:
        refuse_own_record(out, onto)
    named = tuple(part for text in ids for part in text.split(",") if part.strip())
    wish = ReprintRequest(named, orders, numbers, listed, because, take_new_art, garments)
    shelf = PaperStock(find_ledger_file(ledger))
    coming = list_returning(source, select_transfers(source.printed, wish))[0] + (list_replaced(out) if replace else [])
    again = read_onto_request(onto, onto_sheets, onto_clear, chosen["units"])
    options = values.replace(make_options(**chosen), onto=again, limits=shelf.read_left(coming))
    with Progress(chosen["quiet"]) as progress:
        made = plan_reprint(source, wish, options, progress)
        deliver, memory = enter_delivery(made.plan, out, shelf, coming, source)
        produce(made.plan, out, replace, progress, deliver)
    print_result(made.plan, out, **chosen)
    print_findings(memory.troubles)
    if not chosen["as_json"] and not chosen["quiet"]:
        for line in _list_blanks(made.plan.record["reprint_of"]):
            click.echo(make_terminal_safe(line))
    return int(made.plan.exit)


def _list_blanks(origin: dict[str, Any]) -> list[str]:
    """What is needed beside paper: a new blank for each garment that is begun anew."""
    return [
        f"new blank, at no charge: {garment['garment']}"
        + (f", {garment['cloth']}" if garment["cloth"] else "")
        + (f", for {garment['wearer']}" if garment["wearer"] else "")
        for garment in origin.get("garments", ())
    ]


def _default_folder(record: Path) -> Path:
    """Beside the output folder it comes from."""
    folder = record.resolve().parent
    return folder.with_name(f"{folder.name}-reprint")
