"""An export's own headings and words turned into ours, as a TOML file of the shop says.

A web shop exports what it likes: its own headings, an order's number on the first line of the order only, a variant in
place of a garment, rows that were refunded. The file names, for each of our columns, where its text comes from:

    [order]
    from = "Order number"
    fill = true                        # a blank cell means the same as the row above

    [garment]
    from = ["Item", "Variant"]         # several cells, joined by a space
    [garment.values]
    "Tee Youth M" = "T-shirt youth M"

    [art]
    from = "Item code"
    before = "art/"
    after = ".png"

    [placement]
    always = "left-chest"

    [ticket]
    from = ["Gift message"]            # carried to the ticket as they are

    [skip]
    "Payment" = ["refunded", "voided"] # rows that are not to be made
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any, cast

from impose.errors import Exit, Finding, Severity, Trouble, list_texts, quote_text, raise_stops
from impose.orders import cells
from impose.orders.csv_text import TableRecord, read_file_bytes
from impose.orders.findings_log import RemedySource, format_spans
from impose.orders.headings import COLUMNS, LENGTHS, HeadingColumn, fold_heading
from impose.profiles.toml_limits import parse_toml
from impose.profiles.toml_tables import ProfileLayers, TomlTable, find_near_word
from impose.type.sanitise import fold_text
from impose.units import Bare
from impose.values import ChangingStruct, FrozenStruct, field

Fault = Callable[[int, str, str, str, RemedySource, str | None, str], None]
"""Told of a cell that cannot be taken: line, our column, its heading, what, remedy, read, kind."""

TICKET, SKIP = "ticket", "skip"


class ColumnRule(FrozenStruct):
    """Where one of our columns comes from. `sources` are headings; none means `always`, the same for every row.

    `blank` stands in for a blank cell, before and after are put around a text that is not blank. `values` turns
    folded texts into ours; a text that is not among them is refused unless `keep`. `written` are they as in the file.
    """

    column: str
    sources: tuple[str, ...]
    always: str
    blank: str
    before: str
    after: str
    fill: bool
    unit: Bare | None
    values: Mapping[str, str]
    written: Mapping[str, str]
    keep: bool


class ColumnMap(FrozenStruct):
    """A file of rules. `skip` are headings and the folded texts for which a row is passed over."""

    file: str
    rules: tuple[ColumnRule, ...]
    ticket: tuple[str, ...]
    skip: Mapping[str, frozenset[str]]

    @property
    def headings(self) -> frozenset[str]:
        """Every heading it names, as headings are compared: what tells a file's separator."""
        named = [*(source for rule in self.rules for source in rule.sources), *self.ticket, *self.skip]
        return frozenset(map(fold_heading, named))


def read_column_map(path: Path) -> ColumnMap:
    """The rules in a TOML file. Raises `Trouble` (wrong use) with every fault: file, table, key, remedy."""
    if path.is_dir():
        what = "a folder, not a column map"
        raise Trouble(Finding(what, "Give a TOML file.", kind="profile", file=str(path), exit=Exit.USAGE))
    data, faults = parse_toml(read_file_bytes(path), str(path))
    raise_stops(faults)
    return parse_column_map(data, str(path))


def parse_column_map(data: Mapping[str, Any], path: str) -> ColumnMap:
    """The rules in the data of such a file, which is called `path`. Raises `Trouble` with every fault."""
    faults: list[Finding] = []
    layers = ProfileLayers()
    layers.lay_file(data, path)
    top = TomlTable(layers, (), faults, path)
    ticket = top.take_table(TICKET)
    carried = _read_sources(ticket) if ticket is not None else ()
    if ticket is not None:
        ticket.report_unknown_keys()
    skip = _read_skipped(top.take_table(SKIP))
    rules = tuple(_read_rule(table) for name in COLUMNS if (table := top.take_table(name)) is not None)
    top.declare_keys([*COLUMNS, TICKET, SKIP])
    top.report_unknown_keys()
    if not rules and not faults:
        what = "no table is named after one of our columns"
        remedy = 'Begin with [art] and from = "…".'
        faults.append(Finding(what, remedy, kind="profile", file=path, exit=Exit.USAGE))
    raise_stops(faults)
    return ColumnMap(path, rules, carried, skip)


