"""A table of orders that a person edits: read once, changed cell by cell, written back as it came.

What was not edited is written back byte for byte: records, their quotes, blank lines, columns that are not ours, the
separator, the ends of lines, the byte-order mark. Tables and rows are values: a change makes a new table that shares
what stayed, so that keeping every earlier one for undoing costs little.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import count
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.orders.csv_text import CsvText, find_dialect, read_file_bytes, text_of
from impose.orders.headings import SPELLINGS, HeadingColumn, read_headings
from impose.orders.table_file import read_table_file
from impose.values import FrozenStruct, replace

NEW_HEADINGS = ("order", "wearer", "art", "placement", "garment", "copies", "width", "height", "note")
"""Those of a table that begins here."""
NEW_KITS = ("kit", "art", "words", "font", "placement", "garment", "width", "height", "note")


class TableStyle(FrozenStruct):
    """How a table stands in its file. `mark` is the byte-order mark, `preface` a line such as `sep=;`."""

    separator: str = ","
    encoding: str = "utf-8"
    mark: bytes = codecs.BOM_UTF8
    line_end: str = "\r\n"
    preface: str = ""


class TableRow(FrozenStruct):
    """One record: a name that it keeps, its cells by the place of their column, its own text while untouched.

    A blank line of the file is a row without cells, which is kept and never shown.
    """

    id: str
    cells: tuple[str, ...]
    raw: str | None = None

    @property
    def blank(self) -> bool:
        """Whether there is nothing in it."""
        return not any(cell.strip() for cell in self.cells)


class EditableTable(FrozenStruct):
    """Headings and rows; `prefix` begins the names of its rows. All changes return a new table.

    Raises `LookupError` for a row that is not there.
    """

    headings: tuple[str, ...]
    rows: tuple[TableRow, ...] = ()
    style: TableStyle = TableStyle()
    heading_raw: str | None = None
    prefix: str = "r"
    next_id: int = 1

    @property
    def columns(self) -> list[HeadingColumn]:
        """What each column is, by its heading."""
        return read_headings(self.headings, "", 1, True)[0]

    @property
    def keys(self) -> list[str]:
        """The name that each column is asked for by: ours, else its heading, never one twice."""
        found: list[str] = []
        for column in self.columns:
            key = column.name if column.name and column.name not in found else column.heading
            if not key or key in found:
                key = f"{key or 'column'} ({column.index + 1})"
            found.append(key)
        return found

    def list_shown(self) -> list[TableRow]:
        """The rows that hold anything."""
        return [row for row in self.rows if not row.blank]

    def number_lines(self) -> dict[str, int]:
        """The line of the file at which each row starts."""
        line = 1 + _count_lines(self.style.preface) + _count_lines(self._heading_text())
        found: dict[str, int] = {}
        for row in self.rows:
            found[row.id] = line
            line += _count_lines(self._row_text(row))
        return found

    def read_values(self, row: TableRow) -> dict[str, str]:
        """The cells of a row that hold anything, by key."""
        return {key: cell for key, cell in zip(self.keys, row.cells, strict=False) if cell}

    def make_mappings(self, more: Callable[[str], Mapping[str, object]] = lambda ident: {}) -> list[dict[str, object]]:
        """The shown rows by heading, as planning takes them, each with the number of its line as `row`."""
        lines = self.number_lines()
        headings = [heading or f"column {index}" for index, heading in enumerate(self.headings, 1)]
        return [
            {**dict(zip(headings, row.cells, strict=False)), "row": lines[row.id], **more(row.id)}
            for row in self.list_shown()
        ]

    def set_cell(self, ident: str, key: str, text: str) -> EditableTable:
        """With one cell changed; a column that is not there yet is added at the end."""
        table = self if key in self.keys else self.add_column(key)
        at, place = table._find_row(ident), table.keys.index(key)
        row = table.rows[at]
        cells = [*row.cells, *[""] * (len(table.headings) - len(row.cells))]
        if cells[place] == text:
            return table
        cells[place] = text
        return table._replace_row(at, replace(row, cells=tuple(cells), raw=None))

    def add_row(self, cells: Mapping[str, str], after: str | object | None = ...) -> tuple[EditableTable, str]:
        """With one row more, after the named one, first (None) or last, and the name it got."""
        table = self
        for key in cells:
            if key not in table.keys:
                table = table.add_column(key)
        ident = f"{table.prefix}{table.next_id}"
        row = TableRow(ident, tuple(cells.get(key, "") for key in table.keys))
        at = len(table.rows) if after is ... else 0 if after is None else table._find_row(str(after)) + 1
        rows = (*table.rows[:at], row, *table.rows[at:])
        return replace(table, rows=rows, next_id=table.next_id + 1), ident

    def remove_rows(self, idents: Iterable[str]) -> EditableTable:
        """Without these rows."""
        gone = set(idents)
        for ident in gone:
            self._find_row(ident)
        return replace(self, rows=tuple(row for row in self.rows if row.id not in gone))

    def move_rows(self, idents: Iterable[str], after: str | None) -> EditableTable:
        """With these rows, in the order of the file, after another one, or first."""
        moved = [self.rows[at] for at in sorted(self._find_row(ident) for ident in set(idents))]
        rest = replace(self, rows=tuple(row for row in self.rows if row not in moved))
        at = 0 if after is None else rest._find_row(after) + 1
        return replace(self, rows=(*rest.rows[:at], *moved, *rest.rows[at:]))

    def add_column(self, heading: str) -> EditableTable:
        """With one column more, blank in every row."""
        headings = (*self.headings, heading)
        wide = len(headings)
        rows = tuple(
            row if row.blank else replace(row, cells=_pad_cells(row.cells, wide), raw=None) for row in self.rows
        )
        return replace(self, headings=headings, rows=rows, heading_raw=None)

    def remove_column(self, key: str) -> EditableTable:
        """Without a column and what stood in it."""
        place = self.keys.index(key)

        def drop_cell(cells: tuple[str, ...]) -> tuple[str, ...]:
            return cells[:place] + cells[place + 1 :]

        rows = tuple(row if row.blank else replace(row, cells=drop_cell(row.cells), raw=None) for row in self.rows)
        return replace(self, headings=drop_cell(self.headings), rows=rows, heading_raw=None)

    def make_file(self) -> bytes:
        """The file."""
        text = "".join([self.style.preface, self._heading_text(), *map(self._row_text, self.rows)])
        last = self.rows[-1].raw if self.rows else self.heading_raw
        if last and not last.endswith(("\n", "\r")):
            text = text.removesuffix(self.style.line_end)
        return self.style.mark + text.encode(self.style.encoding)

    def _heading_text(self) -> str:
        return self._write_cells(self.headings) if self.heading_raw is None else self._end_record(self.heading_raw)

    def _row_text(self, row: TableRow) -> str:
        return self._write_cells(row.cells) if row.raw is None else self._end_record(row.raw)

    def _write_cells(self, cells: Iterable[str]) -> str:
        out = io.StringIO()
        csv.writer(out, delimiter=self.style.separator, lineterminator=self.style.line_end).writerow(cells)
        return out.getvalue()

    def _end_record(self, raw: str) -> str:
        """The text of a record; the last one of a file may lack its end, and need not be the last any more."""
        return raw if raw.endswith(("\n", "\r")) or not raw else raw + self.style.line_end

    def _find_row(self, ident: str) -> int:
        for at, row in enumerate(self.rows):
            if row.id == ident:
                return at
        raise LookupError(ident)

    def _replace_row(self, at: int, row: TableRow) -> EditableTable:
        return replace(self, rows=(*self.rows[:at], row, *self.rows[at + 1 :]))


def read_editable(path: Path, prefix: str = "r") -> EditableTable:
    """The table in a CSV. Raises `Trouble` where it cannot be read, or where a record is broken."""
    content = read_file_bytes(path)
    return parse_editable(content, path, prefix)


def parse_editable(content: bytes, path: Path, prefix: str = "r") -> EditableTable:
    """The table in the bytes of a CSV; `path` is what it is called. Raises `Trouble`."""
    findings: list[Finding] = []
    text = text_of(content, path, findings)
    dialect = find_dialect(text, SPELLINGS)
    lines = list(text.list_lines())
    preface, lines = "".join(lines[: dialect.skipped]), lines[dialect.skipped :]
    style = _find_style(content, text, dialect.separator, lines, preface)
    records = list(_read_raw(lines, dialect.separator, path, dialect.skipped))
    first = next((at for at, (cells, _) in enumerate(records) if any(cell.strip() for cell in cells)), None)
    if first is None:
        raise Trouble(Finding("the file is empty", "Write headings and rows into it.", kind="csv", file=path.name))
    preface += "".join(raw for _, raw in records[:first])
    style = replace(style, preface=preface)
    headings, heading_raw = records[first]
    numbers = count(1)
    rows = tuple(TableRow(f"{prefix}{next(numbers)}", cells, raw) for cells, raw in records[first + 1 :])
    return EditableTable(headings, rows, style, heading_raw, prefix, next(numbers))


def read_workbook_table(path: Path, prefix: str = "r", sheet: str = "") -> EditableTable | None:
    """The table in a spreadsheet's own file, to be shown and never written; None where there is no such worksheet."""
    records, _ = read_table_file(path, SPELLINGS, sheet)
    if not records:
        return None
    heading, *rest = records
    wide = len(heading.cells)
    rows = tuple(TableRow(f"{prefix}{record.line}", _pad_cells(record.cells, wide)) for record in rest)
    return EditableTable(heading.cells, rows, prefix=prefix, next_id=1 + max((r.line for r in rest), default=1))


