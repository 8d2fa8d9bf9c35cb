"""Deliveries straight to a printer: each sheets PDF is a job, made, sent and followed by the ledger, once.

Nobody sits at the desk, so whatever a person must say is asked in `impose desk` and waits: another paper, a warning,
a job of which only the printer's tray can tell.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Collection
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from impose.desk.time_slices import Steps
from impose.errors import Trouble, quote_for_shell
from impose.files import RECORD_NAME
from impose.ledger.drops import DropLedger, PrintJob
from impose.ledger.print_jobs import PrintLedger
from impose.printing.batch_printer import BatchPrinter, RunState, Standing
from impose.printing.printer_access import OpenPrinter, named_printer, open_printer, refuse_unmarked
from impose.printing.sheet_runs import PrintBatch, SheetRun, read_batch
from impose.profiles.profiles import Profiles


class StillPrinting(OSError):
    """A PDF is not on paper yet, and why; `asks` where it waits for a person."""

    def __init__(self, words: str, asks: bool) -> None:
        super().__init__(words)
        self.words, self.asks = words, asks


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

    def drop_pdf(self, one: PrintJob, source: Path) -> Steps[None]:
        """Print one PDF, or go on where it stands. Raises `StillPrinting` until it is on paper."""
        yield
        if not source.exists():
            self._say(f"{source} is gone, so it was not printed")
            return self._drops.set_print(one, "printed")
        try:
            state = self._advance(one, source)
        except Trouble as trouble:
            self._printer = None
            raise self._waits(one, str(trouble), asks=True) from None
        if state.standing is Standing.PRINTED:
            self._drops.set_print(one, "printed")
            self._drops.write_fact(_fact(one.delivery), "")
            return None
        if state.standing is Standing.WAITING:
            raise self._waits(one, state.words, asks=state.loads is not None)
        number, desk = one.delivery, quote_for_shell(str(self._desk))
        remedy = f"impose desk {desk} --printed {number} or --print-again {number}"
        raise self._waits(one, f"{state.words}. Then: {remedy}", asks=True)

    def answer(self, delivery: int, source: Path, printed: bool) -> None:
        """What a person says of a delivery that asks: it is on paper, or it is to be printed (once more)."""
        if not printed:
            self._drops.write_fact(_agreed(delivery), "yes")
        record = source / RECORD_NAME
        if not record.exists():
            return
        batch = read_batch(record, record.read_bytes())
        for job in self._books.list_jobs_of(batch.record):
            if job.state == "unsure":
                note = "a person said so"
                self._books.move_job(job, "printed" if printed else "failed", note, _now())
        if printed:
            for one in self._drops.list_prints(delivery):
                self._drops.set_print(one, "printed")

    def _advance(self, one: PrintJob, source: Path) -> RunState:
        record = source.parent / RECORD_NAME
        batch = read_batch(record, record.read_bytes())
        run = next((run for run in batch.runs if run.pdf.name == one.file), None)
        if run is None:
            return RunState(Standing.ASKS, f"the record does not name {one.file}")
        press = BatchPrinter(
            self._agreed_to(one, batch), self._open(), self._books, _now, self._accepted, step=self._step
        )
        left = press.find_unprinted(run)
        if left is not None:  # what is on its way already was checked when it was sent
            press.check_runs([run])
        state = press.advance_run(run)
        return self._as_question(batch, run, state)

    def _agreed_to(self, one: PrintJob, batch: PrintBatch) -> PrintBatch:
        """The batch less its warnings, where a person has let the delivery go."""
        delivery = self._drops.read_delivery(one.delivery)
        agreed = (delivery is not None and delivery.accepted) or self._drops.read_fact(_agreed(one.delivery)) == "yes"
        return replace(batch, warnings=()) if agreed else batch

    def _as_question(self, batch: PrintBatch, run: SheetRun, state: RunState) -> RunState:
        """A job that somebody cancelled is not sent again by itself, even if surely nothing came out."""
        if state.standing is not Standing.FAILED:
            return state
        numbers = {sheet.number for sheet in run.sheets}
        for job in self._books.list_jobs_of(batch.record):
            if job.state == "failed" and numbers & set(job.sheets):
                last = job
        self._books.move_job(last, "unsure", last.note, _now())
        return RunState(Standing.ASKS, state.words)

    def _open(self) -> OpenPrinter:
        if self._printer is None:
            named = named_printer(self.name, self._profiles, os.environ)
            printer = open_printer(named, self._profiles, self._books, _nobody, self._say)
            self._printer = refuse_unmarked(printer, self._books, _nobody, self._say)
        return self._printer

    def _waits(self, one: PrintJob, words: str, asks: bool) -> StillPrinting:
        if self._drops.read_fact(_fact(one.delivery)) != words:
            self._drops.write_fact(_fact(one.delivery), words)
        return StillPrinting(words, asks)


def printing_words(drops: DropLedger, delivery: int) -> str:
    """Where the printing of a delivery stands, for `impose desk`; empty if nothing is known."""
    return drops.read_fact(_fact(delivery)) or ""


def _fact(delivery: int) -> str:
    return f"printing-{delivery}"


def _agreed(delivery: int) -> str:
    return f"print-agreed-{delivery}"


def _now() -> str:
    return datetime.now().isoformat(timespec="seconds")


def _nobody(question: str) -> None:
    """Nobody is there to be asked."""
