"""A batch CSV to rows: every fault of the file in one report, with its row, column, reading and remedy."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from impose.errors import Exit, Finding, Severity, Trouble, quote_for_shell, raise_stops
from impose.orders.art_root import ArtRoot, check_art_folder
from impose.orders.batch import MOST_TRANSFERS, Batch, BatchRow, RowDefaults, leave_out_refused
from impose.orders.csv_text import TableRecord
from impose.orders.findings_log import FindingsLog, RemedySource
from impose.orders.garment_groups import assign_garments, report_like_garments
from impose.orders.headings import SPELLINGS, HeadingColumn, read_headings
from impose.orders.kits import FILE, KitFile, Read, find_kits_beside, group_records_by_kit, read_kit_records
from impose.orders.name_checks import check_names, report_expansions
from impose.orders.reading_context import ReadingContext
from impose.orders.roster import RosterLine
from impose.orders.row_reader import RowReader
from impose.orders.table_file import is_reprint_list, read_table_file
from impose.profiles.profiles import Profiles
from impose.profiles.word_styles import find_font_file
from impose.remedies import Remedy
from impose.type.sanitise import fold_text
from impose.values import replace

if TYPE_CHECKING:
    from impose.orders.column_map import ColumnMap, ColumnTranslation
    from impose.orders.row_mappings import Rows

__all__ = ["read_batch", "read_rows"]


def read_batch(
    csv_path: Path,
    profiles: Profiles,
    art_root: Path | None = None,
    units: Literal["mm", "in"] | None = None,
    blanks: RowDefaults | None = None,
    *,
    skip_bad: bool = False,
    kinds: frozenset[str] | None = None,
    column_map: ColumnMap | None = None,
) -> Batch:
    """The batch in a CSV or an .xlsx, artwork found but not opened.

    `art_root` is the folder that artwork is named from, by default the CSV's. `units` is what a bare number
    means where its heading does not say. `blanks` fills cells left blank. `kinds`, if given, are the kinds of
    findings that the column accept may name. `column_map` says how an export's columns become ours. Raises
    `Trouble` with every fault found; with `skip_bad` the orders that have a refused row are left out whole, their
    faults kept as findings, and only what breaks the whole file is raised.
    """
    blanks = blanks or RowDefaults()
    tally = FindingsLog(str(csv_path))
    rows = _read_records(csv_path, column_map, tally)
    if not rows:
        raise Trouble(Finding("the file is empty", "Write headings and rows into it.", kind="csv", file=str(csv_path)))
    if column_map is None and is_reprint_list(rows[0].cells):
        raise Trouble(_report_reprint_list(csv_path))
    translation = None if column_map is None else _make_translation(rows[0], column_map, tally)
    columns = _read_columns(rows[0], tally, blanks) if translation is None else translation.columns
    root = check_art_folder(art_root if art_root is not None else csv_path.parent)
    context = _make_context(columns, profiles, ArtRoot(root), units, blanks, kinds, tally)
    bare = [] if translation else [column.index for column in columns if not column.heading]
    whole = _check_record_widths(rows[1:], len(rows[0].cells), bare, tally)
    lines = _read_rows(
        _translate_records(whole, translation, context), KitFile(csv_path, _make_kit_reader(context)), context
    )
    return _judge_batch(Batch(csv_path.stem, str(csv_path), root, lines), context, skip_bad)


def read_rows(
    rows: Rows,
    profiles: Profiles,
    art_root: Path,
    units: Literal["mm", "in"] | None = None,
    blanks: RowDefaults | None = None,
    *,
    kits: Rows = (),
    name: str = "batch",
    source: str = "",
    kinds: frozenset[str] | None = None,
) -> Batch:
    """The batch in rows that are mappings from column to cell, by the grammar that a file is read by.

    `kits` are the rows of a kits file. A key `row` is the row's number, else it is the line at which the row would
    stand in a file. A row that is refused is left out alone: `left` has its number, `findings` what is wrong with it.
    Raises `Trouble` where `art_root` is no folder, `ValueError` for a row's number that is none or there twice.
    """
    blanks = blanks or RowDefaults()
    tally = FindingsLog(source)
    from impose.orders.row_mappings import make_records

    heading, *records = make_records(rows)
    columns = _read_columns(heading, tally, blanks)
    root = check_art_folder(art_root)
    context = _make_context(columns, profiles, ArtRoot(root), units, blanks, kinds, tally)
    given = KitFile(root / source, _make_kit_reader(context), make_records(kits))
    lines = _read_rows(_check_record_widths(records, len(heading.cells), [], tally), given, context)
    batch = Batch(name, source, root, lines)
    _check_garments(batch, context)
    tally.add_findings([*check_names(batch.rows), *_refuse_rows_beyond(batch, context)])
    good = tuple(row for row in lines if row.row not in context.refused)
    return replace(batch, rows=good, findings=tuple(tally.list_findings()), left=frozenset(context.refused))


def _read_rows(records: Iterable[TableRecord], kits: KitFile, context: ReadingContext) -> tuple[BatchRow, ...]:
    """The rows, each print of a kit a row of its own."""
    context.kits = kits
    lines = tuple(row for record in records for row in RosterLine(context, record).list_rows())
    context.tally.add_findings(report_expansions(lines))
    return lines


def _make_kit_reader(context: ReadingContext) -> Read:
    """Reads the records of a kit by the rules of the batch's rows."""
    return lambda records, columns, tally: _read_kit(records, columns, tally, context)