def _find_style(content: bytes, text: CsvText, separator: str, lines: list[str], preface: str) -> TableStyle:
    """What a table is written back in: as it came; from a code page, which cannot hold every letter, UTF-8."""
    ends = [end for end in ("\r\n", "\n", "\r") for line in lines[:1] if line.endswith(end)]
    line_end = ends[0] if ends else "\r\n"
    if text.encoding == "utf-16":
        little = content.startswith(codecs.BOM_UTF16_LE)
        mark = codecs.BOM_UTF16_LE if little else codecs.BOM_UTF16_BE
        return TableStyle(separator, "utf-16-le" if little else "utf-16-be", mark, line_end, preface)
    marked = content.startswith(codecs.BOM_UTF8) or text.encoding == "utf-8"
    return TableStyle(separator, "utf-8", codecs.BOM_UTF8 if marked else b"", line_end, preface)


def _read_raw(lines: list[str], separator: str, path: Path, skipped: int) -> Iterator[tuple[tuple[str, ...], str]]:
    """Every record with the text it was read from."""
    taken: list[str] = []

    def feed_lines() -> Iterator[str]:
        for line in lines:
            taken.append(line)
            yield line

    reader = csv.reader(feed_lines(), delimiter=separator, strict=True)
    while True:
        line = reader.line_num + skipped + 1
        taken.clear()
        try:
            cells = tuple(next(reader))
        except StopIteration:
            return
        except csv.Error as error:
            what = f"a record that is not whole: {error}"
            remedy = "Mend the quotes there in a text editor, or export the file again."
            raise Trouble(Finding(what, remedy, kind="csv", file=path.name, row=line, exit=Exit.REFUSED)) from None
        yield cells, "".join(taken)


def _pad_cells(cells: tuple[str, ...], wide: int) -> tuple[str, ...]:
    return cells + ("",) * (wide - len(cells))


def _count_lines(text: str) -> int:
    """How many lines a text takes, by the ends that a reader of CSV counts."""
    return text.count("\n") + text.replace("\r\n", "").count("\r")


def carry_names(before: EditableTable, after: EditableTable) -> EditableTable:
    """A table that was read anew, its rows named as before: those that hold the same, then those in the same place."""
    waiting: dict[tuple[str, ...], list[str]] = {}
    for row in before.rows:
        waiting.setdefault(row.cells, []).append(row.id)
    names: dict[int, str] = {}
    for at, row in enumerate(after.rows):
        if waiting.get(row.cells):
            names[at] = waiting[row.cells].pop(0)
    used, following = set(names.values()), max(before.next_id, after.next_id)
    for at in range(len(after.rows)):
        if at in names:
            continue
        old = before.rows[at].id if at < len(before.rows) else ""
        if old and old not in used:
            names[at] = old
        else:
            names[at], following = f"{after.prefix}{following}", following + 1
        used.add(names[at])
    rows = tuple(replace(row, id=names[at]) for at, row in enumerate(after.rows))
    return replace(after, rows=rows, next_id=following)
