"""Deliveries straight to a printer: each sheets PDF is a job, made, sent and followed by the ledger, once.

Nobody sits at the desk, so whatever a person must say waits and is shown by the desk's own command: another paper, a
warning, a job of which only the printer's tray can tell. A printer may take seconds to answer, or never do it; so it
is spoken to in a thread of its own, and the desk goes on listening.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Collection
from concurrent.futures import Future, wait
from datetime import datetime
from pathlib import Path

from impose.desk.time_slices import Steps
from impose.errors import Exit, Trouble, quote_for_shell
from impose.files import RECORD_NAME
from impose.ledger.drops import DropLedger, PrintJob
from impose.ledger.print_jobs import PRINT_JOBS, PrintLedger
from impose.ledger.store import open_ledger
from impose.printing.batch_printer import BatchPrinter, RunState, Standing
from impose.printing.printer_access import OpenPrinter, PrintQuestion, find_named_printer, open_printer, refuse_unmarked
from impose.printing.sheet_runs import PrintBatch, SheetRun, read_batch
from impose.profiles.profiles import Profiles
from impose.remedies import Remedy
from impose.values import replace

WAIT_S = 0.01
"""How long one step waits for the printer's thread."""

LOOK_S, ASK_S, AWAY_S = 1.0, 8.0, 30.0  # how soon to look again: at a job, for an answer, for a printer that is away


class StillPrinting(OSError):
    """A PDF is not on paper yet, why, and in how many seconds to look again; long enough to end a run with `once`."""

    def __init__(self, words: str, wait_s: float) -> None:
        super().__init__(words)
        self.words, self.wait_s = words, wait_s