def _refuse_rows_beyond(batch: Batch, context: ReadingContext) -> Iterator[Finding]:
    """Refuse the rows from which on a batch has more transfers than it may."""
    total = 0
    for row in batch.rows:
        total += row.copies if row.row not in context.refused else 0
        if total > MOST_TRANSFERS:
            context.count_refused(row.row)
            what = f"from here on more than {MOST_TRANSFERS:,} transfers in one batch"
            yield Finding(what, "Split the batch, or make fewer copies at a time.", kind="bad-copies", row=row.row)


def _make_context(
    columns: Sequence[HeadingColumn],
    profiles: Profiles,
    art: ArtRoot,
    units: Literal["mm", "in"] | None,
    blanks: RowDefaults,
    kinds: frozenset[str] | None,
    tally: FindingsLog,
) -> ReadingContext:
    """What all rows under some columns share."""
    return ReadingContext(
        profiles=profiles,
        art=art,
        ours={column.name: column for column in columns if column.name},
        others=[column for column in columns if not column.name and column.heading],
        units=units,
        blanks=blanks,
        kinds=kinds,
        tally=tally,
    )


def _read_kit(
    records: Sequence[TableRecord], columns: list[HeadingColumn], tally: FindingsLog, context: ReadingContext
) -> list[tuple[BatchRow, str]]:
    """The prints of a kit with their garment cells, read by the rules of any row."""
    blanks = replace(context.blanks, copies=None)
    own = _make_context(columns, context.profiles, context.art, context.units, blanks, context.kinds, tally)
    bare = [column.index for column in columns if not column.heading]
    return [RowReader(own, record).kit_row() for record in _check_record_widths(records, len(columns), bare, tally)]


def list_files_named(csv_path: Path, column_map: ColumnMap | None = None) -> list[str]:
    """The artwork and font files that a batch file names, each once, whatever else is wrong with its rows.

    For who has to know what belongs to a batch before all of it is there. Raises `Trouble` where the file or its
    headings cannot be read.
    """
    tally = FindingsLog(str(csv_path))
    rows = _read_records(csv_path, column_map, tally)
    if not rows:
        return []
    translation = None if column_map is None else _make_translation(rows[0], column_map, tally)
    columns = _read_columns(rows[0], tally, RowDefaults()) if translation is None else translation.columns
    made = (row if translation is None else translation.translate_record(row, lambda *_: None) for row in rows[1:])
    records = [record for record in made if record is not None]
    named = dict.fromkeys(_list_named_files(records, columns))
    kits = {fold_text(name) for name in _list_cells(records, columns, "kit")}
    return list(named | dict.fromkeys(_list_files_of_kits(csv_path, kits))) if kits else list(named)


def _list_cells(records: Iterable[TableRecord], columns: Iterable[HeadingColumn], name: str) -> Iterator[str]:
    """What stands in one of our columns, where anything does."""
    for column in columns:
        if column.name == name:
            yield from (record.cells[column.index].strip() for record in records if len(record.cells) > column.index)


def _list_named_files(records: Sequence[TableRecord], columns: Sequence[HeadingColumn]) -> Iterator[str]:
    """Artwork and font files, in the order of the records."""
    readers = {column.index: str.strip if column.name == "art" else find_font_file
               for column in columns if column.name in ("art", "font")}  # fmt: skip
    for record in records:
        for index, read in readers.items():
            name = read(record.cells[index]) if len(record.cells) > index else ""
            if name:
                yield name


def _list_files_of_kits(csv_path: Path, wanted: set[str]) -> Iterator[str]:
    """The kits file beside a batch, whether it is there yet or not, and the files that the wanted kits name."""
    beside = find_kits_beside(csv_path)
    if beside is not None or csv_path.suffix.lower() != ".xlsx":
        yield beside.name if beside is not None else FILE
    found = read_kit_records(csv_path)
    if not found:
        return
    columns, _ = read_headings(found[0].cells, str(csv_path), 1, True)
    at = next((column.index for column in columns if column.name == "kit"), None)
    if at is not None:
        by_kit = group_records_by_kit(found[1:], at, len(found[0].cells))
        yield from _list_named_files(
            [record for kit, records in by_kit.items() if kit in wanted for record in records], columns
        )


def _read_records(path: Path, column_map: ColumnMap | None, tally: FindingsLog) -> list[TableRecord]:
    """The records that hold anything, headings first, from either kind of file."""
    found, findings = read_table_file(path, SPELLINGS if column_map is None else column_map.headings)
    tally.findings += findings
    return found


def _report_reprint_list(path: Path) -> Finding:
    what = "a list of prints to be made again, not a batch"
    remedy = Remedy("use-reprint-list", list=quote_for_shell(str(path)))
    return Finding(what, remedy, kind="csv", file=str(path), exit=Exit.USAGE)


