"""The shop's memory of what it made: entered as folders are delivered, looked through by name, order or id.

Entering never keeps a delivery from its place: where the ledger cannot be used, `MadeWork.troubles` says so, and the
folder can be entered later (`add_folders`). Whoever opens the ledger next settles what a dead process left open.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from impose import files
from impose.errors import Finding, Severity, Trouble
from impose.ledger import made_records
from impose.ledger.made_records import MADE_RECORDS, MadePrint, MadeRecord, SpoiledCount
from impose.ledger.print_jobs import PRINT_JOBS, PrinterJob, PrintLedger
from impose.ledger.store import Ledger, open_ledger
from impose.remedies import Remedy
from impose.run.made_content import MadeContent, begin_made, fold_words, make_content, make_content_of
from impose.run.paper_stock import PaperStock, ReturnedSheets, list_takes, record_hash, tell_utc_time
from impose.values import ChangingStruct, FrozenStruct, field, replace

if TYPE_CHECKING:
    from impose.run.plan import Plan
    from impose.run.record_file import RecordFile
    from impose.sheet.charges import SpoilageRates

_ID = re.compile(r"(?:(?P<code>[0-9A-Za-z]{4})-)?(?P<id>[Tt][0-9]{3,}[A-Za-z0-9.-]*)")


class FoundPrint(FrozenStruct):
    """A print that was looked for: its record and row, where its folder is now, and when it was printed where.

    `place` is None where the folder is not found.
    """

    made: MadeRecord
    of: MadePrint
    place: Path | None
    printed: tuple[str, ...]


class SpoilageCount(FrozenStruct):
    """What was made again: prints by placement and cause, garments by name and cause; and how much was made."""

    prints: tuple[SpoiledCount, ...]
    blanks: tuple[tuple[str, str, int], ...]
    transfers: int
    garments: int


class MadeWork(ChangingStruct):
    """The index of one ledger."""

    path: Path
    now: Callable[[], str] = tell_utc_time
    troubles: list[Finding] = field(default_factory=list)

    def make_deliver_step(self, content: MadeContent, place: Path, deliver: files.Deliver) -> files.Deliver:
        """The last step of an output folder, entered in the index around `deliver`."""

        def enter_and_deliver(part: Path, put: Callable[[], None]) -> None:
            number = self._try_to(lambda db: begin_made(db, content, record_hash(part), place, self.now()))
            try:
                deliver(part, put)
            except BaseException:
                if number is not None:
                    self._try_to(lambda db: made_records.remove_open(db, number))
                raise
            if number is not None:
                self._try_to(lambda db: made_records.finish_record(db, number))

        return enter_and_deliver

    def remember_record(self, source: RecordFile) -> None:
        """Enter a record that lies in its folder, if it is not known: one of an earlier version, or moved since."""

        def remember(db: sqlite3.Connection) -> None:
            self._add(db, source)

        self._try_to(remember)

    def _add(self, db: sqlite3.Connection, source: RecordFile) -> bool:
        """Whether it was new, or lay somewhere else."""
        place = str(source.path.parent.absolute())
        known = made_records.list_records(db, record=source.sha256)
        if any(made.place == place for made in known):
            return False
        gone = [made for made in known if record_hash(Path(made.place)) != source.sha256]
        if gone:
            made_records.move_record(db, gone[-1].number, place)
        else:
            at = _file_day(source.path)
            content = make_content_of(source)
            made_records.finish_record(db, begin_made(db, content, source.sha256, Path(place), at))
        return True

    def find_prints(self, words: Sequence[str]) -> list[FoundPrint]:
        """The prints in whose order, wearer, garment, artwork or words every word stands; an id finds its transfer.

        Records whose folder another delivery has taken count only if they were printed. Raises `Trouble`.
        """
        if not self.path.exists():
            return []
        code, ident, rest = _part_words(words)
        with self._open_ledger(printing=True) as ledger:
            with ledger.begin_read() as db:
                found = made_records.find_prints(db, [fold_words(word) for word in rest], code, ident)
            books = PrintLedger(ledger)
            jobs = {record: books.list_jobs_of(record) for record in {made.record for made, _ in found}}
        places = {
            made.number: Path(made.place) if record_hash(Path(made.place)) == made.record else None
            for made in {made.number: made for made, _ in found}.values()
        }
        return [
            FoundPrint(made, of, places[made.number], tuple(_describe_jobs(jobs[made.record])))
            for made, of in found
            if made.state == "made" or _list_printed(jobs[made.record])
        ]

    def count_spoilage(self, since: str = "") -> SpoilageCount:
        """What was made again, and out of how much. Raises `Trouble`."""
        if not self.path.exists():
            return SpoilageCount((), (), 0, 0)
        with self._open_ledger() as ledger, ledger.begin_read() as db:
            return SpoilageCount(
                tuple(made_records.count_spoiled(db, since)),
                tuple(made_records.count_blanks(db, since)),
                *made_records.sum_made(db, since),
            )

    def read_spoilage(self, least: int) -> SpoilageRates | None:
        """The shares that were spoiled or lost by the shop's own count; None before `least` transfers were made again.

        What was never printed was not spoiled.
        """
        from impose.sheet.charges import SpoilageRates

        count = self.count_spoilage()
        again = sum(spoiled.prints for spoiled in count.prints if spoiled.because != "unprinted")
        if again < least or not count.transfers or not count.garments:
            return None
        blanks = sum(number for _, _, number in count.blanks)
        told = f"{again} of {count.transfers} prints and {blanks} of {count.garments} blanks, by your own count"
        return SpoilageRates(Fraction(again, count.transfers), Fraction(blanks, count.garments), told)

    def _try_to(self, work: Callable[[sqlite3.Connection], int | None]) -> int | None:
        """Do a step of the index; what keeps it from being done is noted, and keeps nothing else from being done."""
        try:
            with self._open_ledger() as ledger, ledger.begin_change() as db:
                return work(db)
        except Trouble as trouble:
            self.troubles = [_soften(finding) for finding in trouble.findings]
        except (OSError, sqlite3.Error) as error:
            self.troubles = [_soften(Finding(f"the ledger {self.path} cannot be used: {error}", kind="ledger"))]
        return None

    @contextmanager
    def _open_ledger(self, printing: bool = False) -> Iterator[Ledger]:
        """The ledger, with every entry settled that a dead process left open."""
        with open_ledger(self.path, [MADE_RECORDS, PRINT_JOBS] if printing else [MADE_RECORDS]) as ledger:
            with ledger.begin_read() as db:
                left = [made for made in made_records.list_records(db, "open") if not _is_fresh(made)]
            if left:
                with ledger.begin_change() as db:
                    _settle(db, left)
            yield ledger


def add_folders(work: MadeWork, folders: Iterable[Path], report: Callable[[Path, bool], None]) -> list[Finding]:
    """Enter every record in some folders and below them; `report` is told each, and whether it was new.

    What cannot be read is returned as findings, and passed over. Raises `Trouble` where the ledger cannot be used.
    """
    from impose.run.record_file import read_record

    findings: list[Finding] = []
    with work._open_ledger() as ledger:
        for path in _find_records(folders):
            try:
                source = read_record(path)
            except Trouble as trouble:
                findings += [_soften(finding) for finding in trouble.findings]
                continue
            with ledger.begin_change() as db:
                new = work._add(db, source)
            report(path.parent, new)
    return findings


def _find_records(folders: Iterable[Path]) -> Iterator[Path]:
    for folder in folders:
        if (folder / files.RECORD_NAME).is_file() or folder.is_file():
            yield folder / files.RECORD_NAME if folder.is_dir() else folder
            continue
        for where, below, names in os.walk(folder):
            below.sort()
            if files.RECORD_NAME in names:
                yield Path(where) / files.RECORD_NAME


def enter_delivery(
    plan: Plan, out: Path, shelf: PaperStock, returning: Sequence[ReturnedSheets], source: RecordFile | None = None
) -> tuple[files.Deliver, MadeWork]:
    """The last step of a plan's output folder: its paper drawn down, and the folder entered in the shop's memory.

    Nothing is entered where the settings say so. `source` is the record that a reprint comes from, which is entered if
    it is not known yet. The memory says afterwards what kept a folder from being entered.
    """
    deliver = shelf.make_deliver_step(list_takes(plan.layout), out, plan.layout.code, returning)
    work = MadeWork(shelf.path, shelf.now)
    if not plan.profiles.settings.keep_index:
        return deliver, work
    if source is not None:
        work.remember_record(source)
    return work.make_deliver_step(make_content(plan), out, deliver), work


def _part_words(words: Sequence[str]) -> tuple[str, str, list[str]]:
    """A batch code and a transfer's id, if an id is among the words, and the other words."""
    parts = [part for word in words for part in word.split()]
    code = ident = ""
    rest = []
    for part in parts:
        match = _ID.fullmatch(part)
        if match and not ident:
            code, ident = (match["code"] or "").upper(), match["id"].upper()
        else:
            rest.append(part)
    return code, ident, rest


