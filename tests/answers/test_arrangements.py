# ruff: noqa: E501 - tables of cells and of papers
"""Arrangements of the nester: where each piece lies, at which cost, under which bounds, whatever computes it."""

from __future__ import annotations

import random
from collections.abc import Callable
from typing import Any

import pytest

from approved_answers import Told
from impose.nest import Nesting, Rectangle, Stock, compiled, nest
from impose.nest.model import NestedSheet

MM = 1000
A4 = Stock("a4", 204 * MM, 280 * MM, cost=150_000)
A3 = Stock("a3", 291 * MM, 403 * MM, cost=330_000)
SUPER_B = Stock("13x19", 324_200, 465_600, cost=520_000)
ROLL = Stock("roll", 603_600, None, cost=1_750_000, max_height=1000 * MM, cut_margin=17 * MM)
SHORT_ROLL = Stock("short", 324 * MM, None, cost=900_000, limit=700 * MM, cut_margin=5 * MM, cut_base=-2 * MM, cut_per_metre=4 * MM)  # fmt: skip

# Z. Moroń (1925): nine squares tile 33 x 32 (see tests/nest/test_nest.py).
MORON = (18, 15, 14, 10, 9, 8, 7, 4, 1)


def cut(
    seed: int, count: int, least: int = 60, most: int = 190, turn: float = 0.8, garments: int = 0
) -> list[Rectangle]:
    """Pieces drawn by a seed, in tenths of a millimetre; some may not turn."""
    chance = random.Random(f"approved {seed}")
    return [
        Rectangle(
            f"T{k:03}", chance.randint(10 * least, 10 * most) * 100, chance.randint(10 * least, 10 * most) * 100,
            chance.random() < turn, f"order {k % 3}", f"garment {k % garments}" if garments else "",
        )
        for k in range(1, count + 1)
    ]  # fmt: skip


def few_sizes(seed: int, count: int) -> list[Rectangle]:
    """A team's prints: three sizes."""
    chance = random.Random(f"team {seed}")
    sizes = [(116_900, 104_300), (246_600, 54_000), (93_000, 93_000)]
    return [Rectangle(f"T{k:03}", *chance.choice(sizes), together=f"garment {k // 3}") for k in range(count)]


def squares(sides: tuple[int, ...]) -> list[Rectangle]:
    return [Rectangle(str(side), side, side) for side in sides]


INSTANCES: dict[str, tuple[list[Rectangle], list[Stock], dict[str, Any]]] = {
    "nothing": ([], [A4], {}),
    "single": (cut(1, 1), [A4], {}),
    "single turned": ([Rectangle("T1", 270 * MM, 190 * MM)], [A4], {}),
    "single that may not turn": ([Rectangle("T1", 270 * MM, 190 * MM, False), Rectangle("T2", 190 * MM, 270 * MM, False)], [A4], {}),
    "single too large": ([Rectangle("T1", 700 * MM, 500 * MM), Rectangle("T2", 100 * MM, 90 * MM)], [A4, A3], {}),
    "moron": (squares(MORON), [Stock("frame", 33, 32, cost=7)], {}),
    "few on a4": (cut(2, 5), [A4], {}),
    "ten on a4": (cut(3, 10), [A4], {}),
    "ten on super b": (cut(4, 10), [SUPER_B], {}),
    "small ones": (cut(5, 24, 25, 70), [A4], {}),
    "large ones": (cut(6, 8, 120, 250), [A3], {}),
    "one size": ([Rectangle(f"T{k}", 97 * MM, 66 * MM) for k in range(11)], [A4], {}),
    "team": (few_sizes(1, 15), [SUPER_B], {}),
    "team on a4": (few_sizes(2, 12), [A4], {"seed": 3}),
    "mix of two": (cut(7, 12), [A4, SUPER_B], {}),
    "mix of three": (cut(8, 14, 50, 240), [A4, A3, SUPER_B], {}),
    "mix that changes dearly": (cut(7, 12), [A4, SUPER_B], {"changing": 400_000}),
    "handling": (cut(9, 12), [Stock("a4", 204 * MM, 280 * MM, 150_000, handling=100_000), Stock("13x19", 324_200, 465_600, 520_000, handling=100_000)], {"changing": 100_000}),
    "handling of one size": (cut(10, 9), [Stock("a4", 204 * MM, 280 * MM, 150_000, handling=100_000)], {}),
    "limit of one paper": (cut(11, 10), [Stock("a4", 204 * MM, 280 * MM, 150_000, limit=2)], {}),
    "limits of two": (cut(12, 12), [Stock("a4", 204 * MM, 280 * MM, 150_000, limit=2), Stock("13x19", 324_200, 465_600, 520_000, limit=3)], {}),
    "limit that forces the dear": (cut(13, 9, 60, 120), [Stock("cheap", 204 * MM, 280 * MM, 100_000, limit=1), Stock("dear", 204 * MM, 280 * MM, 300_000)], {}),
    "none left": (cut(14, 4), [Stock("a4", 204 * MM, 280 * MM, 150_000, limit=0)], {}),
    "roll": (cut(15, 9), [ROLL], {}),
    "roll with a longest cut": (cut(16, 14, 90, 250), [Stock("roll", 603_600, None, 1_750_000, max_height=400 * MM, cut_margin=17 * MM)], {}),
    "short roll": (cut(17, 8), [SHORT_ROLL], {}),
    "roll and sheets": (cut(18, 10), [ROLL, A4], {}),
    "roll or super b, handled": (cut(19, 8), [Stock("roll", 603_600, None, 1_750_000, max_height=900 * MM, handling=200_000), Stock("13x19", 324_200, 465_600, 520_000, handling=100_000)], {"changing": 500_000}),
    "straight cuts": (cut(20, 9), [A4], {"straight_cuts": True}),
    "straight cuts on super b": (cut(21, 12), [SUPER_B], {"straight_cuts": True}),
    "straight cuts of a roll": (cut(22, 7), [ROLL], {"straight_cuts": True}),
    "straight cuts, mixed": (cut(23, 9), [A4, SUPER_B], {"straight_cuts": True, "changing": 50_000}),
    "no turning": (cut(24, 10, turn=0.0), [SUPER_B], {}),
    "garments together": (cut(25, 18, 50, 110, garments=5), [A4], {}),
    "garments together, straight": (cut(26, 14, 50, 110, garments=4), [A4], {"straight_cuts": True}),
    "no steps": (cut(27, 12), [A4], {"steps": 0}),
    "another seed": (cut(3, 10), [A4], {"seed": 9}),
    "many": (cut(28, 60, 40, 120), [SUPER_B], {"steps": 400}),
    "many that take turns": (cut(32, 130, 25, 90), [SUPER_B], {"steps": 600}),
    "counted, all of it": (cut(33, 14, 50, 130), [Stock("a4", 204 * MM, 280 * MM, 150_000, limit=3), Stock("a3", 291 * MM, 403 * MM, 330_000, limit=2), Stock("13x19", 324_200, 465_600, 520_000, limit=1)], {}),
    "counted roll and sheets": (cut(34, 9), [SHORT_ROLL, Stock("a4", 204 * MM, 280 * MM, 150_000, limit=3)], {}),
    "exact pair": ([Rectangle(f"T{k}", w * MM, h * MM) for k, (w, h) in enumerate(((120, 150), (84, 150), (204, 130), (102, 140), (102, 140), (204, 140)))], [A4], {}),
    "free paper": (cut(29, 6), [Stock("a4", 204 * MM, 280 * MM, 0), Stock("a3", 291 * MM, 403 * MM, 0)], {}),
    "narrow strip": ([Rectangle(f"T{k}", (20 + k) * MM, 200 * MM) for k in range(14)], [A4], {}),
}  # fmt: skip


