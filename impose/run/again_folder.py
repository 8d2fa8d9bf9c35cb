"""The folder of an order made again: `orders.csv` with every size and place written out, and its artwork."""

from __future__ import annotations

import csv
import io
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

from impose import files
from impose.profiles.word_styles import says_letters
from impose.run.again import AgainGroup, AgainOrder, AgainRow

TABLE = "orders.csv"
COLUMNS = ("order", "wearer", "art", "words", "font", "letters", "placement", "garment", "copies", "width", "height",
           "tear", "centre", "may_turn", "accept", "note", "cloth", "cloth_colour", "mend", "recolour", "drop",
           "across", "name", "number")  # fmt: skip
_RUNS_AS_FORMULA = re.compile(r"[=+\-@\t\r]")


def write_again(order: AgainOrder, out: Path) -> Path:
    """Write the folder, whole. Raises `Trouble` where it exists."""
    with files.write_new_folder(out) as folder:
        for name, path in sorted(order.art.items()):
            target = folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)
        (folder / TABLE).write_text(make_table(order), "utf-8", newline="")
    return out


def make_table(order: AgainOrder) -> str:
    """The batch as a CSV that `impose sheets` takes: a row for each print."""
    rows = [_list_cells(group, row) for group in order.groups for row in group.rows]
    extras = list(dict.fromkeys(heading for cells in rows for heading in cells if heading not in COLUMNS))
    used = [name for name in COLUMNS if any(cells.get(name) for cells in rows)]
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([*used, *extras])
    for cells in rows:
        writer.writerow([_guard_cell(cells.get(name, "")) for name in (*used, *extras)])
    return text.getvalue()


def _guard_cell(text: str) -> str:
    """A cell that no spreadsheet runs: one that begins like a formula gets a blank in front, which a batch passes over.

    Source: OWASP, CSV Injection.
    """
    return f" {text}" if _RUNS_AS_FORMULA.match(text) else text


def _list_cells(group: AgainGroup, made: AgainRow) -> dict[str, str]:
    row = made.row
    letters = "" if row.letters_mm is None or says_letters(row.font) else _format_mm(row.letters_mm)
    cells = {
        "order": row.order, "wearer": row.wearer, "art": "" if row.words else row.art.replace("\\", "/"),
        "words": row.words, "font": row.font if row.words else "", "letters": letters,
        "placement": row.placement or "", "garment": row.garment.text, "copies": str(group.count),
        "width": _format_mm(made.width_mm), "height": _format_mm(made.height_mm), "tear": _format_mm(made.tear_mm),
        "centre": "" if row.centre == "ink" else row.centre, "may_turn": "" if row.may_turn else "no",
        "accept": " ".join(sorted(row.accept)), "note": row.note, "cloth": row.cloth.text,
        "cloth_colour": row.cloth.colour, "mend": " ".join(sorted(row.mend)),
        "recolour": "; ".join(f"{change.before} > {change.after}" for change in row.recolour),
        "drop": made.drop, "across": made.across,
        "name": row.name, "number": row.number,
    }  # fmt: skip
    known = {*COLUMNS, "kit"}
    return {**cells, **dict(_list_extras(row.extra, known)), **_keep_names(row.extra, cells)}


def _list_extras(extra: tuple[tuple[str, str], ...], known: set[str]) -> Iterator[tuple[str, str]]:
    for heading, text in extra:
        if heading.casefold() not in known:
            yield heading, text


def _keep_names(extra: tuple[tuple[str, str], ...], cells: dict[str, str]) -> dict[str, str]:
    """Name and number of a row without a kit, which a record holds as it holds other columns."""
    return {h.casefold(): text for h, text in extra if h.casefold() in ("name", "number") and not cells[h.casefold()]}


def _format_mm(mm: float | None) -> str:
    return "" if mm is None else f"{mm:.6f}".rstrip("0").rstrip(".") + " mm"
