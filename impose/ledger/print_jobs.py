"""What was sent to printers, and what is known of each: the tables behind printing exactly once.

A job goes from `begun` (written before anything is sent to the printer) over `made` (the printer gave it a number) and
`sending` (written before the first byte of its document) to `sent` (the printer has all of it), and ends as `printed`,
`failed` (surely nothing came out) or `unsure` (only a person can know). No secret is kept: a certificate is known by
its SHA-256. No clock is read here.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence

from impose.ledger.store import Ledger, LedgerPart
from impose.values import FrozenStruct, replace

PRINT_JOBS = LedgerPart(
    "printing",
    (
        (
            """CREATE TABLE print_job (
                number INTEGER PRIMARY KEY AUTOINCREMENT, record TEXT NOT NULL, file TEXT NOT NULL,
                sheets TEXT NOT NULL, printer TEXT NOT NULL, name TEXT NOT NULL, job INTEGER, state TEXT NOT NULL,
                note TEXT NOT NULL DEFAULT '', at TEXT NOT NULL, ended TEXT) STRICT""",
            "CREATE INDEX print_job_record ON print_job (record)",
            "CREATE INDEX print_job_open ON print_job (printer) WHERE ended IS NULL",
            """CREATE TABLE print_printer (
                address TEXT PRIMARY KEY, certificate TEXT, sublimation INTEGER NOT NULL DEFAULT 0,
                media_type TEXT NOT NULL DEFAULT '', path TEXT NOT NULL DEFAULT '', tested TEXT NOT NULL DEFAULT '',
                nozzles TEXT NOT NULL DEFAULT '') STRICT""",
        ),
    ),
)

NEVER_SENT = "was never sent"  # the note of a job that a crash cut short before its pages

OPEN_STATES = ("begun", "made", "sending", "sent")


class PrinterJob(FrozenStruct):
    """One job: the record it is of (SHA-256 of its bytes), its PDF and sheets, and the printer's number for it.

    `at` is when it was begun, `note` what is said of it: "was cancelled".
    """

    number: int
    record: str
    file: str
    sheets: tuple[int, ...]
    printer: str
    name: str
    job: int | None
    state: str
    note: str
    at: str = ""

    @property
    def is_open(self) -> bool:
        """Whether it is still on its way."""
        return self.state in OPEN_STATES

    @property
    def given_up_there(self) -> bool:
        """Whether somebody cancelled it at the printer, or the printer gave it up, before anything came out."""
        return self.state == "failed" and self.job is not None and self.note != NEVER_SENT


class KnownPrinter(FrozenStruct):
    """What is remembered of a printer: certificate, ink, and with what its test page was printed."""

    address: str
    certificate: str | None = None
    sublimation: bool = False
    media_type: str = ""
    path: str = ""  # straight or queue, as the test page went
    tested: str = ""  # the day of the test page
    nozzles: str = ""  # the evening on which its nozzle check was last said to be right


class PrintLedger:
    """The printing part of a ledger, one transaction a method."""

    def __init__(self, ledger: Ledger) -> None:
        self.ledger = ledger

    def begin_job(self, job: PrinterJob, at: str) -> PrinterJob:
        """Write down a job that is about to be made, with a name that no other has."""
        with self.ledger.begin_change() as db:
            tries = db.execute("SELECT count(*) FROM print_job WHERE name LIKE ? || '%'", (job.name,)).fetchone()[0]
            name = f"{job.name}-{tries + 1}"
            row = db.execute(
                "INSERT INTO print_job (record, file, sheets, printer, name, state, at) VALUES (?, ?, ?, ?, ?, ?, ?)",
                (job.record, job.file, json.dumps(job.sheets), job.printer, name, "begun", at),
            )
            return replace(job, number=int(row.lastrowid or 0), name=name, state="begun")

    def move_job(self, job: PrinterJob, state: str, note: str = "", at: str | None = None) -> PrinterJob:
        """Write down what has become of a job; `at` is given where that is its end."""
        moved = replace(job, state=state, note=note)
        with self.ledger.begin_change() as db:
            db.execute(
                "UPDATE print_job SET state = ?, note = ?, job = ?, ended = ? WHERE number = ?",
                (state, note, moved.job, at, job.number),
            )
        return moved

    def list_jobs_of(self, record: str) -> list[PrinterJob]:
        """All jobs of a record, oldest first."""
        return self._list_jobs_where("record = ?", record)

    def _list_jobs_where(self, where: str, value: object) -> list[PrinterJob]:
        with self.ledger.begin_read() as db:
            rows = db.execute(f"SELECT * FROM print_job WHERE {where} ORDER BY number", (value,)).fetchall()
        return [_read_job_row(row) for row in rows]

    def read_printer(self, address: str) -> KnownPrinter:
        """What is remembered of a printer; nothing of one that was never spoken to."""
        with self.ledger.begin_read() as db:
            row = db.execute("SELECT * FROM print_printer WHERE address = ?", (address,)).fetchone()
        return KnownPrinter(address) if row is None else _read_printer_row(row)

    def remember_printer(self, printer: KnownPrinter) -> None:
        """Write down all that is known of a printer."""
        values = (
            printer.address, printer.certificate, int(printer.sublimation), printer.media_type, printer.path,
            printer.tested, printer.nozzles,
        )  # fmt: skip
        with self.ledger.begin_change() as db:
            db.execute("INSERT OR REPLACE INTO print_printer VALUES (?, ?, ?, ?, ?, ?, ?)", values)


def find_printed_sheets(jobs: Sequence[PrinterJob]) -> dict[int, PrinterJob]:
    """Sheets that are printed, on their way, or may be printed, each with its last job."""
    return {sheet: job for job in jobs if job.state != "failed" for sheet in job.sheets}


def _read_job_row(row: sqlite3.Row) -> PrinterJob:
    return PrinterJob(
        row["number"], row["record"], row["file"], tuple(json.loads(row["sheets"])), row["printer"], row["name"],
        row["job"], row["state"], row["note"], row["at"],
    )  # fmt: skip


def _read_printer_row(row: sqlite3.Row) -> KnownPrinter:
    return KnownPrinter(
        row["address"], row["certificate"], bool(row["sublimation"]), row["media_type"], row["path"], row["tested"],
        row["nozzles"],
    )  # fmt: skip
