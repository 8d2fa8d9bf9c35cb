"""`impose find`: what was made for whom, when and how, across all that the shop has made."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click

from impose.cli.common_options import PATH, find_ledger_file, keep_options, make_ledger_option
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, Finding, Trouble, count_noun

if TYPE_CHECKING:
    from impose.run.made_work import FoundPrint

_SHOWN = 200


@click.command(cls=GroupedCommand)
@click.argument("words", nargs=-1, metavar="[WORDS]...")
@option(
    "--add",
    "folders",
    multiple=True,
    type=PATH,
    metavar="FOLDER",
    group="What is made",
    help="Enter the sheets in and below it: moved, or earlier.",
)
@make_ledger_option("File that remembers what was made for whom.")
@option("--units", type=click.Choice(["mm", "in"]), metavar="UNIT", group="Program", help="mm or in: for sizes.")
@keep_options("as_json")
@run_command_body
def find(
    words: tuple[str, ...],
    folders: tuple[Path, ...],
    ledger: Path | None,
    units: Literal["mm", "in"] | None,
    as_json: bool,
) -> int:
    """Find what was made for whom, when and how.

    WORDS are parts of a wearer's or an order's name, a garment, a placement, an artwork, printed words, or an id as
    on the label, such as CWK8-T014. All of them must fit; capitals and accents do not matter.
    """
    from impose.run.made_work import MadeWork, add_folders

    work = MadeWork(find_ledger_file(ledger))
    if folders:
        findings = add_folders(work, folders, _report_added)
        print_findings(findings)
        if not words:
            return int(min((finding.exit for finding in findings), default=Exit.DONE))
    if not any(word.strip() for word in words):
        raise Trouble(Finding("nothing is named that is looked for", "Give a name, an order or an id.", kind="made",
                              exit=Exit.USAGE))  # fmt: skip
    found = work.find_prints(words)
    if as_json:
        print_json([_list_values(entry) for entry in found])
    else:
        for line in _list_lines(found, units or "mm"):
            click.echo(make_terminal_safe(line).rstrip())
    return int(Exit.DONE)


def _report_added(folder: Path, new: bool) -> None:
    click.echo(make_terminal_safe(f"{'entered' if new else 'known already'}: {folder}"), err=True)


def _list_lines(found: Sequence[FoundPrint], units: Literal["mm", "in"]) -> Iterator[str]:
    """Records newest first, in each its garments, in each its prints."""
    from impose.units import format_length

    if not found:
        yield "Nothing of that was found. Sheets made elsewhere or earlier are entered with --add FOLDER."
        return
    shown: tuple[object, ...] = ()
    for entry in found[:_SHOWN]:
        made, of = entry.made, entry.of
        if shown[:1] != (made.number,):
            yield ""
            yield from _describe_record(entry)
        garment = made.number, of.order, of.wearer, of.garment
        if shown != garment:
            yield "  " + " · ".join(part for part in (of.order or f"row {of.row}", of.wearer, of.garment) if part)
            shown = garment
        size = f"{format_length(of.width_mm, units)} × {format_length(of.height_mm, units)}"
        ids = ", ".join(of.ids[:6]) + (f" and {len(of.ids) - 6} more" if len(of.ids) > 6 else "")
        yield f"    {of.placement or 'own place'}: {of.art}, {size}, {ids}"
    yield ""
    more = f", {len(found) - _SHOWN} more not shown" if len(found) > _SHOWN else ""
    yield f"{count_noun(len(found), 'print')}{more}"


def _describe_record(entry: FoundPrint) -> Iterator[str]:
    made = entry.made
    kind = "made again at no charge" if made.source else "made"
    when = "; ".join([f"{kind} {made.at[:10]}", *entry.printed])
    for_printer = f", for the printer {made.printer}" if made.printer else ""
    yield f"{made.code}  {made.batch}: {when}{for_printer}, paper {entry.of.paper}"
    if entry.place is not None:
        yield f"  {entry.place}"
    elif made.state == "replaced":
        yield f"  {made.place} holds other sheets now"
    else:
        yield f"  not found any more: {made.place}"


def _list_values(entry: FoundPrint) -> dict[str, Any]:
    made, of = entry.made, entry.of
    return {
        "code": made.code, "batch": made.batch, "made": made.at, "again": bool(made.source), "state": made.state,
        "record_sha256": made.record, "folder": None if entry.place is None else str(entry.place),
        "was_in": made.place, "printed": list(entry.printed), "printer": made.printer, "paper": of.paper,
        "order": of.order, "wearer": of.wearer, "garment": of.garment, "placement": of.placement or None,
        "art": of.art, "width_mm": of.width_mm, "height_mm": of.height_mm, "transfers": list(of.ids), "row": of.row,
    }  # fmt: skip
