"""The process of one open batch: plans what it is told of, and answers what the page asks of a plan.

Started afresh (`python -m impose.page.planner_process`); reads requests from its standard input, writes replies to its
output, and dies with its parent. Artwork is read by processes of their own (`impose.run.live_artwork`).
"""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import ThreadPoolExecutor
from typing import Any, BinaryIO

from impose.errors import Exit, Finding, Trouble, describe_system_error
from impose.messages import read_message, write_message
from impose.page.finding_values import RowNames, list_plain_finding, name_rows
from impose.page.large_asks import LargeChoices, offer_paper
from impose.page.plan_values import PlanWriter
from impose.page.planner_messages import (
    Answer,
    AskRequest,
    CancelRequest,
    PlanFault,
    PlannerSetup,
    PlanRequest,
    PlanTold,
    ProgressTold,
    ReloadRequest,
)
from impose.page.refusal import Refusal
from impose.page.remedies import WORDINGS
from impose.remedies import word_remedies
from impose.run.batch_choices import lay_choices
from impose.run.finding_mends import Mend
from impose.run.live import Live
from impose.run.load_batch import LoadedBatch
from impose.run.options import Options
from impose.run.paper_stock import PaperStock
from impose.run.plan import Plan
from impose.values import replace

KEPT = 4
"""Plans that are kept: one that a tab still shows can be drawn while a newer one comes."""
ASKERS = 3
PROGRESS_S = 0.1
ORDERS = "orders.csv"
WAIT_S, LOOK_S = 60.0, 0.05
"""For a table that is being read, or a picture that is being prepared."""


class Cancelled(Exception):
    """Whoever asked does not want it any more."""


class KeptPlan:
    """A plan that was told, with what names its rows."""

    def __init__(self, number: int, revision: int, plan: Plan, rows: RowNames, writer: PlanWriter) -> None:
        self.number, self.revision, self.plan, self.rows, self.writer = number, revision, plan, rows, writer


