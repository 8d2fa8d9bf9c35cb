"""`impose again`: a new order from an old record, with a list of what differs."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from impose.cli.common_options import PATH, keep_options, make_options
from impose.cli.error_boundary import print_findings, run_command_body
from impose.cli.grouped_help import GroupedCommand, option
from impose.cli.output import make_terminal_safe, print_json
from impose.errors import Exit, count_noun, quote_for_shell

if TYPE_CHECKING:
    from impose.run.again import AgainOrder


@click.command(cls=GroupedCommand)
@click.argument("record", type=PATH, metavar="RECORD")
@option("--roster", type=PATH, metavar="FILE", group="What is made", help="A list of what differs: more, fewer, new.")
@option("--listed-only", is_flag=True, group="What is made", help="Only what the list names, not all the rest again.")
@option("--order", "orders", multiple=True, metavar="NAME", group="What is made", help="This order alone.")
@option("--take-new-art", is_flag=True, group="What is made", help="Take changed artwork as it is now.")
@option("-o", "--out", type=PATH, metavar="DIR", group="Output", help="The new folder (default: beside the record's).")
@keep_options("art_root", "profiles_dir", "as_json", "quiet")
@run_command_body
def again(
    record: Path,
    roster: Path | None,
    listed_only: bool,
    orders: tuple[str, ...],
    take_new_art: bool,
    out: Path | None,
    as_json: bool,
    quiet: bool,
    **chosen: Any,
) -> int:
    """Make a new order from the RECORD of an old one.

    RECORD is an output folder, or the batch.json in it. The new folder holds an orders.csv and the artwork, for
    “impose sheets”: sizes and places are those of the old prints. The list has a line for each garment that differs,
    with columns wearer, like, copies (+4, 0), name, number, garment.
    """
    from impose import files
    from impose.run.again import AgainRequest, plan_again
    from impose.run.again_folder import write_again
    from impose.run.record_file import read_record

    if listed_only and roster is None:
        raise click.UsageError("--listed-only makes what a list names: give it with --roster.")
    source = read_record(record)
    out = out or files.find_free_name(_default_folder(source.path))
    files.refuse_taken(out, replace=False, replaceable=False)
    order = plan_again(source, AgainRequest(orders, roster, listed_only, take_new_art), make_options(**chosen))
    write_again(order, out)
    print_findings(order.findings)
    if as_json:
        print_json({"folder": str(out), "garments": order.garments, "changed": list(order.changed),
                    "rows": sum(len(group.rows) for group in order.groups)})  # fmt: skip
    elif quiet:
        click.echo(make_terminal_safe(str(out)))
    else:
        for line in _list_lines(order, out):
            click.echo(make_terminal_safe(line))
    return int(Exit.DONE)


def _default_folder(record: Path) -> Path:
    folder = record.resolve().parent
    return folder.with_name(f"{folder.name}-again")


def _list_lines(order: AgainOrder, out: Path) -> Iterator[str]:
    yield from order.changed
    yield f"{count_noun(order.garments, 'garment')}, sizes and places as in batch {order.source.printed.code}: {out}"
    options = order.source.printed.options
    papers = options.get("papers")
    words = [f"-p {name.rpartition('_')[2]}" for name in papers] if isinstance(papers, list) else []
    if options.get("oversize") in ("shrink", "panels"):
        words.append(f"--oversize {options['oversize']}")
    yield f"Look through its orders.csv, then: impose sheets {quote_for_shell(str(out))} {' '.join(words)}".rstrip()
