"""One job at one printer, exactly once: written down before each step, found again after a crash, followed to its end.

The printer gives a job its number before it has any of its pages (Create-Job, then Send-Document; RFC 8011, 4.2.4 and
4.3.1), and each step is in the ledger before it is taken. A job without its document prints nothing, so what was cut
short before that is safely made anew; after it, only the printer can say what became of it, and where it cannot, only a
person can.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import NEVER_SENT, PrinterJob, PrintLedger
from impose.printing.ipp_client import NOT_FOUND, IppClient, PrinterRefusal
from impose.printing.ipp_encoding import Attribute, Group, Message, Operation, Tag, make_attribute
from impose.printing.job_ticket import JobTicket
from impose.printing.printer_attributes import PrinterReport
from impose.printing.state_words import describe_job_state
from impose.remedies import Remedy
from impose.values import FrozenStruct, replace

PENDING, HELD, PROCESSING, STOPPED, CANCELED, ABORTED, COMPLETED = range(3, 10)  # job-state (RFC 8011, 5.3.7)
BUSY_STATUS = (0x0502, 0x0505, 0x0506, 0x0507)  # unavailable, temporary error, not accepting, busy
UNFINISHED = frozenset({"job-incoming", "job-data-insufficient"})
FORGOTTEN = "is no longer known to the printer"
_ASKED = (
    "job-id", "job-name", "job-state", "job-state-reasons", "job-media-sheets-completed", "job-impressions-completed",
    "time-at-processing",
)  # fmt: skip

STEPS = (
    "job:written",  # the ledger has the line, the printer knows nothing
    "job:answered",  # the printer made the job, the ledger has no number for it
    "job:made",  # the ledger has the number
    "job:sending",  # the ledger says that the document is about to go
    "job:received",  # the printer has all of it, the ledger does not know
    "job:sent",  # the ledger knows
    "job:ended",  # the ledger knows how it ended
)
Step = Callable[[str], None]


def pass_step(name: str) -> None:
    """What the product passes; tests pass one that kills."""


class PrinterBusy(Exception):
    """The printer is at work on another job and takes no second one."""


class JobReport(FrozenStruct):
    """What the printer says of a job; `begun` is whether it ever began to print, None where it does not say."""

    number: int
    name: str
    state: int
    reasons: tuple[str, ...]
    sheets: int | None
    begun: bool | None

    @property
    def words(self) -> str:
        """Its state in plain words."""
        return describe_job_state(self.state, self.reasons)

    @property
    def ended(self) -> bool:
        """Whether nothing more will come of it."""
        return self.state in (CANCELED, ABORTED, COMPLETED)


class JobSender:
    """Makes, sends, settles and follows jobs at one printer. `now` gives the time as it stands in the ledger."""

    def __init__(
        self,
        client: IppClient,
        books: PrintLedger,
        report: PrinterReport,
        now: Callable[[], str],
        step: Step = pass_step,
    ) -> None:
        self.client, self.books, self.report, self.now, self.step = client, books, report, now, step

    # -- sending ------------------------------------------------------------------------------------------------------

    def validate_job(self, ticket: JobTicket, name: str) -> None:
        """Ask whether the printer would take such a job (RFC 8011, 4.2.3). Raises `Trouble` (refused)."""
        if Operation.VALIDATE_JOB not in self.report.operations:
            return
        try:
            answer = self.client.ask_printer(Operation.VALIDATE_JOB, _job_said(name, ticket), ticket.attributes)
        except PrinterRefusal as refusal:
            if refusal.status in BUSY_STATUS:
                return
            raise _make_not_taken(refusal.words or "no reason given", refusal.unsupported) from None
        _refuse_ignored(answer)

    def send_job(self, wanted: PrinterJob, ticket: JobTicket, document: Path) -> PrinterJob:
        """Make the job and send its document; the job as it stands in the ledger then.

        Raises `PrinterBusy`, or `Trouble`; what is then to be made of the job is in the ledger, and `settle` does it.
        """
        job = self.books.begin_job(wanted, self.now())
        self.step("job:written")
        if Operation.CREATE_JOB not in self.report.operations:
            return self._print_at_once(job, ticket, document)
        job = self._make_job(job, ticket)
        job = self.books.move_job(job, "sending")
        self.step("job:sending")
        said = [
            make_attribute("job-id", Tag.INTEGER, job.job),
            make_attribute("document-format", Tag.MIME, ticket.document_format),
            make_attribute("last-document", Tag.BOOLEAN, True),
        ]
        return self._send_document(job, Operation.SEND_DOCUMENT, said, (), document)

    def _make_job(self, job: PrinterJob, ticket: JobTicket) -> PrinterJob:
        try:
            answer = self.client.ask_printer(Operation.CREATE_JOB, _job_said(job.name, None), ticket.attributes)
        except PrinterRefusal as refusal:
            self.books.move_job(job, "failed", f"was refused ({refusal.words or 'no reason given'})", self.now())
            if refusal.status in BUSY_STATUS:
                raise PrinterBusy(refusal.words) from None
            raise _make_not_taken(refusal.words or "no reason given", refusal.unsupported) from None
        self.step("job:answered")
        number = answer.find_group(Tag.JOB).find_first("job-id")
        if not isinstance(number, int) or isinstance(number, bool):
            self.books.move_job(job, "failed", "was given no number by the printer", self.now())
            raise _make_not_taken("it gives the job no number", ())
        job = self.books.move_job(replace(job, job=number), "made")
        self.step("job:made")
        try:
            _refuse_ignored(answer)
        except Trouble:
            self._cancel_job(job)
            note = "was taken back: the printer would have ignored a part of it"
            self.books.move_job(job, "failed", note, self.now())
            raise
        return job

    def _print_at_once(self, job: PrinterJob, ticket: JobTicket, document: Path) -> PrinterJob:
        """A printer without Create-Job takes job and document in one; after a crash the job is found by its name."""
        job = self.books.move_job(job, "sending")
        self.step("job:sending")
        return self._send_document(job, Operation.PRINT_JOB, _job_said(job.name, ticket), ticket.attributes, document)

    def _send_document(
        self,
        job: PrinterJob,
        operation: Operation,
        said: Sequence[Attribute],
        asked: Sequence[Attribute],
        document: Path,
    ) -> PrinterJob:
        try:
            answer = self.client.ask_printer(operation, said, asked, document)
        except PrinterRefusal as refusal:
            job = self.settle_job(job)
            if job.state != "sent":
                if refusal.status in BUSY_STATUS and job.state == "failed":
                    raise PrinterBusy(refusal.words) from None
                raise _make_not_taken(refusal.words or "it refused the pages", refusal.unsupported) from None
            return job
        number = answer.find_group(Tag.JOB).find_first("job-id")
        if job.job is None and isinstance(number, int):
            job = replace(job, job=number)
        self.step("job:received")
        job = self.books.move_job(job, "sent")
        self.step("job:sent")
        return job

    # -- after a crash ------------------------------------------------------------------------------------------------

    def settle_job(self, job: PrinterJob) -> PrinterJob:
        """Find out what became of a job that was cut short, and write it down.

        `failed` is said only where surely nothing was printed, `unsure` where nobody but a person can know.
        """
        if not job.is_open:
            return job
        if job.state in ("begun", "made"):
            return self._give_up_empty(job)
        found = self.find_job(job)
        if found is None:
            note = FORGOTTEN if job.state == "sent" else "is not known to the printer"
            return self._end_job(job, "unsure", note)
        job = replace(job, job=found.number)
        if not found.ended and UNFINISHED & set(found.reasons) and job.state == "sending":
            waited = found.state in (PENDING, HELD)
            self._cancel_found(found, job)  # nobody is left to send the rest
            found = self.look_up_job(job) or found
            if waited and found.begun is None:
                found = replace(found, begun=False)  # it was waiting for the rest of its pages, and none came
        if not found.ended:
            return self.books.move_job(job, "sent")
        return self.conclude_job(job, found)

    def _give_up_empty(self, job: PrinterJob) -> PrinterJob:
        """A job whose document never left: cancelled at the printer, if it is there, so that it does not wait."""
        found = self.find_job(job)
        if found is not None and not found.ended:
            self._cancel_found(found, job)
        return self._end_job(job, "failed", NEVER_SENT)

    def take_back_job(self, job: PrinterJob) -> PrinterJob:
        """Cancel a job and write down what became of it; one that is printed by then stays so."""
        if not job.is_open or job.state != "sent":
            return self.settle_job(job)
        found = self.find_job(job)
        if found is not None and not found.ended:
            self._cancel_found(found, job)
            found = self.look_up_job(replace(job, job=found.number))
        if found is None:
            return self._end_job(job, "unsure", FORGOTTEN)
        job = replace(job, job=found.number)
        return self.conclude_job(job, found) if found.ended else job

    def conclude_job(self, job: PrinterJob, found: JobReport) -> PrinterJob:
        """Write down how an ended job ended; one that ended short, or with errors, is for a person to look at."""
        short = found.sheets is not None and 0 < found.sheets < len(job.sheets)
        if found.state == COMPLETED and (short or "job-completed-with-errors" in found.reasons):
            told = f", but the printer counted {found.sheets} of {len(job.sheets)} sheets" if short else ""
            return self._end_job(job, "unsure", f"{found.words}{told}")
        if found.state == COMPLETED:
            return self._end_job(job, "printed", found.words)
        surely_nothing = found.begun is False
        return self._end_job(job, "failed" if surely_nothing else "unsure", found.words)

    def _end_job(self, job: PrinterJob, state: str, note: str) -> PrinterJob:
        job = self.books.move_job(job, state, note, self.now())
        self.step("job:ended")
        return job

    # -- looking ------------------------------------------------------------------------------------------------------

    def find_job(self, job: PrinterJob) -> JobReport | None:
        """The job at the printer: by its number if that still carries its name, else by its name."""
        found = self.look_up_job(job) if job.job is not None else None
        return found or next((listed for listed in self._list_at_printer() if listed.name == job.name), None)

    def look_up_job(self, job: PrinterJob) -> JobReport | None:
        """What the printer says of a job by its number (RFC 8011, 4.3.4); None if it is not, or no longer, ours."""
        said = [
            make_attribute("job-id", Tag.INTEGER, job.job),
            make_attribute("requested-attributes", Tag.KEYWORD, *_ASKED),
        ]
        try:
            answer = self.client.ask_printer(Operation.GET_JOB_ATTRIBUTES, said)
        except PrinterRefusal as refusal:
            if refusal.status in NOT_FOUND:
                return None
            # It may have the pages: that nothing was printed is more than anybody knows.
            what = f"the printer does not say how the job goes: {refusal.words or 'no reason given'}"
            remedy = "Run the same again to ask once more; what it has, it prints."
            raise Trouble(Finding(what, remedy, kind="printer", exit=Exit.SYSTEM)) from None
        found = _read_job(answer.find_group(Tag.JOB))
        # A printer that was switched off may count from one again: the number alone proves nothing.
        return found if found is not None and found.name in (job.name, "") else None

    def _list_at_printer(self) -> Iterator[JobReport]:
        for which in ("not-completed", "completed"):
            said = [
                make_attribute("which-jobs", Tag.KEYWORD, which),
                make_attribute("requested-attributes", Tag.KEYWORD, *_ASKED),
            ]
            try:
                answer = self.client.ask_printer(Operation.GET_JOBS, said)
            except PrinterRefusal:
                continue
            for group in answer.find_groups(Tag.JOB):
                found = _read_job(group)
                if found is not None:
                    yield found

    def _cancel_found(self, found: JobReport, job: PrinterJob) -> None:
        """Cancel a job by what the printer says of it; one that does not bear our name may be somebody else's."""
        if found.name == job.name:
            self._cancel_job(replace(job, job=found.number))

    def _cancel_job(self, job: PrinterJob) -> None:
        """Cancel a job of ours (RFC 8011, 4.3.3); one that has ended meanwhile is left as it is."""
        try:
            self.client.ask_printer(Operation.CANCEL_JOB, [make_attribute("job-id", Tag.INTEGER, job.job)])
        except PrinterRefusal:
            return


