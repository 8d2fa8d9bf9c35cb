"""`impose sheets`: the main job."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose import values
from impose.cli.common_options import (
    LEDGER,
    PART_SHEETS,
    PATH,
    REPLACE_FOLDER,
    SOURCES,
    add_recurring_options,
    find_ledger_file,
    make_options,
)
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.onto_options import add_onto_options, read_onto_request
from impose.cli.output import Progress, describe_visits, format_money, make_terminal_safe, print_json
from impose.errors import Severity, count_noun
from impose.folder_exchange import RECORD_NAME
from impose.orders.findings_log import format_spans
from impose.units import format_length

if TYPE_CHECKING:
    from impose.run import Plan


@click.command(cls=GroupedCommand)
@SOURCES
@option(
    "-o",
    "--out",
    type=PATH,
    metavar="DIR",
    group="Output",
    help="Output folder (default: beside the source).",
)
@REPLACE_FOLDER
@PART_SHEETS
@option("--preview", is_flag=True, group="Output", help="Also write a PNG of every sheet.")
@option("--first", is_flag=True, group="What is made", help="Put one garment of each run on sheets of its own.")
@option("--printed", is_flag=True, group="Output", help="With --replace: the old sheets were printed.")
@add_recurring_options
@LEDGER
@add_onto_options
@run_command_body
def sheets(
    sources: tuple[Path, ...],
    out: Path | None,
    replace: bool,
    part_sheets: int | None,
    preview: bool,
    first: bool,
    printed: bool,
    ledger: Path | None,
    onto: Path | None,
    onto_sheets: tuple[int, ...],
    onto_clear: str | None,
    **chosen: Any,
) -> int:
    """Make print-ready sheets from a batch CSV or artwork.

    SOURCE is a batch CSV, artwork (PNG, JPEG, SVG, PDF and more; poster.pdf#2 is a page), or a folder of it. The output
    folder holds one PDF per paper, press tickets, proof and record.
    """
    from impose import files
    from impose.run import plan, produce
    from impose.run.made_work import enter_delivery
    from impose.run.paper_stock import PaperStock, list_replaced
    from impose.run.produce import PREVIEW_PPI

    out = out or files.find_free_name(_default_folder(sources[0]))
    files.refuse_taken(out, replace)
    if onto is not None:
        from impose.run.record_file import refuse_own_record

        refuse_own_record(out, onto)
    shelf = PaperStock(find_ledger_file(ledger))
    returning = list_replaced(out) if replace and not printed else []
    wish = read_onto_request(onto, onto_sheets, onto_clear, chosen["units"])
    options = values.replace(
        make_options(**chosen), onto=wish, part_sheets=part_sheets, first=first, limits=shelf.read_left(returning)
    )
    with Progress(chosen["quiet"]) as progress:
        planned = plan(sources, options, progress)
        deliver, memory = enter_delivery(planned, out, shelf, returning)
        produce(planned, out, replace, progress, deliver, PREVIEW_PPI if preview else None)
    print_result(planned, out, **chosen)
    print_findings(memory.troubles)
    return int(planned.exit)


def _default_folder(source: Path) -> Path:
    """Where the output goes when nothing is said: beside the source, under its name."""
    return source.resolve().parent / f"{source.resolve().stem}-sheets"


def print_result(planned: Plan, out: Path, *, as_json: bool, quiet: bool, verbose: bool, **_: Any) -> None:
    """What was made: findings on stderr, then the result on stdout."""
    from impose.sheet.finding_causes import gather_causes

    notes = [finding for finding in planned.findings if finding.severity is Severity.NOTE]
    print_findings(gather_causes([f for f in planned.findings if verbose or f.severity is not Severity.NOTE]))
    if notes and not verbose and not quiet:
        click.echo(f"notes: {len(notes)} (-v shows them, and they are in the record)", err=True)
    if as_json:
        # As it was written: it names the files beside it, which a plan cannot know.
        print_json(json.loads((out / RECORD_NAME).read_text("utf-8")))
    elif quiet:
        click.echo(make_terminal_safe(str(out)))
    else:
        for line in _make_summary(planned, out):
            click.echo(make_terminal_safe(line))


def _make_summary(planned: Plan, out: Path) -> list[str]:
    from impose.run.delivery_documents import PROOF_NAME

    record = planned.record
    lines = [
        f"sheet {sheet['sheet']:>3}  {sheet['file']} page {sheet['page']}  "
        f"{count_noun(len(sheet['transfers']), 'transfer')}  yield {sheet['yield']:.0%}"
        for sheet in record["sheets"]
    ]
    fewest = record["fewest"]
    total = len(record["sheets"])
    if fewest["proven"]:
        mix = "no cheaper mix possible" + (", handling included" if _has_handling(record) else "")
        best = "no fewer sheets possible" if fewest["sheets"] is not None else mix
    elif fewest["sheets"] is not None:
        best = f"at least {fewest['sheets']} needed"
    elif Decimal(fewest["cost"]) >= Decimal(record["cost"]):
        best = "no cheaper paper possible"
    else:
        best = f"at least {_show_amount(fewest['cost'])} {record['currency']} needed"
    lines.append(
        f"{count_noun(planned.transfer_count, 'transfer')} on {count_noun(total, 'sheet')}, "
        f"{_show_amount(record['cost'])} {record['currency']} of paper ({best})"
    )
    lines += _describe_handling(record)
    lines += [f.what for f in planned.findings if f.kind in ("straight-cuts", "first-off")]
    lines += _describe_swatches(record)
    lines += _describe_offcut(record["offcut"], out, planned.profiles.settings.units)
    lines += [f"{sheet['file']}: {sheet['onto']['feed']}" for sheet in record["sheets"] if "onto" in sheet]
    lines.append(f"batch {record['code']}: {out}")
    lines.append(f"Look at {out / PROOF_NAME} before you print; approval/ has a page for each customer.")
    lines.append(
        "Print at actual size on the coated side, driver mirroring off. Labels read normally; artwork is mirrored."
    )
    return lines


def _show_amount(text: str) -> str:
    """An amount of the record, which is exact, in cents."""
    from impose.sheet.money import to_millionths

    return format_money(to_millionths(Decimal(text)))


def _has_handling(record: dict[str, Any]) -> bool:
    return record["handling"] is not None and bool(Decimal(record["handling"]["cost"]))


def _describe_handling(record: dict[str, Any]) -> list[str]:
    """What the sheets cost to handle, what cheaper paper would have cost, and how garments are spread over sheets."""
    handling = record["handling"]
    if handling is None:
        return []
    lines = []
    if _has_handling(record):
        lines.append(f"handling: {_show_amount(handling['cost'])} {record['currency']}")
    if handling["least_paper"] is not None:
        other = handling["least_paper"]
        papers = count_noun(len(other["sheets"]), "paper")
        lines.append(
            f"cheapest paper alone: {count_noun(sum(other['sheets'].values()), 'sheet')} of {papers}, "
            f"{_show_amount(other['cost'])} {record['currency']} and {_show_amount(other['handling'])} of handling"
        )
    if handling["garments"]:
        lines.append(describe_visits(handling["garments"], handling["visits"]))
    return lines


def _describe_swatches(record: dict[str, Any]) -> list[str]:
    if not record.get("swatches"):
        return []
    sheets = sorted({swatch["sheet"] for swatch in record["swatches"]})
    where = f"sheet{'' if len(sheets) == 1 else 's'} {format_spans(sheets)}"
    count = len(record["swatches"])
    return [f"{count} swatch{'' if count == 1 else 'es'} in waste of {where}: press on scrap first"]


def _describe_offcut(kept: dict[str, Any] | None, out: Path, units: Literal["mm", "in"]) -> list[str]:
    if kept is None:
        return []
    width, height = (format_length(kept["place_mm"][side], units) for side in "wh")
    return [
        f"largest clean piece left: {width} × {height} on sheet {kept['sheet']}; later work can use it: --onto {out}"
    ]
