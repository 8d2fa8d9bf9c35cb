"""From a CSV file's bytes to records: encodings, separators and quotes as spreadsheets leave them."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.batch import MOST_TRANSFERS
from impose.orders.headings import fold_heading
from impose.values import FrozenStruct, replace

if TYPE_CHECKING:
    from impose.orders import code_pages as codepages

MOST_BYTES = 64 * 1024 * 1024
"""More than half a million orders: a larger file is not a batch."""

MOST_ROWS = MOST_TRANSFERS + 1
"""The headings, and a row for each transfer that a batch may have."""
MOST_LINES = 1_048_576
"""As many as a worksheet has; an export of a whole worksheet ends in blank ones."""

_SAVE = "In the spreadsheet choose “Save as” and the type “CSV UTF-8”."

_PICTURE = "Name it as artwork, with its own ending; orders are a CSV or an .xlsx."
_DRAWN = "Name it as artwork, with its own ending; orders are a CSV or an .xlsx."

_FOREIGN = {
    b"PK\x03\x04": ("a spreadsheet or another packed file, not text", _SAVE),
    b"\xd0\xcf\x11\xe0": ("a spreadsheet of the old kind, not text", _SAVE),
    b"\x89PNG": (
        "a picture, not a table",
        "Give its size or placement on the command line, or list it in a CSV.",
    ),
    b"%PDF": ("a PDF, not a table", _DRAWN),
    b"\xff\xd8\xff": ("a photograph in JPEG, not a table", _PICTURE),
    b"GIF8": ("a picture in GIF, not a table", _PICTURE),
    b"RIFF": ("a picture in WebP, or a sound, not a table", _PICTURE),
    b"II*\0": ("a picture in TIFF, not a table", _PICTURE),
    b"MM\0*": ("a picture in TIFF, not a table", _PICTURE),
    b"<svg": ("a drawing in SVG, not a table", _DRAWN),
    b"{": ("JSON, not CSV", "A record of ours is for reprinting; a batch is a CSV."),
    b"<": ("a web page or XML, not CSV", "Export the orders as CSV."),
}


class TableRecord(FrozenStruct):
    """One record: the line it starts at (the file's first line is 1), its cells, or why it cannot be read.

    `dates` are the places of cells that a spreadsheet holds as a date or a time, whatever was typed there.
    """

    line: int
    cells: tuple[str, ...]
    fault: str = ""
    remedy: str = ""
    last: bool = False
    dates: frozenset[int] = frozenset()


def read_file_bytes(path: Path) -> bytes:
    """The file's content; raises `Trouble` where the system refuses it, for a folder, and for one too large."""
    try:
        with path.open("rb") as file:
            content = file.read(MOST_BYTES + 1)
    except IsADirectoryError:
        raise _make_trouble(path, "a folder, not a table", "Give a CSV, or artwork.", Exit.USAGE) from None
    except FileNotFoundError:
        raise _make_trouble(path, "there is no such file", "Check the path and the spelling.", Exit.SYSTEM) from None
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or str(error)
        raise _make_trouble(path, f"could not be read: {why}", "Check the file and its rights.", Exit.SYSTEM) from None
    if len(content) > MOST_BYTES:
        raise _make_trouble(path, f"larger than {MOST_BYTES >> 20} MB, too large for a batch", "Split it.")
    return content


def _make_trouble(path: Path, what: str, remedy: str, code: Exit = Exit.REFUSED, line: int | None = None) -> Trouble:
    return Trouble(Finding(what, remedy, kind="csv", file=str(path), row=line, exit=code))


class CsvText(FrozenStruct):
    """The content of a CSV and its encoding; decoded as it is read, so that no more is than is needed."""

    content: bytes
    encoding: str
    path: Path

    def list_lines(self) -> Iterator[str]:
        """The lines with their ends; raises `Trouble` where one cannot be decoded."""
        try:
            yield from io.TextIOWrapper(io.BytesIO(self.content), self.encoding, newline="")
        except UnicodeDecodeError:
            raise _find_undecodable(self) from None


def text_of(content: bytes, path: Path, findings: list[Finding]) -> CsvText:
    """The text of a CSV: UTF-8 with or without a byte-order mark, or UTF-16 with one; else `Trouble`.

    A system's code page is read where only one makes sense of the text, which is added to `findings`.
    """
    if content[4:8] == b"ftyp":  # ISO base media file format: HEIC and AVIF among it
        raise _make_trouble(path, "a photograph in HEIC or AVIF, or a film, not a table", _PICTURE)
    if content.lstrip().startswith(b"<?xml") and b"<svg" in content[:2000]:
        raise _make_trouble(path, *_FOREIGN[b"<svg"])
    for magic, (what, remedy) in _FOREIGN.items():
        if content.startswith(magic):
            raise _make_trouble(path, what, remedy)
    if content.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise _make_trouble(path, "text in UTF-32, which is not taken", _SAVE)
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return CsvText(content, "utf-16", path)
    if content[:200:2].count(0) + content[1:200:2].count(0) > min(len(content), 200) // 4:
        raise _make_trouble(path, "UTF-16 without its byte-order mark, or no text at all", _SAVE)
    text = CsvText(content, "utf-8-sig", path)
    try:
        for _ in text.list_lines():
            pass
    except Trouble as trouble:
        return _decode_by_code_page(content, path, trouble, findings)
    return text


def _decode_by_code_page(content: bytes, path: Path, trouble: Trouble, findings: list[Finding]) -> CsvText:
    """The text by the one code page that makes sense of it; raises `trouble`, with the readings, where none does."""
    from impose.orders import code_pages as codepages

    found = None if _is_utf8_but_for_little(content) else codepages.read_page(content)
    if isinstance(found, codepages.CodePageReading):
        findings.append(_read_by(found, path))
        return CsvText(found.text.encode("utf-8"), "utf-8", path)
    if found:
        both = " or ".join(f"{codepages.shown_words(reading)} ({codepages.PAGES[reading.page]})" for reading in found)
        first = trouble.findings[0]
        raise Trouble(replace(first, what=f"{first.what}, and it may read {both}", why="Nobody can tell which."))
    raise trouble


def _is_utf8_but_for_little(content: bytes) -> bool:
    """UTF-8 with a damaged place: two or more bytes that lead a letter are followed as UTF-8 requires."""
    return len(re.findall(rb"[\xc3-\xdf][\x80-\xbf]", content)) > len(re.findall(rb"[\x80-\xff]+", content)) / 2


def _read_by(reading: codepages.CodePageReading, path: Path) -> Finding:
    from impose.orders import code_pages as codepages

    words = codepages.shown_words(reading)
    return Finding(
        f"not UTF-8 text; read as {codepages.PAGES[reading.page]}{f', such as {words}' if words else ''}",
        f"If a letter is wrong: {_SAVE[0].lower()}{_SAVE[1:]}",
        Severity.NOTE if reading.sure else Severity.WARN,
        "encoding",
        "" if reading.sure else "Another code page would give other letters, and a wrong one is pressed.",
        file=str(path),
    )


def _find_undecodable(text: CsvText) -> Trouble:
    """Where the first byte stands that is none of the encoding: the whole is decoded once more for that."""
    try:
        text.content.decode(text.encoding)
    except UnicodeDecodeError as error:
        line = text.content.count(b"\n", 0, error.start) + 1
        byte = text.content[error.start : error.start + 1].hex().upper()
        name = "UTF-16" if text.encoding == "utf-16" else "UTF-8"
        return _make_trouble(text.path, f"not {name} text: byte {byte} stands where none may", _SAVE, line=line)
    raise AssertionError("it was not decoded, and then it was")


class CsvDialect(FrozenStruct):
    """A separator, and how many lines stand before the headings (a `sep=` line)."""

    separator: str
    skipped: int = 0


SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}


