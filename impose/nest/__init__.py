"""Rectangles on sheets: the least paper cost, proven where it can be, usable without the rest of the package.

    from impose.nest import Rectangle, Stock, nest

    nesting = nest(
        [Rectangle("T001", 110_000, 132_000), Rectangle("T002", 90_000, 60_000, may_turn=False)],
        [Stock("iso_a4_210x297mm", 208_000, 284_000, cost=450_000)],
    )

Lengths are whole micrometres, costs whole millionths of the currency unit, origins top left. Every nesting is proven
sound (nothing overlaps, leaves its sheet, is lost or doubled) before it is returned.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import Executor

from impose.nest.model import (
    Cut,
    NestedSheet,
    Nesting,
    Placement,
    Rectangle,
    Stock,
    check_budget,
    check_input,
    count_visits,
    sum_handling,
)

__all__ = ["Cut", "NestedSheet", "Nesting", "Placement", "Rectangle", "Stock", "count_visits", "nest", "sum_handling"]


def nest(
    rectangles: Sequence[Rectangle],
    stocks: Sequence[Stock],
    *,
    steps: int | None = None,
    seconds: float | None = None,
    seed: int = 0,
    straight_cuts: bool = False,
    workers: int | Executor = 1,
    start: Sequence[NestedSheet] = (),
    told: Callable[[Nesting], None] | None = None,
    stop: Callable[[], bool] | None = None,
    changing: int = 0,
    tidy: bool = True,
) -> Nesting:
    """Place rectangles on papers at the least cost.

    `steps` bounds the search by work, so the same seed gives the same answer on every machine and for any number of
    workers; `seconds` bounds it by the clock instead. Either is a budget, not a delay: the call ends once the answer
    is proven best. With neither, 20,000 steps (40,000 for straight cuts, which take less each), or fewer where nothing
    has been gained for long. `workers` is a number of threads (processes, where the compiled loops are missing) or any
    `concurrent.futures.Executor` that runs them; it counts from about 150 pieces up.
    `straight_cuts` asks that every sheet can be cut apart edge to edge. What no paper takes is in `unplaced` as
    (id, "size"), what the limits leave no paper for as (id, "stock").

    `start` is the sheets of an earlier nesting: what is still asked for stays where it lay, on its sheet in its place,
    unless moving it saves paper. `told` is called with each complete nesting that costs less than all before it, the
    first at once. `stop` is asked several times in a tenth of a second; once it says True the best so far is returned,
    and `told` is not called again.

    `changing` is what it costs to change to each further paper, in millionths; with the `handling` of each paper it is
    minimised together with the paper. Without `tidy` sheets are as the search leaves them, which is enough to count
    them: none is laid anew for a larger offcut or for what belongs together.

    Raises `ValueError` for input that makes no sense, naming it.
    """
    from impose.nest.budget import make_budget
    from impose.nest.prove import prove_nesting
    from impose.nest.solve import solve_nesting

    check_budget(steps, seconds, 1 if isinstance(workers, Executor) else workers, changing)
    budget = make_budget(steps, seconds, len(rectangles), len(stocks), straight_cuts)
    budget.stop = stop
    check_input(rectangles, stocks)

    proven: Sequence[NestedSheet] | None = None

    def sound(found: Nesting) -> None:
        nonlocal proven
        prove_nesting(found, rectangles, stocks, changing)
        proven = found.sheets
        assert told is not None
        told(found)

    hears = sound if told is not None else None
    nesting = solve_nesting(rectangles, stocks, budget, seed, straight_cuts, workers, start, hears, changing, tidy)
    prove_nesting(nesting, rectangles, stocks, changing, proven)
    return nesting