def _read_sources(table: TomlTable) -> tuple[str, ...]:
    """One heading or a list of them."""
    if isinstance(table.peek_value("from"), str):
        return (table.take_text("from"),)
    return table.take_texts("from", ())


def _read_rule(table: TomlTable) -> ColumnRule:
    name = table.table_name
    values = table.take_table("values")
    unit = table.take_text("unit", "", choices=("mm", "cm", "in"))
    rule = ColumnRule(
        column=name,
        sources=_read_sources(table),
        always=table.take_text("always", ""),
        blank=table.take_text("blank", ""),
        before=table.take_raw_text("before"),
        after=table.take_raw_text("after"),
        fill=table.take_flag("fill", default=False),
        unit=cast("Bare", unit) or None,
        values={fold_text(key): values.take_text(key) for key in values} if values is not None else {},
        written={fold_text(key): key for key in values or ()},
        keep=table.take_text("unlisted", "refuse", choices=("refuse", "keep")) == "keep",
    )
    if bool(rule.sources) == bool(rule.always):
        table.note_fault("from", "give either from or always", 'from = "a heading", or always = "a text".')
    if rule.unit and name not in LENGTHS:
        table.note_fault("unit", "only width, height and tear have a unit", "Leave it out.")
    table.report_unknown_keys()
    return rule


def _read_skipped(table: TomlTable | None) -> dict[str, frozenset[str]]:
    if table is None:
        return {}
    return {heading: frozenset(map(fold_text, table.take_texts(heading))) for heading in table}