class BatchPlanner:
    """Plans one batch; `send` takes replies, from any thread."""

    def __init__(self, setup: PlannerSetup, send: Callable[[Any], None]) -> None:
        self.setup, self.send = setup, send
        self.base = f"/api/b/{setup.batch}"
        self.stock = PaperStock(setup.ledger)
        self.kept: OrderedDict[int, KeptPlan] = OrderedDict()
        self.live: Live | None = None
        self.options: Options = setup.options
        self.request: PlanRequest | None = None
        self._made_for: object = None
        self._settled: PlanRequest | None = None
        self._tables: dict[int, tuple[PlanRequest, RowNames, Mapping[str, int]]] = {}
        self._count = 0
        self._lock = threading.Lock()
        self._cancelled: set[int] = set()
        self._askers = ThreadPoolExecutor(ASKERS)
        self._waiting = threading.Event()
        threading.Thread(target=self._watch_faults, daemon=True).start()

    def take_request(self, request: Any) -> None:
        """Take one request in."""
        if isinstance(request, PlanRequest):
            self._plan_state(request)
        elif isinstance(request, AskRequest):
            self._askers.submit(self._answer_request, request)
        elif isinstance(request, ReloadRequest):
            self.setup, self._made_for = replace(self.setup, options=request.options), None
        elif isinstance(request, CancelRequest):
            self._cancelled.add(request.number)

    # -- planning

    def _plan_state(self, request: PlanRequest) -> None:
        try:
            self._plan_request(request)
        except Trouble as trouble:
            self.send(PlanFault(request.revision, [list_plain_finding(finding) for finding in trouble.findings]))

    def _plan_request(self, request: PlanRequest) -> None:
        live = self._live_for(request)
        kits = [] if request.state.kits is None else request.state.kits.make_mappings()
        rows = name_rows(request)
        with self._lock:
            self.request = request
            number = live.change(request.state.orders.make_mappings(), kits)
            self._tables[number] = (request, rows, self.options.limits)
            for old in [table for table in self._tables if table < number - 8]:
                del self._tables[old]
        self._waiting.set()

    def _live_for(self, request: PlanRequest) -> Live:
        """The planner for the batch's choices; another one where those changed, or paper was counted."""
        limits = self.stock.read_left()
        wanted = (dict(request.state.choices), limits)
        if self.live is not None and self._made_for == wanted:
            return self.live
        given = replace(self.setup.options, art_root=self.setup.folder, limits=limits)
        self.options = lay_choices(given, request.state.choices, self.setup.folder)
        made = Live(
            self.options,
            lambda plan, final: self._tell_plan(made, plan, final),
            name=self.setup.folder.name,
            source=str(self.setup.folder / ORDERS),
            progress=self._make_progress(0),
        )
        before, self.live, self._made_for = self.live, made, wanted
        self._tables.clear()
        if before is not None:
            threading.Thread(target=before.close, daemon=True).start()
        made.__enter__()
        return made

    def _tell_plan(self, live: Live, plan: Plan, final: bool) -> None:
        with self._lock:
            known = self._tables.get(live.planning) if live is self.live else None
        if known is None:
            return
        request, rows, limits = known
        if request is self._settled:
            return
        self._count += 1
        number = self._count
        base = f"{self.base}/plan/{number}"
        writer = PlanWriter(plan, rows, base, limits, self._make_offers(live, rows))
        values = writer.write_all()
        with self._lock:
            if request is self._settled:  # while it was written
                return
            self.kept[number] = KeptPlan(number, request.revision, plan, rows, writer)
            while len(self.kept) > KEPT:
                self.kept.popitem(last=False)
            self.send(PlanTold(number, request.revision, final, values))

    def _make_offers(self, live: Live, rows: RowNames) -> Callable[[Finding], list[Mend]]:
        """The paper to use as well for what fits none, found when the first such finding is written."""
        known: list[tuple[list[Any], Any]] = []
        choices: list[LargeChoices] = []

        def find_offers(finding: Finding) -> list[Mend]:
            job = live.examined
            if finding.kind != "no-room" or job is None:
                return []
            if not choices:
                choices.append(LargeChoices(job, self.options, rows))
                known.extend(choices[0].list_prints())
            return offer_paper(finding, known, choices[0])

        return find_offers

    def _watch_faults(self) -> None:
        """Say where a table has no plan at all: papers that are not on file, an artwork folder that is gone."""
        while True:
            self._waiting.wait()
            self._waiting.clear()
            live, request = self.live, self.request
            if live is None or request is None:
                continue
            try:
                live.plan()
            except LookupError:
                continue
            except Trouble as trouble:
                self.send(PlanFault(request.revision, [list_plain_finding(finding) for finding in trouble.findings]))
            except Exception as error:
                self.send(PlanFault(request.revision, [list_plain_finding(make_bug_finding(error))]))

    def stop(self) -> None:
        """End the search, keep the best."""
        if self.live is not None:
            self.live.stop()

    def settle_plan(self, kept: KeptPlan) -> None:
        """Search no further for these orders: what is made of them stays shown, also where better has come since."""
        with self._lock:
            if self.request is None or self.request.revision != kept.revision:
                return
            self._settled = self.request
            if kept.number in self.kept:
                self.kept.move_to_end(kept.number)
        self.stop()
        self.send(PlanTold(kept.number, kept.revision, True, kept.writer.write_all()))

    # -- answering

    def plan_of(self, number: int) -> KeptPlan:
        """A plan by its number. Raises `Refusal` for one that is not kept any more."""
        with self._lock:
            kept = self.kept.get(number)
        if kept is None:
            raise Refusal(404, "old-plan", "This plan is not the newest one any more.", "Look at the newest one.")
        return kept

    def find_newest(self) -> KeptPlan:
        """The newest plan. Raises `Refusal` where there is none."""
        with self._lock:
            if not self.kept:
                raise Refusal(404, "no-plan", "There is no plan yet.", "Add a row with a picture and a place.")
            return next(reversed(self.kept.values()))

    def find_table(self) -> tuple[LoadedBatch, RowNames]:
        """The newest table as it was read, with what names its rows; waited for. Raises `Refusal`."""
        until = time.monotonic() + WAIT_S
        while time.monotonic() < until:
            with self._lock:
                live, request = self.live, self.request
                busy = live is not None and live.busy  # first: once it is not, what it read is there
                job = None if live is None else live.examined
            if job is not None and request is not None:
                return job, name_rows(request)
            if not busy:
                break
            time.sleep(LOOK_S)
        raise Refusal(404, "no-plan", "There is no plan yet.", "Add a row with a picture and a place.")

    def progress_of(self, number: int) -> Callable[[str, int, int], None]:
        """Tells how far an answer is, and ends the work once it is no longer needed."""
        tell = self._make_progress(number)

        def tell_progress(stage: str, done: int, of: int) -> None:
            if number in self._cancelled:
                raise Cancelled
            tell(stage, done, of)

        return tell_progress

    def _make_progress(self, number: int) -> Callable[[str, int, int], None]:
        """Tells how far something is, as often as a person can read it."""
        last: list[Any] = [None, 0.0]

        def tell_progress(stage: str, done: int, of: int) -> None:
            now = time.monotonic()
            if (stage, done, of) == last[0] or (now - last[1] < PROGRESS_S and done < of):
                return
            last[:] = [(stage, done, of), now]
            self.send(ProgressTold(number, stage, done, of))

        return tell_progress

    def _answer_request(self, request: AskRequest) -> None:
        from impose.page.planner_asks import ASKS

        try:
            self.progress_of(request.number)("", 0, 0)
            value = ASKS[request.name](self, self.progress_of(request.number), **request.arguments)
            self.send(Answer(request.number, value))
        except Cancelled:
            self.send(Answer(request.number, refused=(409, "stopped", "It was stopped.", "", ())))
        except Refusal as refusal:
            self.send(Answer(request.number, refused=refusal.__reduce__()[1]))
        except Exception as error:
            self.send(Answer(request.number, refused=explain_error(error)))
        finally:
            self._cancelled.discard(request.number)


