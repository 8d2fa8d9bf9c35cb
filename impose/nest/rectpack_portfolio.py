"""Placing with rectpack, the only module that knows it. Its packers drop what finds no room; here that is counted."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache, lru_cache
from typing import Any

from impose.nest.instance import FilledSheet, NestingInstance, PieceSize, PlacedSpot

# rule, order, how a sheet is chosen: the four settings that won most often over the published classes, first the one
# a user of rectpack gets by default.
SETTINGS = (
    ("MaxRectsBssf", "SORT_AREA", "BBF"),
    ("MaxRectsBl", "SORT_AREA", "BFF"),
    ("MaxRectsBl", "SORT_SSIDE", "BFF"),
    ("MaxRectsBaf", "SORT_PERI", "BBF"),
)


def place_by_rectpack(
    job: NestingInstance, stock: int, kinds: list[int], setting: tuple[str, str, str], count: int
) -> list[FilledSheet] | None:
    """Place `kinds` on at most `count` sheets of one paper; None if rectpack leaves a piece out.

    rectpack turns all pieces or none, so a job with both is given to it with those that must not turn laid as they
    are and turning off; the search that follows turns what it may.
    """
    high = _packing_height(job, stock, kinds)
    made = _place_sizes(job.kinds, tuple(kinds), job.stocks[stock].width, high, setting, count)
    return None if made is None else [FilledSheet(stock, list(spots)) for spots in made]


@lru_cache(maxsize=64)  # sheets that are compared with others begin as these did
def _place_sizes(
    sizes: tuple[PieceSize, ...],
    kinds: tuple[int, ...],
    width: int,
    height: int,
    setting: tuple[str, str, str],
    count: int,
) -> list[list[PlacedSpot]] | None:
    """The same for sheets of a size, whatever they cost."""
    turn = all(sizes[k].turn or sizes[k].width == sizes[k].height for k in set(kinds))
    packer = _make_packer(setting, turn)
    packer.add_bin(width, height, count=count)
    for k in kinds:
        wide, high, _ = sizes[k]
        if not turn and (wide > width or high > height):
            wide, high = high, wide
        packer.add_rect(wide, high, rid=k)
    packer.pack()
    sheets = [[PlacedSpot(r.rid, r.x, r.y, r.width, r.height) for r in sheet] for sheet in packer]
    return sheets if sum(map(len, sheets)) == len(kinds) else None


def run_portfolio(job: NestingInstance, stock: int, kinds: list[int], count: int) -> Iterator[list[FilledSheet]]:
    """A complete placement for each setting that finds one, within `count` sheets."""
    for setting in SETTINGS:
        sheets = place_by_rectpack(job, stock, kinds, setting, count)
        if sheets is not None:
            yield sheets


def _packing_height(job: NestingInstance, stock: int, kinds: list[int]) -> int:
    """The height to pack into: the sheet's, or on a roll as much as all pieces could need, one below another."""
    tallest = job.stocks[stock].tallest
    if tallest is not None:
        return tallest
    return sum(max(job.kinds[k].width, job.kinds[k].height) for k in kinds)


def _make_packer(setting: tuple[str, str, str], turn: bool) -> Any:
    rule, order, choice = setting
    library = _import_rectpack()
    return library.newPacker(
        mode=library.PackingMode.Offline,
        bin_algo=getattr(library.PackingBin, choice),
        pack_algo=getattr(library, rule),
        sort_algo=getattr(library, order),
        rotation=turn,
    )


@cache
def _import_rectpack() -> Any:
    """Loaded only when something is to be placed, so that importing the package stays light."""
    import rectpack

    return rectpack


def place_again(job: NestingInstance, sheet: FilledSheet) -> Iterator[FilledSheet]:
    """The pieces of one sheet placed anew by each of rectpack's settings that holds all of them."""
    if len(sheet.spots) > 60:
        return
    for setting in SETTINGS:
        made = place_by_rectpack(job, sheet.stock, sheet.kinds, setting, 1)
        if made is not None:
            yield made[0]
