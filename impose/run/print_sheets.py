"""`print`: the sheets of an output folder to a printer, followed to the end; and what printers say of themselves."""

from __future__ import annotations

import os
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import PRINT_JOBS, PrintLedger
from impose.ledger.store import open_ledger
from impose.printing.batch_printer import BatchPrinter, RunState, Standing, number_words, refuse_printed
from impose.printing.checks import printer_findings, refuse_findings
from impose.printing.print_job import Step, no_step
from impose.printing.printer_access import (
    Ask,
    OpenPrinter,
    Say,
    named_printer,
    open_printer,
    refuse_unmarked,
)
from impose.printing.sheet_runs import PrintBatch, SheetRun, read_batch
from impose.run.calibrate import write_calibration_page
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.record_file import read_record

POLL_S = 0.5
STILL_S = 600.0  # how long nothing may change before a command that nobody watches ends
LOST_S = 60.0  # how long a printer that has the job may be silent before the command ends


def _silent(line: str) -> None:
    """Say nothing."""


def _nobody(question: str) -> None:
    """Nobody is there to be asked."""


@dataclass(frozen=True, slots=True)
class PrintWish:
    """What `impose print` was told. `wait_s` is how long to wait for paper or a busy printer; None without end."""

    printer: str | None = None
    sheets: tuple[int, ...] = ()
    again: bool = False
    test: bool = False
    trust_again: bool = False
    wait_s: float | None = 0.0


@dataclass(frozen=True, slots=True)
class Person:
    """Who is told and asked, and the clocks; a program passes its own."""

    say: Say = _silent
    ask: Ask = _nobody
    clock: Callable[[], float] = time.monotonic
    sleep: Callable[[float], object] = time.sleep
    now: Callable[[], datetime] = field(default=datetime.now)
    step: Step = no_step

    def stamp(self) -> str:
        """The time as it stands in the ledger."""
        return self.now().isoformat(timespec="seconds")


@dataclass(frozen=True, slots=True)
class PrintedRun:
    """What became of one run."""

    paper: str
    sheets: tuple[int, ...]
    state: RunState


def print_sheets(
    folder: Path, wish: PrintWish, options: Options, ledger: Path, person: Person | None = None
) -> list[PrintedRun]:
    """Print an output folder; what became of each of its papers, in order.

    Raises `Trouble`: printed already (wrong use), a refused record, paper not loaded or not known (no room), a printer
    that cannot be reached (system). What was sent by then is in the ledger, and the next call goes on from there.
    """
    person = person or Person()
    batch = _batch(folder, wish)
    profiles = load_profiles_in_force(options)
    named = named_printer(wish.printer or profiles.settings.printer, profiles, os.environ)
    with open_books(ledger) as books:
        printer = open_printer(named, profiles, books, person.ask, person.say, wish.trust_again)
        printer = refuse_unmarked(printer, books, person.ask, person.say)
        if wish.test:
            printer = _print_test(printer, batch.runs[0], books, options, wish, person)
            if not person.ask("Are its heavy words readable and its rulers true? Print the sheets now?"):
                return []
        press = BatchPrinter(batch, printer, books, person.stamp, options.accept, wish.again, person.step)
        press.settle_jobs()
        runs = _left(press, batch, person)
        for finding in press.check_runs(runs):
            person.say(f"{finding.severity}: {finding}")
        _ask_nozzles(printer, books, person)
        return _print_runs(press, runs, wish, person)


@contextmanager
def open_books(ledger: Path) -> Iterator[PrintLedger]:
    """The printing part of a ledger."""
    with open_ledger(ledger, [PRINT_JOBS]) as opened:
        yield PrintLedger(opened)


def _batch(folder: Path, wish: PrintWish) -> PrintBatch:
    try:
        source = read_record(folder)
    except Trouble as trouble:
        raise Trouble(replace(f, exit=max(f.exit, Exit.REFUSED)) for f in trouble.findings) from None
    batch = read_batch(source.path, source.path.read_bytes(), wish.sheets)
    if not batch.runs:
        raise Trouble(Finding("there is no sheet in it to be printed", kind="record", file=str(source.path)))
    return batch


def _left(press: BatchPrinter, batch: PrintBatch, person: Person) -> list[SheetRun]:
    """The runs less what is printed. Raises `Trouble` (wrong use) where nothing is left."""
    left = [(run, press.find_unprinted(run)) for run in batch.runs]
    runs = [rest for _, rest in left if rest is not None]
    if not runs:
        waiting = [run for run in batch.runs if _on_its_way(press, run)]
        if waiting:
            return waiting
        raise refuse_printed(press.books.list_jobs_of(batch.record))
    for run, rest in left:
        kept = {sheet.number for sheet in rest.sheets} if rest else set()
        done = [sheet.number for sheet in run.sheets if sheet.number not in kept]
        if done:
            person.say(f"note: printed already, or on its way: sheets {number_words(done)}")
    return runs


