"""From input to answer: what fits nowhere set aside, the search run, names given back."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, wait
from dataclasses import replace

from impose.nest import swift
from impose.nest.bounds import cost_needed, sheets_needed
from impose.nest.budget import Budget
from impose.nest.chunks import Done, Spread, Task
from impose.nest.earlier import Earlier
from impose.nest.finish import finish
from impose.nest.handling import changes, fewer_papers, handling_cost, with_handling
from impose.nest.job import Filled, Job, make_job
from impose.nest.large import solve_paper
from impose.nest.mix import cheapest_mix
from impose.nest.model import Nesting, Rectangle, Sheet, Stock
from impose.nest.search import RECTPACK_MOST
from impose.nest.visits import fewest_visits

ASKING = 0.03  # seconds between looks at whether the caller still wants an answer
GRACE = 0.05  # seconds after the clock has run out in which sheets are still laid anew for a larger offcut


def solve(
    pieces: Sequence[Rectangle],
    stocks: Sequence[Stock],
    budget: Budget,
    seed: int,
    straight: bool,
    workers: int | Executor,
    start: Sequence[Sheet] = (),
    told: Callable[[Nesting], None] | None = None,
    changing: int = 0,
) -> Nesting:
    """The nesting of checked input; see `impose.nest.nest`."""
    takes = [any(stock.takes(piece) for stock in stocks) for piece in pieces]
    chosen = [index for index, taken in enumerate(takes) if taken]
    unplaced = [(piece.id, _why(piece, stocks)) for piece, taken in zip(pieces, takes, strict=True) if not taken]
    job = make_job(pieces, chosen, stocks)
    worked = changing > 0 or any(stock.handling for stock in stocks)
    priced = with_handling(job) if worked else job
    paper, fewest = _bounds(job)
    least = _bounds(priced)[0] if worked else paper
    earlier = Earlier(priced, pieces, start, straight) if start and job.size else None
    if told is not None:
        away = tuple(unplaced)

        def whole(sheets: Sequence[Filled]) -> Nesting:
            done, _ = finish(job, sheets, pieces, straight, earlier, lambda: True)
            cost = sum(sheet.cost for sheet in done)
            work = handling_cost(done, stocks, changing)
            both = min(least, cost + work) if worked else None
            count = min(fewest, len(done))
            return Nesting(tuple(done), cost, min(paper, cost), count, away, True, budget.done, work, both)

        budget.tell = _Telling(priced, changing, whole, told).better
    first = budget
    if changing and len(stocks) > 1 and budget.remaining is not None:
        first = replace(budget, seconds=budget.remaining / 2)
    sheets, bound, count = _begun(priced, least, fewest, first, seed, straight, workers, earlier)
    if changing and len(stocks) > 1 and sum(len(sheet.spots) for sheet in sheets) == job.size:

        def search(fewer: Job, part: Budget) -> tuple[list[Filled], int]:
            needed, some = _bounds(fewer)
            return _searched(fewer, needed, some, part, seed, straight, workers)[:2]

        sheets, bound = fewer_papers(priced, sheets, bound, changing, budget, search)
    budget.done = max(budget.done, first.done)
    if not worked:
        paper, fewest = bound, count
    grace = budget.part(None, None if budget.remaining is None else budget.remaining + GRACE)
    finished, waiting = finish(job, sheets, pieces, straight, earlier, lambda: grace.over)
    if any(piece.together for piece in pieces):
        rolls = {stock.name for stock in stocks if stock.height is None}
        fixed = set() if earlier is None else earlier.still(finished)
        finished = fewest_visits(finished, pieces, rolls, fixed, straight, lambda: grace.over)
    gone = sorted(index for by_group in waiting for names in by_group.values() for index in names)
    unplaced += [(pieces[index].id, "stock") for index in gone]
    cost = sum(sheet.cost for sheet in finished)
    if gone:  # the bound is on what was placed: computed anew, since less was
        out = set(gone)
        job = make_job(pieces, [index for index in chosen if index not in out], stocks)
        paper, fewest = _bounds(job)
        bound = _bounds(with_handling(job))[0] if worked else paper
    work = handling_cost(finished, stocks, changing)
    clock = (budget.seconds is not None or (budget.stop is not None and budget.stop())) and cost + work > bound
    return Nesting(
        tuple(finished),
        cost,
        min(paper, cost),
        min(fewest, len(finished)),
        tuple(unplaced),
        clock,
        budget.done,
        work,
        min(bound, cost + work) if worked else None,
    )


class _Telling:
    """Tells of sheets that cost less than all that was told before."""

    def __init__(
        self, job: Job, changing: int, whole: Callable[[Sequence[Filled]], Nesting], told: Callable[[Nesting], None]
    ) -> None:
        self.job, self.changing, self.whole, self.told = job, changing, whole, told
        self.least: int | None = None

    def better(self, sheets: list[Filled]) -> None:
        cost = self.job.total(sheets) + self.changing * changes(sheets)
        if self.least is None or cost < self.least:
            self.least = cost
            self.told(self.whole(sheets))


def _begun(
    job: Job,
    bound: int,
    fewest: int,
    budget: Budget,
    seed: int,
    straight: bool,
    workers: int | Executor,
    earlier: Earlier | None,
) -> tuple[list[Filled], int, int]:
    """The search, from sheets of an earlier nesting where there are any: theirs unless others cost less."""
    start = earlier.completed(budget) if earlier is not None else None
    if earlier is None or start is None:
        return _searched(job, bound, fewest, budget, seed, straight, workers)
    budget.better(start)
    if job.total(start) > bound:
        start = earlier.improved(start, bound, fewest, budget, seed)
    if job.total(start) > bound and not budget.over:
        sheets, bound, fewest = _searched(job, bound, fewest, budget, seed, straight, workers)
        placed = sum(len(sheet.spots) for sheet in sheets)
        if placed == job.size and job.total(sheets) < job.total(start):
            start = sheets
    return start, min(bound, job.total(start)), fewest


def _why(piece: Rectangle, stocks: Sequence[Stock]) -> str:
    """`size` if no paper takes the piece even when there is plenty; a roll may be too short for what is left of it."""
    plenty = [replace(stock, limit=None) for stock in stocks]
    return "stock" if any(stock.takes(piece) for stock in plenty) else "size"


def _bounds(job: Job) -> tuple[int, int]:
    """Lower bounds on the cost and on the number of sheets."""
    if not job.size:
        return 0, 0
    if len(job.stocks) == 1 and job.stocks[0].height is not None:
        fewest = sheets_needed(job, 0)
        return fewest * job.stocks[0].cost, fewest
    return cost_needed(job), 1


def _searched(
    job: Job, bound: int, fewest: int, budget: Budget, seed: int, straight: bool, workers: int | Executor
) -> tuple[list[Filled], int, int]:
    """Sheets for all pieces, or as many as the limits allow; and both bounds, raised if more was seen to be needed."""
    if not job.size:
        return [], bound, fewest
    own = _open(workers, budget, straight) if job.size > RECTPACK_MOST else None
    executor = workers if isinstance(workers, Executor) else own
    try:
        spread = _spread(executor, budget.stop)
        only = job.stocks[0]
        if len(job.stocks) == 1 and only.height is not None and only.limit is None:
            sheets, fewest = solve_paper(job, 0, fewest, budget, seed, straight, spread)
            return sheets, max(bound, fewest * only.cost), fewest
        sheets, bound = cheapest_mix(job, bound, budget, seed, straight, spread)
        if len(job.stocks) == 1 and only.height is not None and only.cost:
            fewest = max(fewest, -(-bound // only.cost))
        return sheets, bound, fewest
    finally:
        if own is not None:
            own.shutdown(wait=budget.stop is None or not budget.stop(), cancel_futures=True)


def _open(workers: int | Executor, budget: Budget, straight: bool) -> Executor | None:
    """Workers of our own where a number above one was given.

    Threads where the compiled loops are at work, which run side by side and start at once; else processes, not forked,
    as the caller may run threads.
    """
    if isinstance(workers, Executor) or workers < 2:
        return None
    if not straight and swift.kernel(budget, at_once=True) is not None:
        from concurrent.futures import ThreadPoolExecutor

        return ThreadPoolExecutor(workers)
    # Loaded late: most nestings need no processes, and these take as long as all of this room's imports together.
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context(method))


def _spread(executor: Executor | None, stop: Callable[[], bool] | None) -> Spread:
    """How tasks are done: here, or by an executor; results come in the order of the tasks either way."""

    def here(work: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
        return map(work, tasks)

    def there(work: Callable[[Task], Done], tasks: Iterable[Task]) -> Iterator[Done]:
        assert executor is not None
        held = [task._replace(stop=None) for task in tasks]  # another process cannot ask
        try:
            return iter(_done(executor, work, held, stop))
        except BrokenExecutor:  # processes cannot start under some scripts and prompts; the answer is the same
            return map(work, held)

    return here if executor is None else there


def _done(
    executor: Executor, work: Callable[[Task], Done], tasks: Sequence[Task], stop: Callable[[], bool] | None
) -> list[Done]:
    """The tasks done by an executor, in order; fewer where the caller wants no more before all are."""
    futures = [executor.submit(work, task) for task in tasks]
    done: list[Done] = []
    for future in futures:
        while stop is not None and not future.done() and not stop():
            wait([future], ASKING)
        if stop is not None and not future.done():
            for other in futures:
                other.cancel()
            return done
        done.append(future.result())
    return done