class PrinterSink:
    """Prints PDFs of deliveries at one printer; the printer is asked anew after any trouble with it."""

    def __init__(
        self,
        name: str,
        desk: Path,
        profiles: Profiles,
        drops: DropLedger,
        accepted: Collection[str],
        say: Callable[[str], None],
        step: Callable[[str], None],
    ) -> None:
        self.name, self._desk, self._profiles, self._drops = name, desk, profiles, drops
        self._accepted, self._say, self._step = accepted, say, step
        self._books = PrintLedger(drops.ledger)
        self._printer: OpenPrinter | None = None

    def drop_pdf(self, job: PrintJob, source: Path) -> Steps[None]:
        """Print one PDF, or go on where it stands. Raises `StillPrinting` until it is on paper."""
        yield
        if not source.exists():
            self._say(f"{source} is gone, so it was not printed")
            return self._drops.set_print(job, "printed")
        try:
            state = yield from self._advance_aside(job, source)
        except Trouble as trouble:
            self._printer = None
            raise self._note_waiting(job, str(trouble), AWAY_S if trouble.exit is Exit.SYSTEM else ASK_S) from None
        if state.standing is Standing.PRINTED:
            self._drops.set_print(job, "printed")
            self._drops.write_fact(_name_fact(job.delivery), "")
            return None
        if state.standing is Standing.WAITING:
            raise self._note_waiting(job, state.words, LOOK_S if state.loads is None else ASK_S)
        remedy = Remedy("answer-print", desk=quote_for_shell(str(self._desk)), number=str(job.delivery))
        raise self._note_waiting(job, f"{state.words}. Then: {remedy}", ASK_S)

    def answer_print(self, number: int, sheets: Path, printed: bool) -> None:
        """What a person says of a delivery that asks: it is on paper, or it is to be printed (once more)."""
        delivery = self._drops.read_delivery(number)
        if delivery is None:
            return
        if not printed:
            self._drops.write_fact(_name_agreement(number), "yes")
        record = sheets / delivery.name / RECORD_NAME
        if not record.exists():
            return
        batch = read_batch(record, record.read_bytes())
        asked = [job for job in self._books.list_jobs_of(batch.record) if job.state == "unsure"]
        state, note = ("printed", "came out") if printed else ("failed", "did not come out")
        for job in asked:
            self._books.move_job(job, state, note, _tell_time())
        files = {job.file for job in asked}
        for pdf in self._drops.list_prints(number) if printed else ():
            if pdf.file in files or not files:  # a paper that was not asked about is still to be printed
                self._drops.set_print(pdf, "printed")

    def _advance_aside(self, job: PrintJob, source: Path) -> Steps[RunState]:
        """Go on with a job in a thread of its own; it ends with the watch, and the ledger says where it stood."""
        agreed, answer = self._is_agreed(job), Future[RunState]()

        def advance() -> None:
            try:
                with open_ledger(self._drops.ledger.path, [PRINT_JOBS]) as ledger:
                    answer.set_result(self._advance_job(PrintLedger(ledger), job, source, agreed))
            except BaseException as error:  # whatever it is belongs to the watch
                answer.set_exception(error)

        threading.Thread(target=advance, daemon=True, name="impose-printer").start()
        while not wait([answer], WAIT_S).done:
            yield
        return answer.result()

    def _advance_job(self, books: PrintLedger, job: PrintJob, source: Path, agreed: bool) -> RunState:
        record = source.parent / RECORD_NAME
        batch = read_batch(record, record.read_bytes())
        run = next((run for run in batch.runs if run.pdf.name == job.file), None)
        if run is None:
            return RunState(Standing.ASKS, f"the record does not name {job.file}")
        if agreed:
            batch = replace(batch, warnings=())
        press = BatchPrinter(batch, self._open_printer(books), books, _tell_time, self._accepted, step=self._step)
        left = press.find_unprinted(run)
        if left is not None:  # what is on its way already was checked when it was sent
            press.check_runs([run])
        state = press.advance_run(run)
        return self._ask_about_cancelled(books, batch, run, state)

    def _is_agreed(self, job: PrintJob) -> bool:
        """Whether a person has let the delivery go, whatever its warnings."""
        delivery = self._drops.read_delivery(job.delivery)
        accepted = delivery is not None and delivery.accepted
        return bool(accepted) or self._drops.read_fact(_name_agreement(job.delivery)) == "yes"

    def _ask_about_cancelled(self, books: PrintLedger, batch: PrintBatch, run: SheetRun, state: RunState) -> RunState:
        """A job that somebody cancelled is not sent again by itself, even if surely nothing came out."""
        if state.standing is not Standing.FAILED:
            return state
        numbers = {sheet.number for sheet in run.sheets}
        for job in books.list_jobs_of(batch.record):
            if job.state == "failed" and numbers & set(job.sheets):
                last = job
        books.move_job(last, "unsure", last.note, _tell_time())
        return RunState(Standing.ASKS, state.words)

    def _open_printer(self, books: PrintLedger) -> OpenPrinter:
        if self._printer is None:
            named = find_named_printer(self.name, self._profiles, os.environ)
            printer = open_printer(named, self._profiles, books, _refuse_question, self._say)
            self._printer = refuse_unmarked(printer, books, _refuse_question, self._say)
        return self._printer

    def _note_waiting(self, job: PrintJob, words: str, wait_s: float) -> StillPrinting:
        if self._drops.read_fact(_name_fact(job.delivery)) != words:
            self._drops.write_fact(_name_fact(job.delivery), words)
            self._say(f"delivery {job.delivery}: {words}")
        return StillPrinting(words, wait_s)


def describe_printing(drops: DropLedger, delivery: int) -> str:
    """Where the printing of a delivery stands, for `impose desk`; empty if nothing is known."""
    return drops.read_fact(_name_fact(delivery)) or ""


def _name_fact(delivery: int) -> str:
    return f"printing-{delivery}"


def _name_agreement(delivery: int) -> str:
    return f"print-agreed-{delivery}"


def _tell_time() -> str:
    return datetime.now().isoformat(timespec="seconds")


def _refuse_question(question: PrintQuestion) -> None:
    """Nobody is there to be asked."""
