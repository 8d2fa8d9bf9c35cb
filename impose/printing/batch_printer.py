"""A batch at a printer, step by step: what is printed already, what is on its way, what may go now, what asks.

`advance` does for one run what can be done now and says where it stands; the command, the desk and any other door call
it until the run has ended. All that must be remembered is in the ledger, so any step may be the last of its process.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from contextlib import nullcontext
from enum import StrEnum
from pathlib import Path

from impose.errors import Exit, Finding, Severity, Trouble
from impose.files import open_scratch_folder
from impose.ledger.print_jobs import PrinterJob, PrintLedger, find_printed_sheets
from impose.pages.pdf.raster import write_excerpt
from impose.printing.checks import (
    PrintPath,
    describe_size,
    find_batch_faults,
    find_loaded_fault,
    find_printer_faults,
    refuse_findings,
)
from impose.printing.ipp_client import PrinterRefusal
from impose.printing.ipp_encoding import Operation, Tag, make_attribute
from impose.printing.job_ticket import RASTER, JobTicket, make_ticket
from impose.printing.print_job import JobSender, PrinterBusy, Step, pass_step
from impose.printing.printer_access import OpenPrinter
from impose.printing.printer_attributes import list_asked, read_report
from impose.printing.pwg_raster import write_raster
from impose.printing.sender_lock import lock_sender
from impose.printing.sheet_runs import PrintBatch, SheetRun
from impose.printing.state_words import describe_printer_state
from impose.remedies import Remedy
from impose.values import FrozenStruct, replace


class Standing(StrEnum):
    """Where a run stands."""

    PRINTED = "printed"
    WAITING = "waiting"  # for the printer: it is at work, or a paper is to be loaded
    FAILED = "failed"  # surely nothing came out
    ASKS = "asks"  # only a person can know whether it was printed


class RunState(FrozenStruct):
    """Where a run stands, in a word and in words.

    `loads` is the stop while another paper lies in the printer; `sent` whether the printer has the pages.
    """

    standing: Standing
    words: str
    loads: Finding | None = None
    sent: bool = False

    @property
    def ended(self) -> bool:
        """Whether calling again changes nothing."""
        return self.standing is not Standing.WAITING


class BatchPrinter:
    """Prints the runs of one batch at one printer.

    `asked_after` is the number of the last job in the ledger when the person asked; the last there is if left out.
    `again` prints what was printed by then. A job that the printer or somebody there gave up since is not sent again.
    """

    def __init__(
        self,
        batch: PrintBatch,
        printer: OpenPrinter,
        books: PrintLedger,
        now: Callable[[], str],
        accepted: Collection[str] = (),
        again: bool = False,
        step: Step = pass_step,
        asked_after: int | None = None,
    ) -> None:
        self.batch, self.printer, self.books, self.accepted = batch, printer, books, accepted
        self.sender = JobSender(printer.client, books, printer.report, now, step)
        jobs = books.list_jobs_of(batch.record)
        self.asked_after = jobs[-1].number if jobs and asked_after is None else asked_after or 0
        ended = [job.number for job in jobs if again and not job.is_open and job.number <= self.asked_after]
        self._since = max(ended, default=0)

    # -- before anything is sent --------------------------------------------------------------------------------------

    def settle_jobs(self) -> None:
        """Find out what became of every job of this batch that was cut short.

        Another command may be sending it at this moment: only who holds the sender's lock knows that nobody does.
        """
        if not self._list_half_sent():
            return
        with lock_sender(self.books.ledger.path):
            for job in self._list_half_sent():
                self.sender.settle_job(job)

    def _list_half_sent(self) -> list[PrinterJob]:
        here = str(self.printer.client.address)
        return [job for job in self._list_jobs() if job.is_open and job.state != "sent" and job.printer == here]

    def find_unprinted(self, run: SheetRun) -> SheetRun | None:
        """A run less the sheets that are printed or may be; None if none is left, itself if all are."""
        done = find_printed_sheets(self._list_jobs())
        sheets = tuple(sheet for sheet in run.sheets if sheet.number not in done)
        if len(sheets) == len(run.sheets):
            return run
        return replace(run, sheets=sheets, whole=False) if sheets else None

    def check_runs(self, runs: Sequence[SheetRun]) -> list[Finding]:
        """Everything that must hold before anything is sent, but for the paper loaded. Raises `Trouble`."""
        return refuse_findings(self.list_findings(runs), self.accepted)

    def list_findings(self, runs: Sequence[SheetRun]) -> list[Finding]:
        """What is found against printing, each once: of the batch, and of the printer."""
        found = find_batch_faults(self.batch, self.printer.named.profile)
        for run in runs:
            ticket = self.make_run_ticket(run)
            found += find_printer_faults(self.printer.report, run, ticket, self.find_path(ticket))
            found += self._check_colours(ticket)
        return list(dict.fromkeys(found))

    def _check_colours(self, ticket: JobTicket) -> list[Finding]:
        if not (self.batch.output and ticket.document_format == RASTER):
            return []
        what = "colours were turned into a printer's own profile, and this printer is sent sRGB dots"
        return [Finding(what, Remedy("colours-for-dots"), severity=Severity.WARN, kind="output-profile")]

    def make_run_ticket(self, run: SheetRun) -> JobTicket:
        """How a run is to be printed: with the profile's media type, or the test page's."""
        profile, known = self.printer.named.profile, self.printer.known
        wished = (profile.media_type if profile else "") or known.media_type
        return make_ticket(self.printer.report, run.width_mm, run.height_mm, run.paper, wished)

    def find_path(self, ticket: JobTicket) -> PrintPath:
        """The way a job goes, beside the way the test page went."""
        profile, known = self.printer.named.profile, self.printer.known
        tested = (profile.path if profile else "") or known.path
        tested_type = (profile.media_type if profile and profile.path else "") or known.media_type
        return PrintPath(self.printer.path, ticket.media_type, tested, tested_type)

    # -- step by step -------------------------------------------------------------------------------------------------

    def advance_run(self, run: SheetRun) -> RunState:
        """Do for a run what can be done now. Raises `Trouble` where the printer refuses or cannot be reached."""
        job = self._find_last_job(run)
        if job is not None and job.is_open and job.printer != str(self.printer.client.address):
            remedy = Remedy("name-that-printer", printer=job.printer)
            return RunState(Standing.ASKS, f"{_name_sheets(job.sheets)}: on the way to {job.printer}. {remedy}")
        if job is not None and job.state == "sent":
            return self._follow_job(job)
        if job is not None and not job.is_open:
            return _describe_ended(job)
        return self._send_run(run)

    def take_back_run(self, run: SheetRun) -> RunState | None:
        """Cancel what of a run is on its way at this printer, and say what became of it; None if nothing was."""
        numbers, ended = {sheet.number for sheet in run.sheets}, None
        # Whoever is making the job now would send it all the same; pages that are on their way already can be stopped.
        being_made = any(job.state in ("begun", "made") for job in self._list_half_sent())
        with lock_sender(self.books.ledger.path) if being_made else nullcontext():
            for job in self._list_jobs():
                if job.is_open and numbers & set(job.sheets) and job.printer == str(self.printer.client.address):
                    ended = self.sender.take_back_job(job)
        if ended is None:
            return None
        if ended.is_open:
            return RunState(Standing.WAITING, f"{_name_sheets(ended.sheets)}: asked to be cancelled", sent=True)
        return _describe_ended(ended)

    def describe_run(self, run: SheetRun) -> RunState | None:
        """Where a run stands, with nothing sent; None if it was never begun."""
        job = self._find_last_job(run)
        if job is None or not job.is_open:
            return None if job is None else _describe_ended(job)
        if job.state == "sent" and job.printer == str(self.printer.client.address):
            return self._follow_job(job)
        stands = "on its way" if job.state == "sent" else "cut short while it was sent"
        return RunState(Standing.WAITING, f"{_name_sheets(job.sheets)}: {stands} at {job.printer}")

    def find_not_loaded(self, run: SheetRun) -> Finding | None:
        """The stop where the printer says that another paper lies in it. It is asked anew: papers are changed."""
        if self.printer.report.loaded is None:
            return None
        answer = self.printer.client.ask_printer(Operation.GET_PRINTER_ATTRIBUTES, [list_asked()])
        return find_loaded_fault(read_report(answer.find_group(Tag.PRINTER)), run)

    def _list_jobs(self) -> list[PrinterJob]:
        return [job for job in self.books.list_jobs_of(self.batch.record) if job.number > self._since]

    def _find_last_job(self, run: SheetRun) -> PrinterJob | None:
        """The last job of the run's sheets that counts: what surely was not printed does not, but for who asks now."""
        numbers = {sheet.number for sheet in run.sheets}
        jobs = [job for job in self._list_jobs() if numbers & set(job.sheets)]
        counted = [j for j in jobs if j.state != "failed" or (j.given_up_there and j.number > self.asked_after)]
        return counted[-1] if counted else None

    def _follow_job(self, job: PrinterJob) -> RunState:
        found = self.sender.look_up_job(job)
        if found is None:
            return _describe_ended(self.sender.settle_job(job))
        if found.ended:
            return _describe_ended(self.sender.conclude_job(job, found))
        told = [found.words, *describe_printer_state(self._ask_reasons())]
        return RunState(Standing.WAITING, f"{_name_sheets(job.sheets)}: the job {'; '.join(told)}", sent=True)

    def _ask_reasons(self) -> tuple[str, ...]:
        """What keeps the printer, asked anew."""
        wanted = make_attribute("requested-attributes", Tag.KEYWORD, "printer-state-reasons")
        try:
            answer = self.printer.client.ask_printer(Operation.GET_PRINTER_ATTRIBUTES, [wanted])
        except PrinterRefusal:
            return ()
        return read_report(answer.find_group(Tag.PRINTER)).reasons

    def _send_run(self, run: SheetRun) -> RunState:
        with lock_sender(self.books.ledger.path):
            job = self._find_last_job(run)
            if job is not None and job.is_open and job.state != "sent":
                job = self.sender.settle_job(job)
            if job is not None and job.state != "failed":  # another command was first, or a crash is settled
                return self._follow_job(job) if job.state == "sent" else _describe_ended(job)
            stop = self.find_not_loaded(run)
            if stop is not None:
                return RunState(Standing.WAITING, f"waiting: {stop.what}. {stop.remedy}", stop)
            return self._send_now(run)

    def _send_now(self, run: SheetRun) -> RunState:
        ticket = self.make_run_ticket(run)
        paper = describe_size(run.width_mm, run.height_mm).partition(" (")[0]
        # The batch's code and the paper: nothing of a customer leaves for the printer's own list of jobs.
        name = f"{self.batch.code} {paper} {self.batch.record[:6]}"
        address = str(self.printer.client.address)
        numbers = tuple(sheet.number for sheet in run.sheets)
        wanted = PrinterJob(0, self.batch.record, run.pdf.name, numbers, address, name, None, "begun", "")
        self.sender.validate_job(ticket, name)
        with open_scratch_folder() as folder:
            document = _prepare_document(run, ticket, folder)
            try:
                job = self.sender.send_job(wanted, ticket, document)
            except PrinterBusy:
                return RunState(Standing.WAITING, "the printer is at work on another job")
        return RunState(Standing.WAITING, f"{_name_sheets(job.sheets)}: sent to the printer", sent=True)