class ColumnTranslation(ChangingStruct):
    """A column map laid over one file: `columns` are ours, `record` turns a line of the file into one of them.

    `findings` are what is wrong with the headings, and, once all records are turned, what was passed over.
    """

    map: ColumnMap
    headings: tuple[str, ...]
    line: int
    file: str
    columns: list[HeadingColumn] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    _places: dict[str, int] = field(default_factory=dict)
    _in_order: list[tuple[ColumnRule, str]] = field(default_factory=list)
    _above: dict[str, str] = field(default_factory=dict)
    _passed: dict[str, list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._places = {h: place for h in self._list_named() if (place := self._find_heading(h)) is not None}
        for index, rule in enumerate(self.map.rules):
            heading = " + ".join(rule.sources) or f"{rule.column} (always)"
            self.columns.append(HeadingColumn(index, rule.column, heading, rule.unit))
        headings = [column.heading for column in self.columns]
        # The order comes first: what a blank cell of the others means may hang on it.
        self._in_order = sorted(zip(self.map.rules, headings, strict=True), key=lambda pair: pair[0].column != "order")
        for heading in self.map.ticket:
            self.columns.append(HeadingColumn(len(self.columns), "", heading))
        unused = [h for i, h in enumerate(self.headings) if h.strip() and i not in self._places.values()]
        if unused:
            what = f"columns that the column map does not name are not read: {list_texts(unused)}"
            self.findings.append(self._make_finding(what, "", Severity.NOTE, "unknown-column"))

    def _list_named(self) -> list[str]:
        sources = [heading for rule in self.map.rules for heading in rule.sources]
        return list(dict.fromkeys([*sources, *self.map.ticket, *self.map.skip]))

    def _find_heading(self, heading: str) -> int | None:
        """Where a heading stands; one that is missing or stands twice is a fault."""
        folded = [fold_heading(h) for h in self.headings]
        count = folded.count(fold_heading(heading))
        if count == 1:
            return folded.index(fold_heading(heading))
        close = find_near_word(fold_heading(heading), [h for h in folded if h])
        likely = next((h.strip() for h, f in zip(self.headings, folded, strict=True) if f == close), "")
        there = list_texts([h for h in self.headings if h])
        remedy = f"Did you mean {quote_text(likely)}?" if likely else f"There are: {there}."
        what = f"the heading {quote_text(heading)}, which {self.map.file} names, is not in the file"
        if count > 1:
            what = f"the heading {quote_text(heading)}, which {self.map.file} names, stands {count} times"
            remedy = "Rename all but one of them in the export."
        self.findings.append(self._make_finding(what, remedy, Severity.STOP, "heading"))
        return None

    def _make_finding(self, what: str, remedy: str, severity: Severity, kind: str) -> Finding:
        return Finding(what, remedy, severity, kind, file=self.file, row=self.line)

    def translate_record(self, record: TableRecord, fault: Fault) -> TableRecord | None:
        """The same line under our columns, or None where it is passed over; `fault` is told what cannot be taken."""
        given = {heading: record.cells[place] for heading, place in self._places.items()}
        for heading, reasons in self.map.skip.items():
            if fold_text(given[heading]) in reasons:
                self._passed.setdefault(f"{heading}: {' '.join(given[heading].split())}", []).append(record.line)
                return None
        texts: dict[str, str] = {}
        for rule, heading in self._in_order:
            text = self._translate_cell(rule, heading, given, record.line, fault)
            texts[rule.column] = self._fill_cell(rule.column, text, texts.get("order", "")) if rule.fill else text
        ours = [texts[rule.column] for rule in self.map.rules]
        dated = {heading for heading, place in self._places.items() if place in record.dates}
        dates = frozenset(i for i, rule in enumerate(self.map.rules) if dated.intersection(rule.sources))
        return TableRecord(record.line, (*ours, *(given[heading] for heading in self.map.ticket)), dates=dates)

    def _fill_cell(self, column: str, text: str, order: str) -> str:
        """The cell above for a blank one: an order's number over all rows, anything else within its order."""
        key = column if column == "order" else f"{column}\0{order}"
        if text:
            self._above[key] = text
        return text or self._above.get(key, "")

    def _translate_cell(self, rule: ColumnRule, heading: str, given: Mapping[str, str], line: int, fault: Fault) -> str:
        if not rule.sources:
            return rule.always
        raw = [given[source].strip() for source in rule.sources]
        parts = raw if len(raw) == 1 else self._clean_cells(raw, rule.column, heading, line, fault)
        text = " ".join(part for part in parts if part)
        inner = cells.unwrap_formula(text)
        if inner is not None and (rule.values or rule.before or rule.after or not inner):
            text = inner  # where it is left on, the reader takes it off and says so
        text = text or rule.blank
        if text and rule.values:
            if fold_text(text) in rule.values:
                return rule.values[fold_text(text)]
            if not rule.keep:
                what = f"not in the table of values for {rule.column}"
                fault(
                    line, rule.column, heading, what, partial(self._look_up_value, rule, text), text, "unlisted-value"
                )
                return ""
        return f"{rule.before}{text}{rule.after}" if text else ""

    def _look_up_value(self, rule: ColumnRule, text: str) -> str:
        close = find_near_word(fold_text(text), rule.values)
        also = f" Did you mean {quote_text(rule.written[close])}?" if close else ""
        return f'Add it to [{rule.column}.values] in {self.map.file}, or write unlisted = "keep" in its table.{also}'

    def _clean_cells(self, raw: Sequence[str], column: str, heading: str, line: int, fault: Fault) -> list[str]:
        """Cells that are to be joined, each freed of wrappers and checked for damage by itself."""
        parts = []
        for text in raw:
            inner = cells.unwrap_formula(text)
            try:
                parts.append(cells.clean_cell(text if inner is None else inner))
            except cells.CellError as error:
                fault(line, column, heading, error.what, error.remedy, text, "damaged-cell")
        return parts

    def report_skipped(self) -> Iterable[Finding]:
        """What was skipped, by reason, with the rows: nothing leaves in silence."""
        for reason, rows in self._passed.items():
            which = f"{'row' if len(rows) == 1 else 'rows'} {format_spans(rows)}"
            what = f"passed over, as {self.map.file} says ({reason}): {which}"
            yield Finding(what, "", Severity.NOTE, "row-skipped", file=self.file, row=rows[0])