def _job_said(name: str, ticket: JobTicket | None) -> list[Attribute]:
    said = [
        make_attribute("job-name", Tag.NAME, name),
        # The printer is to refuse what it cannot do, not to put something else in its place (RFC 8011, 4.2.1.1).
        make_attribute("ipp-attribute-fidelity", Tag.BOOLEAN, True),
    ]
    if ticket is not None:
        said.append(make_attribute("document-format", Tag.MIME, ticket.document_format))
    return said


def _refuse_ignored(answer: Message) -> None:
    """An answer that says yes and lists what it will ignore is a no."""
    ignored = [attribute.name for group in answer.find_groups(Tag.UNSUPPORTED) for attribute in group.attributes]
    if ignored:
        raise _make_not_taken("it would ignore a part of it", ignored)


def _make_not_taken(words: str, unsupported: Sequence[str]) -> Trouble:
    what = f"the printer refuses the job: {words}" + (f" ({', '.join(unsupported)})" if unsupported else "")
    return Trouble(Finding(what, Remedy("see-what-it-takes"), kind="printer"))


def _read_job(group: Group) -> JobReport | None:
    number, state = group.find_first("job-id"), group.find_first("job-state")
    if not isinstance(number, int) or not isinstance(state, int):
        return None
    name = group.find_first("job-name")
    reasons = tuple(value.data for value in group.find_values("job-state-reasons") if isinstance(value.data, str))
    sheets = group.find_first("job-media-sheets-completed")
    begun: bool | None = None
    if group.find_values("time-at-processing"):  # no-value until it begins (RFC 8011, 5.3.14.2)
        begun = isinstance(group.find_first("time-at-processing"), int)
    return JobReport(
        number,
        name if isinstance(name, str) else "",
        state,
        reasons,
        sheets if isinstance(sheets, int) else None,
        begun,
    )