def _on_its_way(press: BatchPrinter, run: SheetRun) -> bool:
    """Whether the printer still has the run, so that it is followed and not sent."""
    numbers = {sheet.number for sheet in run.sheets}
    jobs = press.books.list_jobs_of(press.batch.record)
    return any(job.state == "sent" and numbers & set(job.sheets) for job in jobs)


def _print_runs(press: BatchPrinter, runs: Sequence[SheetRun], wish: PrintWish, person: Person) -> list[PrintedRun]:
    done = []
    for run in runs:
        state = _print_run(press, run, wish, person)
        person.say(state.words)
        done.append(PrintedRun(run.paper, tuple(sheet.number for sheet in run.sheets), state))
        if state.standing is not Standing.PRINTED:
            break
    return done


def _print_run(press: BatchPrinter, run: SheetRun, wish: PrintWish, person: Person) -> RunState:
    """One run to its end, saying each change once."""
    said, since, heard = "", person.clock(), person.clock()
    sent = False
    while True:
        try:
            state = press.advance_run(run)
        except Trouble as trouble:
            # A printer that has the job and falls silent is given time; before that the person is told at once.
            if not sent or trouble.exit is not Exit.SYSTEM or person.clock() - heard > LOST_S:
                raise
            state = RunState(Standing.WAITING, str(trouble))
        else:
            heard = person.clock()
            sent = sent or "sent to the printer" in state.words or "the job" in state.words
        if state.ended:
            return state
        late = wish.wait_s is not None and person.clock() - since >= wish.wait_s
        if state.loads is not None and late:
            raise Trouble(state.loads)
        if not sent and late and wish.wait_s is not None and person.clock() - since >= max(wish.wait_s, LOST_S):
            what = f"the printer does not take the job: {state.words}"
            raise Trouble(Finding(what, "Run the same again later.", kind="printer-unreachable", exit=Exit.SYSTEM))
        if state.words != said:
            person.say(state.words)
            said, since = state.words, since if state.loads else person.clock()
        elif sent and wish.wait_s is not None and person.clock() - since > STILL_S:
            what = f"nothing has changed for {STILL_S / 60:g} minutes: {state.words}"
            remedy = "Look at the printer; run the same again to learn what became of it."
            raise Trouble(Finding(what, remedy, kind="printer-unreachable", exit=Exit.SYSTEM))
        person.sleep(POLL_S)


def _ask_nozzles(printer: OpenPrinter, books: PrintLedger, person: Person) -> None:
    """Once an evening: a missing nozzle is a stripe on every garment. The evening lasts till noon."""
    evening = (person.now() - timedelta(hours=12)).date().isoformat()
    if printer.known.nozzles == evening:
        return
    answer = person.ask("Did this evening's nozzle check look right?")
    if answer is None:
        person.say("note: print a nozzle check before the first sheets of an evening")
    elif answer:
        books.remember_printer(replace(books.read_printer(printer.known.address), nozzles=evening))
    else:
        what = "the nozzle check did not look right"
        raise Trouble(Finding(what, "Clean the head and check again, then run the same.", kind="printer"))


def _print_test(
    printer: OpenPrinter, run: SheetRun, books: PrintLedger, options: Options, wish: PrintWish, person: Person
) -> OpenPrinter:
    """Print the page that measures the printer on the paper of a run; the way it went is remembered."""
    empty = PrintBatch("TEST", f"test {printer.client.address}", (run,), (), "", (1.0, 1.0), False)
    press = BatchPrinter(empty, printer, books, person.stamp, options.accept, True, person.step)
    ticket = press.make_run_ticket(run)
    for finding in refuse_findings(
        printer_findings(printer.report, _bare(run), ticket, press.find_path(ticket)), options.accept
    ):
        person.say(f"{finding.severity}: {finding}")
    name = printer.named.profile.name if printer.named.profile else "printer"
    with tempfile.TemporaryDirectory(prefix="impose-test-") as folder:
        page = write_calibration_page(run.paper, name, Path(folder) / "test.pdf", options)
        test = replace(run, pdf=page, sheets=(replace(run.sheets[0], number=0, page=0),), whole=True)
        state = _print_run(press, test, wish, person)
    if state.standing is not Standing.PRINTED:
        raise Trouble(Finding(f"the test page: {state.words}", "Run the same again.", kind="printer"))
    day = person.now().date().isoformat()
    address = str(printer.client.address)
    known = replace(books.read_printer(address), media_type=ticket.media_type, path=printer.path, tested=day)
    books.remember_printer(known)
    person.say(f"the test page is printed: follow its steps, then: impose calibrate --printer {name} --read “…”")
    return replace(printer, known=known)


def _bare(run: SheetRun) -> SheetRun:
    """A run without its edges: the test page measures them, and nothing of worth is cut off."""
    return replace(run, sheets=())