def _list_printed(jobs: Sequence[PrinterJob]) -> list[PrinterJob]:
    return [job for job in jobs if job.state in ("sent", "printed", "unsure")]


def _describe_jobs(jobs: Sequence[PrinterJob]) -> Iterator[str]:
    for job in _list_printed(jobs):
        sure = {"printed": "printed", "sent": "sent to the printer", "unsure": "printed, perhaps"}[job.state]
        yield f"{sure} {job.at[:10]}, {job.printer}"


def _file_day(path: Path) -> str:
    return datetime.fromtimestamp(path.stat().st_mtime, UTC).isoformat(timespec="seconds")


def _is_fresh(made: MadeRecord) -> bool:
    """Whether its own process may still be about to put it in its place."""
    try:
        return datetime.now(UTC) - datetime.fromisoformat(made.at) < timedelta(minutes=2)
    except (ValueError, TypeError):
        return False


def _settle(db: sqlite3.Connection, left: Sequence[MadeRecord]) -> None:
    """What is in its place was made; what is not was not."""
    still = {made.number for made in made_records.list_records(db, "open")}
    for made in left:
        if made.number not in still:
            continue
        if record_hash(Path(made.place)) == made.record:
            made_records.finish_record(db, made.number)
        else:
            made_records.remove_open(db, made.number)


def _soften(finding: Finding) -> Finding:
    what = finding.what if finding.kind == "record" else f"{finding.what}; it is not entered in the index"
    return replace(finding, what=what, remedy=Remedy("enter-made"), severity=Severity.WARN)
