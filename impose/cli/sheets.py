"""`impose sheets`: the main job."""

from __future__ import annotations

import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.choices import LEDGER, PATH, SOURCES, ledger_file, options_of, recurring
from impose.cli.door import door, report
from impose.cli.onto import onto_options, onto_wish
from impose.cli.telling import Progress, counted, plain, print_json
from impose.errors import Severity
from impose.units import show_length

if TYPE_CHECKING:
    from impose.run import Plan


@click.command()
@SOURCES
@click.option(
    "-o",
    "--out",
    type=PATH,
    metavar="DIR",
    help="Output folder (default: the next free name beside the source).",
)
@click.option("--replace", is_flag=True, help="Exchange an output folder of ours that exists.")
@click.option(
    "--part-sheets",
    type=click.IntRange(min=1),
    metavar="N",
    help="Write PDFs, tickets and proof in parts of N sheets: for thousands of transfers.",
)
@click.option("--preview", is_flag=True, help="Also a PNG picture of every sheet, at 100 pixels an inch.")
@click.option(
    "--printed", is_flag=True, help="With --replace: the old sheets were printed, so their paper does not come back."
)
@LEDGER
@onto_options
@recurring
@door
def sheets(
    sources: tuple[Path, ...],
    out: Path | None,
    replace: bool,
    part_sheets: int | None,
    preview: bool,
    printed: bool,
    ledger: Path | None,
    onto: Path | None,
    onto_sheets: tuple[int, ...],
    onto_clear: str | None,
    **chosen: Any,
) -> int:
    """Make print-ready sheets from a batch CSV or PNG files.

    SOURCE is a batch CSV, PNG files, or a folder of them. The output folder holds one PDF per paper, press tickets,
    proof and record.
    """
    from impose import files
    from impose.run import plan, produce
    from impose.run.produce import PREVIEW_PPI
    from impose.run.source import refuse_own_record
    from impose.run.stock import Shelf, replaced, takes_of

    out = out or files.free_name(_beside(sources[0]))
    files.refuse_taken(out, replace)
    if onto is not None:
        refuse_own_record(out, onto)
    shelf = Shelf(ledger_file(ledger))
    returning = replaced(out) if replace and not printed else []
    wish = onto_wish(onto, onto_sheets, onto_clear, chosen["units"])
    options = dataclasses.replace(
        options_of(**chosen), onto=wish, part_sheets=part_sheets, limits=shelf.left(returning)
    )
    with Progress(chosen["quiet"]) as progress:
        planned = plan(sources, options, progress)
        deliver = shelf.deliver(takes_of(planned.layout), out, planned.layout.code, returning)
        produce(planned, out, replace, progress, deliver, PREVIEW_PPI if preview else None)
    tell(planned, out, **chosen)
    return int(planned.exit)


def _beside(source: Path) -> Path:
    """Where the output goes when nothing is said: beside the source, under its name."""
    return source.resolve().parent / f"{source.resolve().stem}-sheets"


def tell(planned: Plan, out: Path, *, as_json: bool, quiet: bool, verbose: bool, **_: Any) -> None:
    """What was made: findings on stderr, then the result on stdout."""
    from impose.sheet.causes import gathered

    notes = [finding for finding in planned.findings if finding.severity is Severity.NOTE]
    report(gathered(f for f in planned.findings if verbose or f.severity is not Severity.NOTE))
    if notes and not verbose and not quiet:
        click.echo(f"notes: {len(notes)} (-v shows them, and they are in the record)", err=True)
    if as_json:
        print_json(planned.record)
    elif quiet:
        click.echo(plain(str(out)))
    else:
        for line in _summary(planned, out):
            click.echo(plain(line))


def _summary(planned: Plan, out: Path) -> list[str]:
    record = planned.record
    lines = [
        f"sheet {sheet['sheet']:>3}  {sheet['file']} page {sheet['page']}  "
        f"{counted(len(sheet['transfers']), 'transfer')}  yield {sheet['yield']:.0%}"
        for sheet in record["sheets"]
    ]
    fewest = record["fewest"]
    total = len(record["sheets"])
    if fewest["proven"]:
        best = "no fewer sheets possible" if fewest["sheets"] is not None else "no cheaper mix possible"
    elif fewest["sheets"] is not None:
        best = f"at least {fewest['sheets']} needed"
    else:
        best = f"at least {fewest['cost']} {record['currency']} needed"
    lines.append(
        f"{counted(planned.transfers, 'transfer')} on {counted(total, 'sheet')}, "
        f"{record['cost']} {record['currency']} of paper ({best})"
    )
    lines += [finding.what for finding in planned.findings if finding.kind == "straight-cuts"]
    lines += _offcut(record["offcut"], out, planned.profiles.settings.units)
    lines += [f"{sheet['file']}: {sheet['onto']['feed']}" for sheet in record["sheets"] if "onto" in sheet]
    lines.append(f"batch {record['code']}: {out}")
    lines.append(f"Look at {out / 'proof.html'} before you print; approval/ has a page for each customer.")
    lines.append(
        "Print at actual size on the coated side, driver mirroring off. Labels read normally; artwork is mirrored."
    )
    return lines


def _offcut(kept: dict[str, Any] | None, out: Path, units: Literal["mm", "in"]) -> list[str]:
    if kept is None:
        return []
    width, height = (show_length(kept["place_mm"][side], units) for side in "wh")
    return [
        f"largest clean piece left: {width} × {height} on sheet {kept['sheet']}; later work can use it: --onto {out}"
    ]