def _make_translation(heading: TableRecord, column_map: ColumnMap, tally: FindingsLog) -> ColumnTranslation:
    """The column map laid over this file; a heading that it names and the file lacks stops the whole file."""
    from impose.orders.column_map import ColumnTranslation

    translation = ColumnTranslation(column_map, heading.cells, heading.line, tally.file)
    if heading.fault:
        tally.add_stop(heading.line, "", heading.fault, heading.remedy, None, "csv")
    tally.findings += translation.findings
    raise_stops(tally.findings)
    return translation


def _translate_records(
    found: Iterable[TableRecord], translation: ColumnTranslation | None, context: ReadingContext
) -> Iterator[TableRecord]:
    """The records under our own columns."""
    if translation is None:
        yield from found
        return

    def fault(
        line: int, column: str, heading: str, what: str, remedy: RemedySource, read: str | None, kind: str
    ) -> None:
        context.count_refused(line, order_known=column != "order")
        context.tally.add_stop(line, heading, what, remedy, read, kind)

    for record in found:
        made = translation.translate_record(record, fault)
        if made is not None:
            yield made
    context.tally.findings += translation.report_skipped()


def _read_columns(heading: TableRecord, tally: FindingsLog, blanks: RowDefaults) -> list[HeadingColumn]:
    """The columns; without a single known heading there is nothing to read on."""
    if heading.fault:
        tally.add_stop(heading.line, "", heading.fault, heading.remedy, None, "csv")
        raise Trouble(tally.findings)
    sized = blanks.placement is not None or blanks.width_mm is not None or blanks.height_mm is not None
    columns, findings = read_headings(heading.cells, tally.file, heading.line, sized)
    tally.findings += findings
    if not any(column.name for column in columns):
        raise_stops(findings)
    return columns


def _judge_batch(batch: Batch, context: ReadingContext, skip_bad: bool) -> Batch:
    """The batch with its findings; or `Trouble`, unless the faults lie in orders that may be left out."""
    _check_garments(batch, context)
    context.tally.add_findings(check_names(batch.rows))
    findings = context.tally.list_findings()
    stops = [f for f in findings if f.severity is Severity.STOP]
    stops += _report_too_many(batch, context.refused if skip_bad else frozenset())
    if not batch.rows and not stops:
        stops = [_report_no_rows(batch, any(f.kind == "row-skipped" for f in findings))]
    batch = replace(batch, findings=tuple(f for f in findings if f.severity is not Severity.STOP))
    rest = leave_out_refused(batch, stops, skip_bad, context.refused - context.nameless)
    if not rest.rows:
        raise Trouble(stops)
    return rest


def _report_too_many(batch: Batch, leaving: Collection[int]) -> list[Finding]:
    """Refused here already, before any artwork is opened."""
    total = sum(row.copies for row in batch.rows if row.row not in leaving)
    if total <= MOST_TRANSFERS:
        return []
    what = f"{total:,} transfers, more than {MOST_TRANSFERS:,} in one batch"
    return [Finding(what, "Split the batch, or make fewer copies at a time.", kind="bad-copies", file=batch.source)]


def _report_no_rows(batch: Batch, skipped: bool) -> Finding:
    if skipped:
        what = "the column map passes over every row"
        return Finding(what, "Look at its table [skip].", kind="csv", file=batch.source)
    return Finding("headings but no rows", "Write a row for each artwork.", kind="csv", file=batch.source)


def _check_garments(batch: Batch, context: ReadingContext) -> None:
    """Refuse rows that can be laid on garments in several ways; orders with a refused row are judged once mended."""
    unsure = {row.order_key for row in batch.rows if row.row in context.refused}
    for finding in assign_garments([row for row in batch.rows if row.order_key not in unsure])[1]:
        assert finding.row is not None
        context.count_refused(finding.row)
        context.tally.add_findings([finding])
    context.tally.add_findings(report_like_garments([row for row in batch.rows if row.order_key not in unsure]))


def _check_record_widths(
    found: Iterable[TableRecord], width: int, bare: list[int], tally: FindingsLog
) -> Iterator[TableRecord]:
    """The records that have a cell for each heading and none beside them; the others are faults."""
    for record in found:
        if record.fault:
            tally.add_stop(record.line, "", record.fault, record.remedy, None, "csv")
            continue
        what, remedy = _describe_misshapen(record.cells, width, bare)
        if what:
            tally.add_stop(record.line, "", what, remedy, None, "ragged-row")
        else:
            yield record


def _describe_misshapen(given: tuple[str, ...], width: int, bare: list[int]) -> tuple[str, str]:
    """What is wrong with the number of cells, and the remedy; or nothing."""
    if any(cell.strip() for cell in given[width:]):
        remedy = "Put a cell that holds the separator or a line break into quotes."
        return f"{len(given)} cells under {width} headings", remedy
    if len(given) < width:
        remedy = "Is the file cut short? Fill the row up with blank cells."
        return f"only {len(given)} of {width} cells", remedy
    for index in bare:
        if given[index].strip():
            return f"cell {index + 1} stands under no heading", "Give the column a heading, or clear the cell."
    return "", ""
