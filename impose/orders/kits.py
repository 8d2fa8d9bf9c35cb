"""Kits: what a garment carries, said once, so that a roster need only say who gets it.

`kits.csv` lies beside the batch file, or is a worksheet of that name in an .xlsx. Its column `kit` names the kit; the
others are those of a batch row, and `words` may hold {name} and {number}, for which each row of the roster gives its
own. Values are put in once and never read again: a player called “{number}” is printed so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from impose.errors import Finding, Severity, Trouble, quote_text
from impose.orders.batch import BatchRow
from impose.orders.csv_text import TableRecord
from impose.orders.findings_log import FindingsLog
from impose.orders.headings import COLUMNS, SPELLINGS, HeadingColumn, read_headings
from impose.orders.table_file import read_table_file
from impose.profiles.toml_tables import suggest_word
from impose.type.sanitise import fold_text
from impose.values import ChangingStruct, FrozenStruct, field

KITS = "kits"
FILE = f"{KITS}.csv"
PLACES = ("name", "number")
OF_THE_ROSTER = ("order", "wearer", "garment", "copies", "accept", "note", "cloth", "cloth_colour", "kit", *PLACES)
"""Columns that a row may fill though it names a kit."""
OF_THE_KIT = tuple(column for column in COLUMNS if column not in OF_THE_ROSTER)
"""Columns that a kit fills: a row that names a kit leaves them blank."""

_PLACE = re.compile(r"\{([^{}]*)\}")


class KitError(ValueError):
    """A kit that cannot be used: `what` is wrong, and the `remedy`."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what}. {remedy}")


class Kit(FrozenStruct):
    """A kit: its prints as rows without order, wearer, garment and values, and what is wrong or worth knowing.

    `garments` are the garment cells of its rows, by row.
    """

    name: str
    rows: tuple[BatchRow, ...]
    garments: dict[int, str]
    findings: tuple[Finding, ...]

    @property
    def stops(self) -> bool:
        """Whether it cannot be made."""
        return any(finding.severity is Severity.STOP for finding in self.findings)


Read = Callable[[Sequence[TableRecord], list[HeadingColumn], FindingsLog], list[tuple[BatchRow, str]]]
"""Records of a kit, their columns and a tally for faults, to rows and their garment cells."""


class KitFile(ChangingStruct):
    """The kits beside a batch file; the file is read when the first kit is asked for, and each kit once."""

    batch: Path
    read: Read
    given: Sequence[TableRecord] | None = None  # instead of a file: headings and records
    _known: dict[str, Kit] = field(default_factory=dict)
    _table: dict[str, list[TableRecord]] | None = None
    _columns: list[HeadingColumn] = field(default_factory=list)
    _tally: FindingsLog = field(default_factory=lambda: FindingsLog(FILE))

    def find_kit(self, name: str) -> Kit:
        """A kit by its name, capitals and spaces no matter. Raises `KitError` where there is none."""
        key = fold_text(name)
        if key not in self._known:
            self._known[key] = self._make_kit(name, key)
        return self._known[key]

    def _make_kit(self, name: str, key: str) -> Kit:
        if self._table is None:
            self._table = self._read_kits()
        if key not in self._table:
            names = [record_name for record_name in self._table if record_name]
            raise KitError(f"there is no kit {quote_text(name)} in {self._tally.file}", suggest_word(key, names))
        tally = FindingsLog(self._tally.file)
        rows = self.read(self._table[key], self._columns, tally)
        return Kit(
            name, tuple(row for row, _ in rows), {row.row: text for row, text in rows}, tuple(tally.list_findings())
        )

    def _read_kits(self) -> dict[str, list[TableRecord]]:
        """The records of every kit; raises `KitError` where the file is not there or cannot be read."""
        try:
            records = read_kit_records(self.batch) if self.given is None else self.given
        except Trouble as trouble:
            raise KitError(str(trouble.findings[0]), "Mend that file first.") from None
        if records is None:
            what = f"the row names a kit, but there is no {FILE} beside {self.batch.name}"
            raise KitError(
                what, f"Write it: a column kit, then the columns of any row, with a line for each print. {_SHEET}"
            )
        heading, *rest = records
        self._tally = FindingsLog(name_kit_file(self.batch))
        self._columns, faults = read_headings(heading.cells, self._tally.file, heading.line, blanks_give_size=True)
        stops = [fault for fault in faults if fault.severity is Severity.STOP]
        at = next((column.index for column in self._columns if column.name == "kit"), None)
        if at is None or stops:
            what = str(stops[0]) if stops else f"{self._tally.file} has no column kit"
            raise KitError(what, "Its headings are kit and the columns of a row.")
        return group_records_by_kit(rest, at, len(heading.cells))


_SHEET = "In an .xlsx it may be a worksheet called kits."


def name_kit_file(batch: Path) -> str:
    """What the kits of a batch file are called where they are told of."""
    return (
        f"{batch.name}, worksheet {KITS}" if batch.suffix.lower() == ".xlsx" and not find_kits_beside(batch) else FILE
    )


def read_kit_records(batch: Path) -> list[TableRecord] | None:
    """The records of the kits of a batch file, headings first; None where there are none."""
    beside = find_kits_beside(batch)
    if beside is not None:
        return read_table_file(beside, SPELLINGS)[0] or None
    if batch.suffix.lower() == ".xlsx":
        return read_table_file(batch, SPELLINGS, KITS)[0] or None
    return None


def find_kits_beside(batch: Path) -> Path | None:
    """The kits file beside a batch file, capitals no matter."""
    try:
        found = [path for path in batch.parent.iterdir() if path.name.casefold() == FILE and path.is_file()]
    except OSError:
        return None
    return next((path for path in sorted(found) if not path.is_symlink()), None)


def group_records_by_kit(records: Iterable[TableRecord], at: int, width: int) -> dict[str, list[TableRecord]]:
    """Records by the folded name of their kit; a blank cell means the kit of the line above."""
    found: dict[str, list[TableRecord]] = {}
    name = ""
    for record in records:
        cells = (*record.cells, *([""] * (width - len(record.cells))))
        name = fold_text(cells[at]) or name
        found.setdefault(name, []).append(
            TableRecord(record.line, cells, record.fault, record.remedy, record.last, record.dates)
        )
    return found


def check_places(words: str) -> None:
    """Raise `KitError` where words hold a place that nothing is put into."""
    for found in _PLACE.findall(words):
        if found not in PLACES:
            raise KitError(
                f"{quote_text('{' + found + '}')} is nothing that is put in",
                "Write {name} or {number}, in small letters.",
            )


def find_word_places(words: str) -> set[str]:
    """Which values some words need."""
    return set(_PLACE.findall(words)) & set(PLACES)


def fill_words(words: str, name: str, number: str) -> str:
    """Words with their values put in, in one pass, so that no value is read again."""
    values = {"name": name, "number": number}
    return _PLACE.sub(lambda found: values.get(found[1], found[0]), words)
