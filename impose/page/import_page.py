"""Rosters and exports on the page: pasted lines to a table to confirm; an export's headings shown which is which."""

from __future__ import annotations

import asyncio
import secrets
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from impose.errors import Finding, raise_stops
from impose.files import open_scratch_folder
from impose.orders.column_map import ColumnTranslation
from impose.orders.column_map_file import FILE as MAP_FILE
from impose.orders.column_map_file import encode_column_map, make_column_map, read_map_data
from impose.orders.csv_text import TableRecord
from impose.orders.editable_table import EditableTable
from impose.orders.headings import COLUMNS, SPELLINGS, fold_heading, read_headings
from impose.orders.kits import find_word_places
from impose.orders.roster_paste import read_roster
from impose.orders.table_file import TABLES, read_table_file
from impose.page.artwork_store import FOLDER as ART
from impose.page.batch_handlers import BatchHandler, step_values
from impose.page.batch_values import title_of_column
from impose.page.finding_values import list_plain_finding, say_sentence
from impose.page.open_batch import OpenBatch
from impose.page.refusal import Refusal
from impose.run.load_batch import load_profiles_in_force
from impose.values import FrozenStruct

MOST_TABLE = 64 << 20
SAMPLES = 5
KEPT = 20


class RosterHandler(BatchHandler):
    """Pasted lines, to be confirmed; nothing is stored."""

    async def post(self, ident: str) -> None:
        """Read them."""
        said = self.json_body()
        batch = self.find_batch(ident)
        kit = str(said.get("kit") or "")
        needed, of_kit = _list_kit_facts(batch.state.kits, kit)
        garment = str(said.get("garment") or of_kit)
        answers = said.get("answers")
        profiles = await asyncio.to_thread(load_profiles_in_force, self.page.options)
        found = await asyncio.to_thread(
            read_roster,
            str(said.get("text") or ""),
            profiles.wardrobe,
            garment,
            needed,
            {str(key): str(value) for key, value in answers.items()} if isinstance(answers, dict) else {},
        )
        more = {key: value for key, value in (("kit", kit), ("order", str(said.get("order") or ""))) if value}
        self.send_json(
            {
                "columns": list(found.columns),
                "heading": found.heading,
                "cut": found.cut,
                "rows": [
                    {
                        "line": line.line,
                        "text": line.text,
                        "cells": {**more, **line.cells},
                        "asks": list(line.asks),
                        "findings": [say_sentence(words) for words in line.odd],
                    }
                    for line in found.lines
                ],
                "asks": [
                    {
                        "id": ask.id,
                        "question": ask.question,
                        "lines": list(ask.lines),
                        "answers": [{"answer": answer, "label": label} for answer, label in ask.answers],
                    }
                    for ask in found.asks
                ],
            }
        )


def _list_kit_facts(kits: EditableTable | None, name: str) -> tuple[set[str], str]:
    """What the words of a kit need, and which garment it is for."""
    needed: set[str] = set()
    garment, current = "", ""
    for row in kits.list_shown() if kits is not None else ():
        cells = kits.read_values(row) if kits is not None else {}
        current = cells.get("kit", "").strip() or current
        if current.casefold() == name.strip().casefold():
            needed |= find_word_places(cells.get("words", ""))
            garment = garment or cells.get("garment", "")
    return needed, garment


class ImportedTable(FrozenStruct):
    """An export that was dropped: its records, headings first."""

    batch: str
    name: str
    records: tuple[TableRecord, ...]
    findings: tuple[dict[str, Any], ...]


class ImportHandler(BatchHandler):
    """An export comes."""

    most_body = MOST_TABLE

    async def put(self, ident: str) -> None:
        """Show its headings, and which of ours each seems to be."""
        batch = self.find_batch(ident)
        name = Path(self.get_query_argument("name", "export.csv").replace("\\", "/")).name[:200]
        if Path(name).suffix.lower() not in TABLES:
            raise Refusal(415, "not-a-table", "This is no table of orders.", "Export the orders as CSV or .xlsx.")
        records, findings = await asyncio.to_thread(_read_dropped, bytes(self.body), Path(name).suffix.lower())
        if not records:
            raise Refusal(422, "empty", "This table is empty.", "Export the orders again.")
        found = ImportedTable(
            batch.id, name, tuple(records), tuple(list_plain_finding(finding) for finding in findings)
        )
        key = f"i{secrets.token_hex(4)}"
        self.page.imports[key] = found
        while len(self.page.imports) > KEPT:
            self.page.imports.pop(next(iter(self.page.imports)))
        heading, *rest = records
        columns = read_headings(heading.cells, "", 1, True)[0]
        self.send_json(
            {
                "import": key,
                "headings": list(heading.cells),
                "sample": [list(entry.cells) for entry in rest[:SAMPLES]],
                "rows": len(rest),
                "map": _find_known_map(batch, heading.cells)
                or {column.name: column.heading for column in columns if column.name},
                "columns": [{"name": entry, "title": title_of_column(entry)} for entry in COLUMNS],
                "findings": list(found.findings),
            }
        )


