"""From input to answer: what fits nowhere set aside, the search run, names given back.

What not every nesting needs is loaded where it does: several papers, an earlier nesting, garments kept together.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import BrokenExecutor, Executor, wait
from threading import Event
from typing import TYPE_CHECKING

from impose.nest import compiled
from impose.nest.bounds import bound_by_area, bound_cost, bound_sheets
from impose.nest.budget import SearchBudget
from impose.nest.chunks import ChunkResult, ChunkTask, Spread
from impose.nest.finish import finish_sheets
from impose.nest.handling import add_handling, count_changes, drop_handling, search_paper_choices
from impose.nest.instance import FilledSheet, NestingInstance, make_instance
from impose.nest.large_jobs import solve_paper
from impose.nest.model import NestedSheet, Nesting, Rectangle, Stock, sum_handling
from impose.nest.search import RECTPACK_MOST
from impose.values import replace

if TYPE_CHECKING:
    from impose.nest.mix import Alone
    from impose.nest.warm_start import WarmStart

ASKING = 0.03  # seconds between looks at whether the caller still wants an answer
GRACE = 0.05  # seconds after the clock has run out in which sheets are still laid anew for a larger offcut


def solve_nesting(
    pieces: Sequence[Rectangle],
    stocks: Sequence[Stock],
    budget: SearchBudget,
    seed: int,
    straight: bool,
    workers: int | Executor,
    start: Sequence[NestedSheet] = (),
    told: Callable[[Nesting], None] | None = None,
    changing: int = 0,
    tidy: bool = True,
) -> Nesting:
    """The nesting of checked input; see `impose.nest.nest`."""
    solving = _NestingSearch(pieces, stocks, budget, straight, changing)
    if start and solving.job.piece_count:
        from impose.nest.warm_start import WarmStart

        solving.earlier = WarmStart(solving.priced, pieces, start, straight)
    report = None if told is None else _ImprovementReport(solving, told)
    if report is not None:
        budget.tell = report.report_better
    sheets = solving.search_sheets(seed, workers)
    known = report.find_named(sheets) if report is not None and budget.stopped else None
    return solving.make_nesting(sheets, tidy) if known is None else solving.assemble_nesting(known, solving.away, True)


class _NestingSearch:
    """One call: the job as it is and as it is priced, what is known of both at least, and how sheets become an answer.

    `paper` is a lower bound on the paper alone, `least` on the paper with its handling.
    """

    def __init__(
        self, pieces: Sequence[Rectangle], stocks: Sequence[Stock], budget: SearchBudget, straight: bool, changing: int
    ) -> None:
        self.pieces, self.stocks, self.budget, self.straight, self.changing = pieces, stocks, budget, straight, changing
        takes = _find_taken(pieces, stocks)
        self.chosen = [index for index, taken in enumerate(takes) if taken]
        self.away = [
            (piece.id, _explain_unplaced(piece, stocks))
            for piece, taken in zip(pieces, takes, strict=True)
            if not taken
        ]
        self.worked = changing > 0 or any(stock.handling for stock in stocks)
        self.earlier: WarmStart | None = None
        self._set_instance(make_instance(pieces, self.chosen, stocks))

    def _set_instance(self, job: NestingInstance) -> None:
        """The job, with bounds that are known at once; `_raise_bounds` has better ones."""
        self.job, self.priced = job, add_handling(job) if self.worked else job
        self.paper, self.fewest = bound_by_area(job)
        self.least = bound_by_area(self.priced)[0]

    def _raise_bounds(self) -> None:
        """Compute the bounds, which takes longer than a first answer."""
        over = self.budget.ends_first_bounds
        self.paper, self.fewest = _compute_bounds(drop_handling(self.job), over)
        if not self.worked:
            self.least = self.paper
        elif self._has_one_size():
            self.least = self.fewest * self.priced.stocks[0].cost
        else:
            self.least = max(self.paper, _compute_bounds(self.priced, over)[0])

    def _has_one_size(self) -> bool:
        """Whether all sheets are of one size and price."""
        return len(self.stocks) == 1 and self.stocks[0].height is not None

    def search_sheets(self, seed: int, workers: int | Executor) -> list[FilledSheet]:
        """The sheets of the search, and the bounds raised if more was seen to be needed."""
        start = None if self.earlier is None else self.earlier.complete_sheets(self.budget)
        if start is not None:
            self.budget.report_better(start)
        self._raise_bounds()
        if start is None:
            sheets, self.least, fewest = self._search_afresh(seed, workers)
        else:
            sheets, fewest = self._improve_earlier(start, seed, workers)
        if not self.worked:
            self.paper, self.fewest = self.least, fewest
        elif self._has_one_size():
            self.paper, self.fewest = fewest * self.stocks[0].cost, fewest
        return sheets

    def _search_afresh(self, seed: int, workers: int | Executor) -> tuple[list[FilledSheet], int, int]:
        """Sheets, and both bounds raised if more was seen to be needed."""
        if not self.changing or len(self.stocks) < 2 or not self.job.piece_count:
            return _search_sheets(self.priced, self.least, self.fewest, self.budget, seed, self.straight, workers)

        def search(papers: NestingInstance, part: SearchBudget, alone: Alone) -> tuple[list[FilledSheet], int]:
            return _search_sheets(
                papers, *_compute_bounds(papers, part.ends_bounds), part, seed, self.straight, workers, alone
            )[:2]

        sheets, least = search_paper_choices(self.priced, self.least, self.changing, self.budget, search)
        return sheets, least, self.fewest

    def _improve_earlier(
        self, start: list[FilledSheet], seed: int, workers: int | Executor
    ) -> tuple[list[FilledSheet], int]:
        """The sheets of an earlier nesting, unless others cost less; and how many are needed at least."""
        assert self.earlier is not None
        budget, fewest = self.budget, self.fewest
        if self.sum_cost(start) > self.least:
            saved = self.earlier.save_paper(start, self.least, fewest, budget, seed)
            start = min(start, saved, key=self.sum_cost)
        if self.sum_cost(start) > self.least and not budget.over:
            sheets, self.least, fewest = self._search_afresh(seed, workers)
            placed = sum(len(sheet.spots) for sheet in sheets)
            if placed == self.job.piece_count and self.sum_cost(sheets) < self.sum_cost(start):
                start = sheets
        self.least = min(self.least, self.sum_cost(start))
        return start, fewest

    def sum_cost(self, sheets: Sequence[FilledSheet]) -> int:
        """Paper, handling and changes."""
        return self.priced.total_cost(sheets) + self.changing * count_changes(sheets)

    def make_nesting(self, sheets: Sequence[FilledSheet], tidy: bool) -> Nesting:
        """The nesting: pieces named, and if `tidy` prints of one garment together, as far as the clock allows."""
        budget = self.budget
        grace = budget.extend_clock(GRACE)

        def over() -> bool:
            return not tidy or grace.over

        done, waiting = finish_sheets(self.job, sheets, self.pieces, self.straight, self.earlier, over)
        if tidy and any(piece.together for piece in self.pieces):
            from impose.nest.sheet_visits import reduce_visits

            rolls = {stock.name for stock in self.stocks if stock.height is None}
            fixed = set() if self.earlier is None else self.earlier.list_unmoved(done)
            done = reduce_visits(done, self.pieces, rolls, fixed, self.straight, over)
        gone = {index for by_group in waiting for names in by_group.values() for index in names}
        if gone:  # the bounds are on what was placed: computed anew, since less was
            self._set_instance(
                make_instance(self.pieces, [index for index in self.chosen if index not in gone], self.stocks)
            )
            self._raise_bounds()
        unplaced = [*self.away, *((self.pieces[index].id, "stock") for index in sorted(gone))]
        timed = budget.seconds is not None or budget.stopped
        return self.assemble_nesting(done, unplaced, timed)

    def make_interim(self, sheets: Sequence[FilledSheet]) -> Nesting:
        """A nesting on the way: complete, its sheets as the search left them."""
        done, _ = finish_sheets(self.job, sheets, self.pieces, self.straight, self.earlier, lambda: True)
        return self.assemble_nesting(done, self.away, True)

    def assemble_nesting(
        self, done: Sequence[NestedSheet], unplaced: Sequence[tuple[str, str]], timed: bool
    ) -> Nesting:
        """The nesting of finished sheets, with what is known of it now."""
        cost, work = sum(sheet.cost for sheet in done), sum_handling(done, self.stocks, self.changing)
        return Nesting(
            tuple(done),
            cost,
            min(self.paper, cost),
            min(self.fewest, len(done)),
            tuple(unplaced),
            timed and cost + work > self.least,
            self.budget.done,
            work,
            min(self.least, cost + work) if self.worked else None,
        )


class _ImprovementReport:
    """Tells of sheets that cost less than all that was told before, until the caller wants no more.

    Naming and proving thousands of pieces takes a tenth of a second: what was named last is not named again.
    """

    def __init__(self, solving: _NestingSearch, told: Callable[[Nesting], None]) -> None:
        self.solving, self.told = solving, told
        self.least: int | None = None
        self.named: Nesting | None = None

    def report_better(self, sheets: list[FilledSheet]) -> None:
        """Tell of the sheets if they cost less, work and changes of paper included, and there is paper for them."""
        cost, budget = self.solving.sum_cost(sheets), self.solving.budget
        if (self.least is not None and cost >= self.least) or not self.solving.job.keeps_limits(sheets):
            return
        if budget.stopped:
            return
        self.least, self.named = cost, self.solving.make_interim(sheets)
        if not budget.stopped:
            self.told(self.named)

    def find_named(self, sheets: Sequence[FilledSheet]) -> tuple[NestedSheet, ...] | None:
        """Sheets already named, which hold all pieces, if these cost no less or leave some over."""
        if self.named is None or self.least is None:
            return None
        whole = sum(len(sheet.spots) for sheet in sheets) == self.solving.job.piece_count
        return None if whole and self.solving.sum_cost(sheets) < self.least else self.named.sheets


def _find_taken(pieces: Sequence[Rectangle], stocks: Sequence[Stock]) -> list[bool]:
    """Whether any paper takes each piece; equal pieces are looked at once."""
    taken: dict[tuple[int, int, bool], bool] = {}
    found = []
    for piece in pieces:
        size = (piece.width, piece.height, piece.may_turn)
        if size not in taken:
            taken[size] = any(stock.takes(piece) for stock in stocks)
        found.append(taken[size])
    return found


def _explain_unplaced(piece: Rectangle, stocks: Sequence[Stock]) -> str:
    """`size` if no paper takes the piece even when there is plenty; a roll may be too short for what is left of it."""
    plenty = [replace(stock, limit=None) for stock in stocks]
    return "stock" if any(stock.takes(piece) for stock in plenty) else "size"


def _compute_bounds(job: NestingInstance, stop: Callable[[], bool] | None) -> tuple[int, int]:
    """Lower bounds on the cost and on the number of sheets."""
    if not job.piece_count:
        return 0, 0
    if len(job.stocks) == 1 and job.stocks[0].height is not None:
        fewest = bound_sheets(job, 0, stop)
        return fewest * job.stocks[0].cost, fewest
    return bound_cost(job, stop), 1


def _search_sheets(
    job: NestingInstance,
    bound: int,
    fewest: int,
    budget: SearchBudget,
    seed: int,
    straight: bool,
    workers: int | Executor,
    alone: Alone | None = None,
) -> tuple[list[FilledSheet], int, int]:
    """Sheets for all pieces, or as many as the limits allow; and both bounds, raised if more was seen to be needed.

    `alone` are sheets of single papers that were searched already.
    """
    if not job.piece_count:
        return [], bound, fewest
    own = _open_workers(workers) if job.piece_count > RECTPACK_MOST else None
    executor = workers if isinstance(workers, Executor) else own
    try:
        spread = _make_spread(executor, budget.stop)
        only = job.stocks[0]
        if len(job.stocks) == 1 and only.height is not None and only.limit is None:
            sheets, fewest = solve_paper(job, 0, fewest, budget, seed, straight, spread)
            return sheets, max(bound, fewest * only.cost), fewest
        from impose.nest.mix import find_cheapest_mix

        sheets, bound = find_cheapest_mix(job, bound, budget, seed, straight, spread, alone)
        if len(job.stocks) == 1 and only.height is not None and only.cost:
            fewest = max(fewest, -(-bound // only.cost))
        return sheets, bound, fewest
    finally:
        if own is not None:
            own.shutdown(wait=budget.stop is None or not budget.stop(), cancel_futures=True)


def _open_workers(workers: int | Executor) -> Executor | None:
    """Workers of our own where a number above one was given.

    Threads where the compiled loops are at work, which run side by side and start at once; else processes, not forked,
    as the caller may run threads.
    """
    if isinstance(workers, Executor) or workers < 2:
        return None
    if compiled.find_loops() is not None:
        from concurrent.futures import ThreadPoolExecutor

        return ThreadPoolExecutor(workers)
    # Loaded late: most nestings need no processes, and these take as long as all of this room's imports together.
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor

    method = "forkserver" if "forkserver" in multiprocessing.get_all_start_methods() else "spawn"
    return ProcessPoolExecutor(workers, mp_context=multiprocessing.get_context(method))


def _make_spread(executor: Executor | None, stop: Callable[[], bool] | None) -> Spread:
    """How tasks are done: here, or by an executor; results come in the order of the tasks either way."""

    def here(work: Callable[[ChunkTask], ChunkResult], tasks: Iterable[ChunkTask]) -> Iterator[ChunkResult]:
        return map(work, tasks)

    def there(work: Callable[[ChunkTask], ChunkResult], tasks: Iterable[ChunkTask]) -> Iterator[ChunkResult]:
        assert executor is not None
        ended = Event()  # the caller is asked in this thread alone; another process cannot ask at all
        held = [task._replace(stop=ended.is_set if _runs_threads(executor) else None) for task in tasks]
        try:
            return iter(_collect_results(executor, work, held, stop))
        except BrokenExecutor:  # processes cannot start under some scripts and prompts; the answer is the same
            return here(work, [task._replace(stop=stop) for task in held])
        finally:
            ended.set()

    return here if executor is None else there


def _runs_threads(executor: Executor) -> bool:
    from concurrent.futures import ThreadPoolExecutor

    return isinstance(executor, ThreadPoolExecutor)


def _collect_results(
    executor: Executor,
    work: Callable[[ChunkTask], ChunkResult],
    tasks: Sequence[ChunkTask],
    stop: Callable[[], bool] | None,
) -> list[ChunkResult]:
    """The tasks done by an executor, in order; fewer where the caller wants no more before all are."""
    futures = [executor.submit(work, task) for task in tasks]
    done: list[ChunkResult] = []
    for future in futures:
        while stop is not None and not future.done() and not stop():
            wait([future], ASKING)
        if stop is not None and not future.done():
            for other in futures:
                other.cancel()
            return done
        done.append(future.result())
    return done