def describe(found: Nesting) -> str:
    """Sheets and their pieces, a line each sheet, in thousandths of a millimetre."""
    lines = [
        f"cost {found.cost} bound {found.bound} handling {found.handling} least {found.least} fewest {found.fewest} "
        f"{'proven' if found.proven else 'not proven'} steps {found.steps}"
    ]
    lines += [f"unplaced {name} {why}" for name, why in found.unplaced]
    for sheet in found.sheets:
        placed = " ".join(f"{p.id}@{p.x},{p.y}+{p.width}x{p.height}{'t' if p.turned else ''}" for p in sheet.placements)
        lines.append(f"{sheet.stock} {sheet.width}x{sheet.height} {sheet.cost}: {placed}; offcut {sheet.offcut}")
        if sheet.cuts:
            lines.append("  cuts " + " ".join(f"{c.x1},{c.y1}-{c.x2},{c.y2}" for c in sheet.cuts))
    return "\n".join(lines)


def test_arrangements(told: Told) -> None:
    for name, (pieces, stocks, more) in INSTANCES.items():
        told.show(name, describe(nest(pieces, stocks, **({"steps": 150} | more))))


def test_live_arrangements(told: Told) -> None:
    """A start that is kept, its changes, and what is told on the way."""
    changes: dict[str, Callable[[list[Rectangle]], list[Rectangle]]] = {
        "all stay": lambda pieces: pieces,
        "one more": lambda pieces: [*pieces, Rectangle("N1", 90 * MM, 70 * MM)],
        "one less": lambda pieces: pieces[1:],
        "one larger": lambda pieces: [Rectangle("T001", 150 * MM, 140 * MM), *pieces[1:]],
        "one may not turn": lambda pieces: [Rectangle(p.id, p.width, p.height, False) for p in pieces],
        "half gone": lambda pieces: pieces[::2],
    }
    for name, stocks, more in (
        ("a4", [A4], {}), ("mix", [A4, SUPER_B], {"changing": 50_000}), ("roll", [ROLL], {}),
        ("straight", [A4], {"straight_cuts": True}),
    ):  # fmt: skip
        pieces = cut(30, 9)
        start = nest(pieces, stocks, steps=100, **more)
        told.show(f"{name}, before", describe(start))
        for change, make in changes.items():
            heard: list[Nesting] = []
            found = nest(make(pieces), stocks, steps=100, start=start.sheets, told=heard.append, **more)
            told.show(f"{name}, {change}", describe(found))
            told.show("told", " ".join(str(one.cost) for one in heard))
    sheet = NestedSheet("a4", A4.width, 280 * MM, A4.cost, ())
    told.show("an empty start", describe(nest(cut(31, 3), [A4], steps=50, start=[sheet])))


def test_the_loops_in_python_arrange_alike(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(compiled, "load_library", lambda: None)
    kept = read_kept()
    for name, (pieces, stocks, more) in INSTANCES.items():
        if len(pieces) <= 12 or more.get("straight_cuts"):
            assert describe(nest(pieces, stocks, **({"steps": 150} | more))) == kept[name], name


def read_kept() -> dict[str, str]:
    """The approved arrangements by name."""
    from approved_answers import APPROVED

    parts = (APPROVED / "arrangements.txt").read_text("utf-8").rstrip("\n").split("# ")[1:]
    return {part.partition("\n")[0]: part.partition("\n")[2].rstrip("\n") for part in parts}