def find_dialect(text: CsvText, known: Iterable[str]) -> CsvDialect:
    """The separator, from a `sep=` line or from the one that parts the headings into most known names."""
    lines = enumerate(islice(text.list_lines(), MOST_LINES), 1)
    number, first = next(((n, line.rstrip("\r\n")) for n, line in lines if line.strip()), (0, ""))
    said = re.fullmatch(r"\s*\"?sep=(.|\\t)\"?[,;\t\s]*", first, re.IGNORECASE)
    if said or first.casefold().startswith("sep="):
        separator = said[1].replace("\\t", "\t") if said else ""
        if separator not in SEPARATORS:
            raise _make_trouble(
                text.path, "a sep= line that names no separator we take", "Use sep=, or sep=; or tabs.", line=number
            )
        return CsvDialect(separator, number)
    names = set(known)

    def score(separator: str) -> tuple[int, int]:
        try:
            headings = next(csv.reader([first], delimiter=separator), [])
        except csv.Error:
            return 0, 0
        words = [fold_heading(re.sub(r"[(\[].*", "", heading)) for heading in headings]
        return sum(word in names for word in words), len(headings)

    return CsvDialect(max(SEPARATORS, key=score))


def read_records(text: CsvText, dialect: CsvDialect) -> Iterator[TableRecord]:
    """Every record with the line it starts at; a broken one carries its fault.

    Quotes are taken strictly, since a quote that is never closed would swallow the orders after it.
    """
    lines = islice(text.list_lines(), dialect.skipped, None)
    reader = csv.reader(lines, delimiter=dialect.separator, strict=True)
    while True:
        start = reader.line_num + dialect.skipped + 1
        try:
            yield TableRecord(start, tuple(next(reader)))
        except StopIteration:
            return
        except csv.Error as error:
            record = _make_broken_record(start, str(error), SEPARATORS[dialect.separator])
            yield record
            if record.last:
                return


def keep_within_limits(found: Iterable[TableRecord], file: str, findings: list[Finding]) -> list[TableRecord]:
    """The records that hold anything, as many as a batch may have; what is beyond is not read, and `findings` says so.

    The time and memory of a file are those of the limit, whatever its size.
    """
    kept: list[TableRecord] = []
    what = ""
    for number, record in enumerate(found, 1):
        if number > MOST_LINES:
            what = f"more than {MOST_LINES:,} rows, blank ones among them"
        elif record.fault or any(map(str.strip, record.cells)):
            if len(kept) == MOST_ROWS:
                what = f"more than {MOST_ROWS - 1:,} rows"
            else:
                kept.append(record)
        if what:
            remedy = f"Split the file. Nothing from row {record.line} on was read."
            findings.append(Finding(what, remedy, kind="csv", file=file))
            break
    return kept


def _make_broken_record(line: int, message: str, separator: str) -> TableRecord:
    """What a parser's complaint means to the person who has to mend the file."""
    if "unexpected end" in message:
        return TableRecord(
            line, (), "a quote is opened here and never closed", "Close it; nothing after it was read.", True
        )
    if "expected after" in message:
        what = f"a quoted cell goes on after its closing quote, with no {separator}"
        return TableRecord(line, (), what, 'Write the inch mark of a quoted cell twice ("8.25""") or write in: 8.25in.')
    if "field limit" in message:
        return TableRecord(
            line,
            (),
            "a cell of more than 131,072 characters",
            "Is a quote not closed? Nothing after it was read.",
            True,
        )
    return TableRecord(line, (), f"not a CSV record: {message}", "Export the file again.", True)