def _find_known_map(batch: OpenBatch, headings: Sequence[str]) -> dict[str, Any]:
    """The map that was shown for such an export before, if all its headings are there again."""
    data = {name: rule for name, rule in read_map_data(batch.folder).items() if isinstance(rule, dict)}
    named = [rule.get("from", []) for name, rule in data.items() if name in COLUMNS]
    wanted = {fold_heading(entry) for many in named for entry in ([many] if isinstance(many, str) else many)}
    return data if wanted and wanted <= {fold_heading(heading) for heading in headings} else {}


def _read_dropped(content: bytes, ending: str) -> Any:
    with open_scratch_folder() as folder:
        path = folder / f"export{ending}"
        path.write_bytes(content)
        return read_table_file(path, SPELLINGS)


class TakeImportHandler(BatchHandler):
    """An export by its map: shown, or taken."""

    async def post(self, ident: str, key: str) -> None:
        """Translate its rows."""
        said = self.json_body()
        batch = self.find_batch(ident)
        held = self.page.imports.get(key)
        if held is None or held.batch != ident:
            raise Refusal(404, "gone", "This export is not here any more.", "Drop it again.")
        mapped = said.get("map")
        if not isinstance(mapped, dict):
            raise Refusal(400, "malformed", "The page sent something that cannot be read: map.", "Reload the page.")
        passed = said.get("skip")
        skip: dict[str, Any] = passed if isinstance(passed, dict) else {}
        rows, findings, skipped = await asyncio.to_thread(_translate_rows, held, mapped, skip)
        for row in rows:
            row |= _name_in_batch(row.get("art", ""), batch.folder)
        told = {"rows": [{"cells": row} for row in rows], "findings": findings, "skipped": skipped}
        if said.get("take") is True:
            self._take_rows(batch, rows, held.name)
            content = encode_column_map(mapped, skip)
            await asyncio.to_thread((batch.folder / MAP_FILE).write_bytes, content)
            told |= step_values(batch)
        self.send_json(told)

    def _take_rows(self, batch: OpenBatch, rows: Sequence[Mapping[str, str]], name: str) -> None:
        if not rows:
            raise Refusal(422, "empty", "No row is left to be taken.", "Look at what is passed over.")
        batch.change([{"op": "add", "cells": dict(row)} for row in rows], f"Rows of {name}", by=self.tab)


def _name_in_batch(art: str, folder: Path) -> dict[str, str]:
    """The cell for a picture that an export names without a folder: pictures that are dropped lie in the folder art."""
    if not art or "/" in art or "\\" in art or (folder / art).is_file():
        return {}
    return {"art": f"{ART}/{art}"}


def _translate_rows(
    held: ImportedTable, mapped: Mapping[str, Any], skip: Mapping[str, Any]
) -> tuple[list[dict[str, str]], list[dict[str, Any]], int]:
    """The rows in our columns, what is worth knowing, and how many were passed over."""
    heading, *records = held.records
    translation = ColumnTranslation(make_column_map(mapped, skip), heading.cells, heading.line, held.name)
    raise_stops(translation.findings)
    faults: list[Finding] = []

    def note_fault(line: int, column: str, shown: str, what: str, remedy: Any, read: str | None, kind: str) -> None:
        words = remedy if isinstance(remedy, str) else remedy()
        faults.append(Finding(what, words, kind=kind, file=held.name, row=line, column=shown, read=read))

    made = [translation.translate_record(record, note_fault) for record in records]
    names = [entry.name or entry.heading for entry in translation.columns]
    rows = [{name: cell for name, cell in zip(names, entry.cells, strict=False) if cell} for entry in made if entry]
    found = [list_plain_finding(entry) for entry in (*faults, *translation.findings, *translation.report_skipped())]
    return rows, [*found, *held.findings], made.count(None)


ROUTES: list[tuple[str, Any]] = [
    (r"/api/b/([0-9a-z]{1,32})/roster", RosterHandler),
    (r"/api/b/([0-9a-z]{1,32})/import", ImportHandler),
    (r"/api/b/([0-9a-z]{1,32})/import/(i[0-9a-f]{8})", TakeImportHandler),
]
