"""What printing needs of whoever asks for it: the wish, the person told and asked, the ledger; a run followed."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import PRINT_JOBS, PrintLedger
from impose.ledger.store import open_ledger
from impose.printing.batch_printer import BatchPrinter, RunState, Standing
from impose.printing.print_job import Step, pass_step
from impose.printing.printer_access import Ask, PrintQuestion, Say
from impose.printing.sheet_runs import SheetRun
from impose.remedies import Remedy
from impose.values import FrozenStruct, field

POLL_S = 0.5
STILL_S = 600.0  # how long nothing may change before a command that nobody watches ends
LOST_S = 60.0  # how long a printer that has the job may give no answer before the command ends


def _say_nothing(line: str) -> None:
    """Say nothing."""


def _refuse_question(question: PrintQuestion) -> None:
    """Nobody is there to be asked."""


class PrintWish(FrozenStruct):
    """What is to be printed, and how. `wait_s` is how long to wait for paper or a busy printer; None without end.

    `cancel` takes back what is on its way. `answers` are yes or no by the code of a `PrintQuestion`, for programs.
    """

    printer: str | None = None
    sheets: tuple[int, ...] = ()
    again: bool = False
    test: bool = False
    trust_again: bool = False
    wait_s: float | None = 0.0
    cancel: bool = False
    answers: Mapping[str, bool] = field(default_factory=dict)


class Person(FrozenStruct):
    """Who is told and asked, and the clocks; a program passes its own."""

    say: Say = _say_nothing
    ask: Ask = _refuse_question
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], object] = time.sleep
    now: Callable[[], datetime] = field(default=datetime.now)
    step: Step = pass_step

    def make_stamp(self) -> str:
        """The time as it stands in the ledger."""
        return self.now().isoformat(timespec="seconds")


class PrintedRun(FrozenStruct):
    """What became of one run: its paper, its sheets, where it stands."""

    paper: str
    sheets: tuple[int, ...]
    state: RunState


@contextmanager
def open_books(ledger: Path) -> Iterator[PrintLedger]:
    """The printing part of a ledger."""
    with open_ledger(ledger, [PRINT_JOBS]) as opened:
        yield PrintLedger(opened)


class RunFollower:
    """Takes one run to its end, saying each change once. Raises `Trouble` when there is nothing more to wait for."""

    def __init__(self, press: BatchPrinter, run: SheetRun, wish: PrintWish, person: Person) -> None:
        self._press, self._run, self._wish, self._person = press, run, wish, person
        self._said, self._sent = "", False
        self._changed = self._heard = person.clock()

    def follow_run(self) -> RunState:
        """Its end."""
        while True:
            state = self._advance_run()
            if state.ended:
                return state
            self._refuse_endless(state)
            if state.words != self._said:
                self._person.say(state.words)
                self._said = state.words
                if state.loads is None:
                    self._changed = self._person.clock()
            self._person.sleep(POLL_S)

    def _advance_run(self) -> RunState:
        try:
            state = self._press.advance_run(self._run)
        except Trouble as trouble:
            # A printer that has the job and does not answer is given time; before that the person is told at once.
            if not self._sent or trouble.exit is not Exit.SYSTEM or self._person.clock() - self._heard > LOST_S:
                raise
            return RunState(Standing.WAITING, str(trouble), sent=True)
        self._heard = self._person.clock()
        self._sent = self._sent or state.sent
        return state

    def _refuse_endless(self, state: RunState) -> None:
        """Raise `Trouble` where this call was told not to wait any longer."""
        wait_s, passed = self._wish.wait_s, self._person.clock() - self._changed
        if wait_s is None:
            return
        if state.loads is not None and passed >= wait_s:
            raise Trouble(state.loads)
        if not self._sent and state.loads is None and passed >= max(wait_s, LOST_S):
            what = f"the printer does not take the job: {state.words}"
            raise Trouble(Finding(what, Remedy("send-later"), kind="printer-unreachable", exit=Exit.SYSTEM))
        if self._sent and state.words == self._said and passed > STILL_S:
            what = f"nothing has changed for {STILL_S / 60:g} minutes: {state.words}"
            remedy = Remedy("learn-what-came")
            raise Trouble(Finding(what, remedy, kind="printer-unreachable", exit=Exit.SYSTEM))
