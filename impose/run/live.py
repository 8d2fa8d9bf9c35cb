"""Planning that keeps up with a person: a table that may change at any time, and plans told as they are found.

    with Live(options, told, papers=["a4"]) as live:
        live.change([{"order": "Owl", "art": "crest.png", "placement": "left-chest"}])
        plan = live.plan(timeout=60)
    produce(plan, Path("sheets"))

One thread plans; the newest table ends the work on the one before and starts from its sheets. Artwork is prepared by
processes of their own, and its rows are read when they are written, so that a plan of hundreds of pictures is small.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from types import TracebackType

from impose.errors import Exit, Finding, raise_stops
from impose.orders.row_mappings import read_row_numbers
from impose.run.live_planner import LivePlanner, LiveTable
from impose.run.load_batch import LoadedBatch
from impose.run.options import Options
from impose.run.plan import Plan
from impose.run.progress import Progress, report_nothing

Told = Callable[[Plan, bool], None]
"""Called with a complete plan, and whether it is the last one of its table."""

STOP_S = 0.1
"""The longest that `Live.stop` waits for the search to have ended."""


class _Superseded(Exception):
    """A newer table, or the end, makes this work worthless."""


class Live:
    """Plans the newest table, over and over; `told` is called from a thread of its own.

    `papers` are names of papers on offer, those of the settings by default. `name` is the batch's name, `source` the
    file that faults are told of under, and `options.art_root` the folder of the artwork, by default the working
    folder. Raises `Trouble` for faulty options and profiles, and for options that a live plan cannot keep to: `cache`
    off, as a plan's pictures are read again from the cache, and `onto`.
    """

    def __init__(
        self,
        options: Options | None = None,
        told: Told | None = None,
        papers: Sequence[str] = (),
        *,
        name: str = "batch",
        source: str = "",
        progress: Progress = report_nothing,
    ) -> None:
        options = options or Options()
        _refuse_options(options)
        self._planner = LivePlanner(options, name, source, options.art_root or Path.cwd())
        self._papers = tuple(papers)
        _ = self._planner.offer_papers(self._papers).offered_papers  # so that a paper that is not on file is told here
        self._told = told or (lambda plan, final: None)
        self._progress = progress
        self._state = threading.Condition()
        self._asked = self._planned = self._at = (
            0  # the number of the newest table, of the last begun, of the one under way
        )
        self._table: LiveTable | None = None
        self._best: Plan | None = None  # of the newest table
        self._done = self._stopping = self._closing = False
        self._fault: BaseException | None = None
        self._thread = threading.Thread(target=self._plan_newest, daemon=True, name="impose-live")

    def __enter__(self) -> Live:
        self._planner.art.start_process()
        self._thread.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def change(
        self,
        rows: Iterable[Mapping[str, object]],
        kits: Iterable[Mapping[str, object]] = (),
        papers: Sequence[str] | None = None,
    ) -> int:
        """Plan this table from now on: all its rows, with the columns of a batch file. Returns the table's number.

        `kits` are the rows of a kits file, `papers` are given where they change too.

        A key `row` is the row's number, by which findings tell of it; else it is the line of the row in a file with
        headings. Raises `ValueError` for a number that is none or there twice and for a key that is no text, and
        `RuntimeError` after `close`.
        """
        table = tuple(dict(row) for row in rows)
        of_kits = tuple(dict(row) for row in kits)
        read_row_numbers(table)
        read_row_numbers(of_kits)
        with self._state:
            if self._closing:
                raise RuntimeError("live planning has ended; open another one")
            self._papers = self._papers if papers is None else tuple(papers)
            self._table = LiveTable(table, of_kits, self._papers)
            self._asked += 1
            self._best, self._done, self._stopping, self._fault = None, False, False, None
            self._state.notify_all()
            return self._asked

    def plan(self, timeout: float | None = None) -> Plan:
        """Wait for the last plan of the newest table.

        Raises `TimeoutError` after so many seconds, `LookupError` where there is no table or it was stopped before it
        had a plan, `RuntimeError` where it would wait for ever (within `told`, or before the `with` block), and what
        went wrong: `Trouble` for papers that are not on file or an artwork's folder that is gone, and what `told`
        raised.
        """
        if threading.current_thread() is self._thread:
            raise RuntimeError("plan waits for what follows told; take the plan that told is given")
        with self._state:
            if self._thread.ident is None and not self._done:
                raise RuntimeError("nothing is planned before the with block is entered")
            if self._table is None:
                raise LookupError("there is no table yet; call change")
            if not self._state.wait_for(lambda: self._done, timeout):
                raise TimeoutError(f"the plan was not finished after {timeout} s")
            return self._take_result()

    def stop(self) -> None:
        """End the search, within a tenth of a second; the best plan of the newest table becomes its last one."""
        with self._state:
            self._stopping = True
            if threading.current_thread() is not self._thread:
                self._state.wait_for(lambda: self._done, STOP_S)

    @property
    def planning(self) -> int:
        """The number of the table under way, 0 for none; within `told` that of the plan that is told."""
        return self._at

    @property
    def examined(self) -> LoadedBatch | None:
        """The rows of the newest table with their pictures, on paper or not; None until they are read."""
        with self._state:
            return self._planner.examined if self._planned == self._asked else None

    @property
    def busy(self) -> bool:
        """Whether a plan is being made, or about to be."""
        with self._state:
            return self._at > 0 or (self._asked > self._planned and not self._closing)

    def close(self) -> None:
        """End everything; the plans that were told stay good."""
        with self._state:
            self._closing = self._stopping = True
            self._state.notify_all()
        if self._thread.is_alive() and threading.current_thread() is not self._thread:
            self._thread.join()
        self._planner.art.close()

    def _take_result(self) -> Plan:
        if self._fault is not None:
            raise self._fault
        if self._best is None:
            raise LookupError("it was stopped before there was a plan")
        return self._best

    def _plan_newest(self) -> None:
        """Plan the newest table until the end."""
        _load_libraries()
        while True:
            with self._state:
                self._at = 0
                self._state.notify_all()
                self._state.wait_for(lambda: self._asked > self._planned or self._closing)
                if self._closing:
                    self._done = True
                    self._state.notify_all()
                    return
                number = self._planned = self._at = self._asked
                table = self._table
                self._planner.examined = None
            assert table is not None
            self._plan_table(number, table)

    def _plan_table(self, number: int, table: LiveTable) -> None:
        """Plan one table to its end, or until a newer one comes."""
        fault: BaseException | None = None
        plan: Plan | None = None

        def check() -> None:
            if number != self._asked or self._closing:
                raise _Superseded

        try:
            plan = self._planner.plan(
                table,
                lambda better: self._tell_plan(number, better, False),
                check,
                lambda: self._stopping or number != self._asked,
                self._progress,
            )
            self._tell_plan(number, plan, True)
        except _Superseded:
            pass
        except BaseException as error:  # told to whoever waits, even where `told` exits; the next table may be better
            fault = error
        with self._state:
            if number == self._asked:
                # Whoever waits is woken when the thread looks for the next table.
                self._best, self._fault, self._done = plan or self._best, fault, True

    def _tell_plan(self, number: int, plan: Plan, final: bool) -> None:
        with self._state:
            if number != self._asked or self._closing:
                raise _Superseded
            self._best = plan
        self._told(plan, final)


def _refuse_options(options: Options) -> None:
    """Raise `Trouble` (wrong use) for what a live plan cannot keep to."""
    found = []
    if not options.cache:
        what = "live planning is asked to keep no prepared pictures, but it reads a plan's pictures from the cache"
        found.append(Finding(what, "Leave the cache on.", kind="bad-option", exit=Exit.USAGE))
    if options.onto is not None:
        what = "live planning is asked to print on sheets that are printed already"
        remedy = "Plan live without them, or plan once with them."
        found.append(Finding(what, remedy, kind="bad-option", exit=Exit.USAGE))
    raise_stops(found)


def _load_libraries() -> None:
    """Load what planning needs while the person looks at an empty table."""
    import impose.pages.pdf.font_book
    import impose.pages.proof.approval_page
    import impose.type.lettering  # noqa: F401
