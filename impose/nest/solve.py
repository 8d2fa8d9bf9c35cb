"""From input to answer: what fits nowhere set aside, the search run, names given back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor
from dataclasses import replace

from impose.nest import compiled as swift
from impose.nest.bounds import bound_cost, bound_sheets
from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkResult, ChunkTask, Spread
from impose.nest.finish import finish_sheets
from impose.nest.instance import FilledSheet, NestingInstance, make_instance
from impose.nest.large_jobs import solve_paper
from impose.nest.mix import find_cheapest_mix
from impose.nest.model import Nesting, Rectangle, Stock
from impose.nest.search import RECTPACK_MOST


def solve_nesting(
    pieces: Sequence[Rectangle],
    stocks: Sequence[Stock],
    budget: SearchBudget,
    seed: int,
    straight: bool,
    workers: int | Executor,
) -> Nesting:
    """The nesting of checked input; see `impose.nest.nest`."""
    takes = [any(stock.takes(piece) for stock in stocks) for piece in pieces]
    chosen = [index for index, taken in enumerate(takes) if taken]
    unplaced = [
        (piece.id, _why_unplaced(piece, stocks)) for piece, taken in zip(pieces, takes, strict=True) if not taken
    ]
    job = make_instance(pieces, chosen, stocks)
    bound, fewest = _compute_bounds(job)
    sheets, bound, fewest = _search_sheets(job, bound, fewest, budget, seed, straight, workers)
    finished, waiting = finish_sheets(job, sheets, pieces, straight)
    gone = sorted(index for by_group in waiting for names in by_group.values() for index in names)
    unplaced += [(pieces[index].id, "stock") for index in gone]
    cost = sum(sheet.cost for sheet in finished)
    if gone:  # the bound is on what was placed: computed anew, since less was
        out = set(gone)
        job = make_instance(pieces, [index for index in chosen if index not in out], stocks)
        bound, fewest = _compute_bounds(job)
    clock = budget.seconds is not None and cost > bound
    return Nesting(
        tuple(finished), cost, min(bound, cost), min(fewest, len(finished)), tuple(unplaced), clock, budget.done
    )


def _why_unplaced(piece: Rectangle, stocks: Sequence[Stock]) -> str:
    """`size` if no paper takes the piece even when there is plenty; a roll may be too short for what is left of it."""
    plenty = [replace(stock, limit=None) for stock in stocks]
    return "stock" if any(stock.takes(piece) for stock in plenty) else "size"


def _compute_bounds(job: NestingInstance) -> tuple[int, int]:
    """Lower bounds on the cost and on the number of sheets."""
    if not job.count_pieces:
        return 0, 0
    if len(job.stocks) == 1 and job.stocks[0].height is not None:
        fewest = bound_sheets(job, 0)
        return fewest * job.stocks[0].cost, fewest
    return bound_cost(job), 1


def _search_sheets(
    job: NestingInstance,
    bound: int,
    fewest: int,
    budget: SearchBudget,
    seed: int,
    straight: bool,
    workers: int | Executor,
) -> tuple[list[FilledSheet], int, int]:
    """Sheets for all pieces, or as many as the limits allow; and both bounds, raised if more was seen to be needed."""
    if not job.count_pieces:
        return [], bound, fewest
    own = _open_workers(workers, budget, straight) if job.count_pieces > RECTPACK_MOST else None
    executor = workers if isinstance(workers, Executor) else own
    try:
        spread = _make_spread(executor)
        only = job.stocks[0]
        if len(job.stocks) == 1 and only.height is not None and only.limit is None:
            sheets, fewest = solve_paper(job, 0, fewest, budget, seed, straight, spread)
            return sheets, max(bound, fewest * only.cost), fewest
        sheets, bound = find_cheapest_mix(job, bound, budget, seed, straight, spread)
        if len(job.stocks) == 1 and only.height is not None and only.cost:
            fewest = max(fewest, -(-bound // only.cost))
        return sheets, bound, fewest
    finally:
        if own is not None:
            own.shutdown()


def _open_workers(workers: int | Executor, budget: SearchBudget, straight: bool) -> Executor | None:
    """Workers of our own where a number above one was given.

    Threads where the compiled loops are at work, which run side by side and start at once; else processes, not forked,
    as the caller may run threads.
    """
    if isinstance(workers, Executor) or workers < 2:
        return None
    if not straight and swift.loops_for_budget(budget, at_once=True) is not None:
        from concurrent.futures import ThreadPoolExecutor

        return ThreadPoolExecutor(workers)
    # Loaded late: most nestings need no processes, and these take as long as all of this room's imports together.
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context(method))


def _make_spread(executor: Executor | None) -> Spread:
    """How tasks are done: here, or by an executor; results come in the order of the tasks either way."""

    def here(work: Callable[[ChunkTask], ChunkResult], tasks: Iterable[ChunkTask]) -> Iterator[ChunkResult]:
        return map(work, tasks)

    def there(work: Callable[[ChunkTask], ChunkResult], tasks: Iterable[ChunkTask]) -> Iterator[ChunkResult]:
        assert executor is not None
        held = list(tasks)
        try:
            return iter(list(executor.map(work, held)))
        except BrokenExecutor:  # processes cannot start under some scripts and prompts; the answer is the same
            return map(work, held)

    return here if executor is None else there