def explain_error(error: Exception) -> tuple[int, str, str, str, tuple[dict[str, Any], ...]]:
    """What went wrong, for the person."""
    if isinstance(error, Trouble):
        first = error.findings[0]
        full = first.exit is Exit.SYSTEM and "no space" in str(first).casefold()
        found = tuple(list_plain_finding(finding) for finding in error.findings)
        return 507 if full else 422, "trouble", found[0]["what"], found[0]["remedy"], found
    if isinstance(error, OSError):
        full = error.errno == 28
        remedy = "Make room on the disk and try again." if full else "See to the folder and try again."
        return 507 if full else 500, "system", f"The system refused it: {describe_system_error(error)}.", remedy, ()
    if isinstance(error, LookupError | StopIteration):
        return 404, "gone", "That is not there any more.", "Look at the newest plan.", ()
    return 500, "bug", "This is a fault of the program.", "Nothing was lost. What it printed helps to mend it.", ()


def make_bug_finding(error: Exception) -> Finding:
    """What is said of a fault of the program while planning."""
    import traceback

    traceback.print_exception(error, file=sys.stderr)
    return Finding("planning failed by a fault of the program", "Undo the last change. Nothing was lost.")


def main() -> None:
    """Answer until the parent goes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent alone, which decides
    replies = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # a stray print of a library must not look like a reply
    requests = sys.stdin.buffer
    setup = read_message(requests)
    with word_remedies(WORDINGS):
        planner = BatchPlanner(setup, _make_sender(replies))
        _serve_requests(planner, requests)


def _make_sender(replies: BinaryIO) -> Callable[[Any], None]:
    lock = threading.Lock()

    def send(message: Any) -> None:
        try:
            with lock:
                write_message(replies, message)
        except (BrokenPipeError, ValueError):
            os._exit(0)  # the parent is gone; a last flush would only complain

    return send


def _serve_requests(planner: BatchPlanner, requests: BinaryIO) -> None:
    while True:
        try:
            planner.take_request(read_message(requests))
        except (EOFError, OSError):
            os._exit(0)


if __name__ == "__main__":
    main()