def _prepare_document(run: SheetRun, ticket: JobTicket, folder: Path) -> Path:
    """What is sent: the PDF as it was delivered, the pages wanted of it, or their dots."""
    pages = [sheet.page for sheet in run.sheets]
    if ticket.resolution is not None:
        out = folder / "sheets.pwg"
        media = (run.paper, ticket.media_type)
        write_raster(run.pdf, pages, ticket.resolution.across, media, out)
        return out
    if run.whole:
        return run.pdf
    out = folder / "sheets.pdf"
    write_excerpt(run.pdf, pages, out)
    return out


def _describe_ended(job: PrinterJob) -> RunState:
    sheets = _name_sheets(job.sheets)
    if job.state == "printed":
        return RunState(Standing.PRINTED, f"{sheets}: printed")
    if job.state == "failed":
        return RunState(Standing.FAILED, f"{sheets}: not printed, the job {job.note}")
    return RunState(Standing.ASKS, f"{sheets}: the job {job.note}; look whether it came out")


def _name_sheets(numbers: Sequence[int]) -> str:
    return f"sheet {numbers[0]}" if len(numbers) == 1 else f"sheets {number_words(numbers)}"


def number_words(numbers: Sequence[int]) -> str:
    """Numbers as a person types them: 1-4,7."""
    parts: list[list[int]] = []
    for number in sorted(numbers):
        if parts and number == parts[-1][1] + 1:
            parts[-1][1] = number
        else:
            parts.append([number, number])
    return ",".join(str(first) if first == last else f"{first}-{last}" for first, last in parts)


def refuse_printed(jobs: Sequence[PrinterJob]) -> Trouble:
    """What is said where every sheet asked for is printed, or may be."""
    done = find_printed_sheets(jobs)
    unsure = sorted(sheet for sheet, job in done.items() if job.state == "unsure")
    if unsure:
        note = done[unsure[0]].note
        what = f"only you can know whether {_name_sheets(unsure)} came out: the job {note}"
        remedy = Remedy("print-unsure-again", sheets=number_words(unsure))
    else:
        what = f"{_name_sheets(sorted(done))}: printed already"
        remedy = Remedy("print-printed-again")
    return Trouble(Finding(what, remedy, kind="printed-already", exit=Exit.USAGE))
