"""What weighing work gains: evenings nested for the cheapest paper alone, and with handling and garments minded.

    python tests/bench/handling.py

The evenings are those of `evenings.py`, and the example's. The same prints are nested twice with default steps: as if
handling cost nothing and garments were nobody's concern, and as `impose sheets` does it. Told of both are the sheets of
each paper, what the paper costs, what handling costs at the rates in force, and visits: a garment of several prints
found on one sheet counts as one.
"""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import evenings

from impose.nest import Nesting, Rectangle, Stock, count_visits, nest, sum_handling
from impose.run import handling_choice
from impose.run.options import Options
from impose.run.plan import plan
from impose.values import replace

EXAMPLE = evenings.HOUSE / "examples" / "lantern-night" / "orders.csv"
Asked = tuple[Sequence[Rectangle], Sequence[Stock], int]


def record_nesting(source: Path, papers: list[str]) -> Asked:
    """What the first nesting of a plan is asked for: prints, papers with their handling, the cost of a change."""
    asked: list[Asked] = []

    def watch(rectangles: Sequence[Rectangle], stocks: Sequence[Stock], **given: Any) -> Nesting:
        asked.append((rectangles, stocks, given["changing"]))
        return nest(rectangles, stocks, **{**given, "steps": 0})

    handling_choice.nest, before = watch, handling_choice.nest
    try:
        plan([source], Options(settings={"papers": papers}, workers=1))
    finally:
        handling_choice.nest = before
    return asked[0]


def show(name: str, rectangles: Sequence[Rectangle], stocks: Sequence[Stock], changing: int) -> None:
    """A line for each way."""
    unminded = [replace(rectangle, together="") for rectangle in rectangles]
    unworked = [replace(stock, handling=0) for stock in stocks]
    for way, found in (
        ("paper alone", nest(unminded, unworked)),
        ("with handling", nest(rectangles, stocks, changing=changing)),
    ):
        sheets = ", ".join(f"{count} {paper}" for paper, count in Counter(s.stock for s in found.sheets).items())
        work = sum_handling(found.sheets, stocks, changing)
        costs = " | ".join(f"{cost / 1e6:.2f}" for cost in (found.cost, work, found.cost + work))
        print(f"| {name} | {way} | {sheets} | {costs} | {count_visits(found.sheets, rectangles)} |", flush=True)


def main() -> None:
    """Print the table."""
    print("| evening | nested for | sheets | paper | handling | together | visits |")
    print("|" + " --- |" * 7)
    with tempfile.TemporaryDirectory() as scratch:
        folders = [Path(scratch) / name for name in ("team", "stall", "roll")]
        for folder in folders:
            folder.mkdir()
        made = [
            evenings.make_team(folders[0], True)[:2],
            evenings.make_stall(folders[1], 1)[:2],
            evenings.make_roll(folders[2], 1)[:2],
            (EXAMPLE, ["a4", "13x19"]),
        ]
        for name, (source, papers) in zip(("team", "stall", "roll", "example"), made, strict=True):
            show(name, *record_nesting(source, papers))


if __name__ == "__main__":
    main()
