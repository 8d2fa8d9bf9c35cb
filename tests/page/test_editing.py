"""Rows, kits and choices as they are edited: one step of undoing each, saved within a second, shared by all tabs."""

from __future__ import annotations

import csv
import io
import os
import tomllib

import pytest

from impose.page.open_batch import OpenBatch
from page.conftest import ASLEEP, Bed
from waiting import LONGEST_S

ADD = {"op": "add", "new": "n", "cells": {"order": "Owl", "art": "art/owl.png", "placement": "left-chest"}}


def table(path) -> list[dict[str, str]]:
    """A CSV as the standard library reads it (RFC 4180)."""
    return list(csv.DictReader(io.StringIO(path.read_text("utf-8-sig"), newline="")))


def test_a_change_is_on_the_disk_within_a_second(bed, tab, monkeypatch):
    """The page waits for half of it at most before it writes; how long the writing takes is the machine's."""
    waits, real = [], OpenBatch._save_soon
    monkeypatch.setattr(OpenBatch, "_save_soon", lambda batch, wait_s: waits.append(wait_s) or real(batch, wait_s))
    made = tab.change(ADD)
    assert made["ids"] == {"n": "r1"}
    bed.until(lambda: (bed.folder / "orders.csv").exists())
    assert len(waits) == 1
    assert waits[0] <= 0.5
    (row,) = table(bed.folder / "orders.csv")
    assert (row["order"], row["art"], row["placement"]) == ("Owl", "art/owl.png", "left-chest")


def test_all_operations_or_none(bed, tab):
    tab.change(ADD)
    before = tab.rows
    tab.change(
        {"op": "set", "id": "r1", "column": "width", "value": "9 cm"}, {"op": "remove", "ids": ["r9"]}, status=409
    )
    assert tab.rows == before
    made = tab.change(
        {"op": "add", "new": "a", "cells": {"order": "1"}}, {"op": "set", "id": "a", "column": "note", "value": "x"}
    )
    assert tab.rows[-1]["cells"] == {"order": "1", "note": "x"}
    assert tab.rows[-1]["id"] == made["ids"]["a"]


def test_undo_and_redo_go_step_by_step(tab):
    tab.change(ADD, label="A new row")
    tab.change({"op": "set", "id": "r1", "column": "width", "value": "9 cm"}, label="Width of one row")
    back = tab.post(f"{tab.base}/undo", {})
    assert (back["undo"], back["redo"]) == ("A new row", "Width of one row")
    assert "width" not in tab.rows[0]["cells"]
    tab.post(f"{tab.base}/redo", {})
    assert tab.rows[0]["cells"]["width"] == "9 cm"
    for _ in range(2):
        tab.post(f"{tab.base}/undo", {})
    assert tab.rows == []
    tab.post(f"{tab.base}/undo", {}, 409)


def test_typing_in_one_field_is_one_step(tab, monkeypatch):
    """So long as a person goes on typing, and no longer: a machine may make a pause between two letters."""
    monkeypatch.setattr("impose.page.batch_state.MERGE_S", 2 * LONGEST_S)
    tab.change(ADD)
    for text in ("9", "90", "90 m", "90 mm"):
        tab.change({"op": "set", "id": "r1", "column": "width", "value": text}, merge="width-r1")
    tab.post(f"{tab.base}/undo", {})
    assert "width" not in tab.rows[0]["cells"]
    monkeypatch.setattr("impose.page.batch_state.MERGE_S", 0.0)
    for text in ("9", "90 mm"):
        tab.change({"op": "set", "id": "r1", "column": "width", "value": text}, merge="width-r1")
    tab.post(f"{tab.base}/undo", {})
    assert tab.rows[0]["cells"]["width"] == "9"


def test_two_tabs_edit_one_batch(bed, tab):
    other = bed.tab("other")
    tab.change(ADD)
    other.change({"op": "set", "id": "r1", "column": "width", "value": "80 mm"})
    tab.change({"op": "set", "id": "r1", "column": "note", "value": "gift"})
    assert tab.rows == other.rows
    assert tab.rows[0]["cells"] | {} == {**ADD["cells"], "width": "80 mm", "note": "gift"}
    other.change({"op": "remove", "ids": ["r1"]})
    told = tab.change({"op": "set", "id": "r1", "column": "note", "value": "late"}, status=409)
    assert told["error"]["code"] == "gone"
    assert tab.rows == []


def test_rows_keep_their_place_and_name(tab):
    for name in ("a", "b", "c"):
        tab.change({"op": "add", "cells": {"order": name}})
    tab.change({"op": "move", "ids": ["r3"], "after": None})
    tab.change({"op": "add", "after": "r3", "cells": {"order": "d"}})
    assert [(row["id"], row["line"], row["cells"]["order"]) for row in tab.rows] == [
        ("r3", 2, "c"),
        ("r4", 3, "d"),
        ("r1", 4, "a"),
        ("r2", 5, "b"),
    ]


def test_choices_stand_in_the_batch_file(bed, tab):
    tab.change(
        {"op": "choose", "name": "papers", "value": ["a4", "a3"]},
        {"op": "choose", "name": "oversize", "value": "shrink"},
    )
    path = bed.folder / "batch.toml"
    bed.until(path.exists)
    bed.until(lambda: tomllib.loads(path.read_text()) == {"papers": ["a4", "a3"], "oversize": "shrink"})
    tab.change({"op": "choose", "name": "oversize", "value": None}, {"op": "choose", "name": "papers", "value": []})
    bed.until(lambda: not path.exists())


def test_what_nobody_touched_stays_byte_for_byte(tmp_path):
    """Columns that are not ours, quotes, blank lines, the separator and the ends of lines are the person's own."""
    folder = tmp_path / "batch"
    folder.mkdir()
    lines = ['order;art;"Locker ""no"""; width\n', '"A";owl.png;"3;4";\n', "\n", 'B;moth.png;"two\nlines";90 mm']
    (folder / "orders.csv").write_bytes("".join(lines).encode())
    bed = Bed(tmp_path, ASLEEP)
    try:
        tab = bed.tab()
        assert [column["key"] for column in tab.get(tab.base)["columns"]] == ["order", "art", 'Locker "no"', "width"]
        assert [row["line"] for row in tab.rows] == [2, 4]
        tab.change({"op": "set", "id": tab.rows[0]["id"], "column": "width", "value": "80 mm"})
        bed.until(lambda: (told := tab.get(tab.base))["saved"] == told["revision"])
        assert (folder / "orders.csv").read_bytes() == "".join(
            [lines[0], 'A;owl.png;"3;4";80 mm\n', *lines[2:]]
        ).encode()
    finally:
        bed.close()


def test_a_spreadsheet_is_never_written(tmp_path):
    from openpyxl import Workbook

    folder = tmp_path / "batch"
    folder.mkdir()
    book = Workbook()
    book.active.append(["order", "art", "placement"])
    book.active.append(["Owl", "art/owl.png", "left-chest"])
    book.save(folder / "orders.xlsx")
    before = (folder / "orders.xlsx").read_bytes()
    bed = Bed(tmp_path, ASLEEP)
    try:
        tab = bed.tab()
        assert tab.rows[0]["cells"]["order"] == "Owl"
        assert tab.get(tab.base)["read_only"]
        assert tab.change(ADD, status=409)["error"]["code"] == "read-only"
        tab.post(f"{tab.base}/copy-to-csv", {})
        tab.change(ADD)
        bed.until(lambda: (folder / "orders.csv").exists() and len(table(folder / "orders.csv")) == 2)
        assert (folder / "orders.xlsx").read_bytes() == before
    finally:
        bed.close()


def test_a_change_made_elsewhere_is_taken_and_can_be_undone(bed, tab):
    tab.change(ADD)
    path = bed.folder / "orders.csv"
    bed.until(path.exists)
    bed.until(lambda: tab.get(tab.base)["saved"] == 2)
    coming = bed.folder / "coming"
    coming.write_text("order,art\r\nOwl,art/owl.png\r\nMoth,art/moth.png\r\n")
    coming.rename(path)  # whole at once: half of it would be a change of its own
    bed.until(lambda: len(tab.rows) == 2)
    assert tab.get(tab.base)["undo"] == "Changes made in another program"
    tab.post(f"{tab.base}/undo", {})
    assert len(tab.rows) == 1


@pytest.mark.parametrize("answer", ["mine", "theirs"])
def test_changed_in_both_places_is_kept_twice_and_asked(bed, tab, answer):
    tab.change(ADD)
    path, beside = bed.folder / "orders.csv", bed.folder / "orders (from the page).csv"
    bed.until(lambda: tab.get(tab.base)["saved"] == 2)

    def change_both(page):
        """Both within one look at the files: what the page has is not on the disk when the other program saves."""
        path.write_text("order,art\r\nTheirs,art/moth.png\r\n")
        page.open[bed.batch].change([{"op": "set", "id": "r1", "column": "note", "value": "mine"}], "")

    bed.call(change_both)
    bed.until(beside.exists)
    bed.until(lambda: tab.get(tab.base)["elsewhere"] is not None)
    assert table(path)[0]["order"] == "Theirs"
    assert table(beside)[0]["note"] == "mine"
    tab.post(f"{tab.base}/elsewhere", {"answer": answer})
    assert tab.get(tab.base)["elsewhere"] is None
    assert not beside.exists()
    kept = {"mine": "Owl", "theirs": "Theirs"}[answer]
    assert table(path)[0]["order"] == kept
    assert tab.rows[0]["cells"]["order"] == kept


def test_a_row_typed_while_the_other_version_is_read_is_kept_too(bed, tab, monkeypatch):
    from impose.page import batch_files

    tab.change(ADD)
    path, beside = bed.folder / "orders.csv", bed.folder / "orders (from the page).csv"
    bed.until(lambda: tab.get(tab.base)["saved"] == 2)
    read = batch_files.BatchFiles.read_state

    def read_and_be_typed_in(files):
        state = read(files)
        monkeypatch.undo()
        row = [{"op": "set", "id": "r1", "column": "note", "value": "typed meanwhile"}]
        bed.call(lambda page: page.open[bed.batch].change(row, ""))
        return state

    monkeypatch.setattr(batch_files.BatchFiles, "read_state", read_and_be_typed_in)
    coming = bed.folder / "coming"
    coming.write_text("order,art\r\nTheirs,art/moth.png\r\n")
    coming.rename(path)
    bed.until(lambda: tab.get(tab.base)["elsewhere"] is not None)
    assert table(path)[0]["order"] == "Theirs"
    assert table(beside)[0]["note"] == "typed meanwhile"


def test_what_is_saved_elsewhere_right_after_the_page_has_saved_is_taken(bed, tab, monkeypatch):
    """Between the new name and the first look at it: it was held for the page's own, and written over by the next."""
    from impose.page import batch_files

    write = batch_files.write_whole

    def write_and_be_written_over(path, content):
        found = write(path, content)
        monkeypatch.undo()
        (bed.folder / "coming").write_text("order,art\r\nTheirs,art/moth.png\r\n")
        (bed.folder / "coming").rename(path)
        return found

    monkeypatch.setattr(batch_files, "write_whole", write_and_be_written_over)
    tab.change(ADD)
    bed.until(lambda: [row["cells"]["order"] for row in tab.rows] == ["Theirs"])
    assert tab.get(tab.base)["undo"] == "Changes made in another program"


def test_a_full_disk_is_told_and_tried_again(bed, tab, monkeypatch):
    """`ENOSPC` of errno(3), as the system gives it where a disk is full."""
    from impose.page import batch_files

    full, real = [True], batch_files.write_whole

    def write(path, content):
        if full[0]:
            raise OSError(28, "No space left on device", str(path))
        return real(path, content)

    monkeypatch.setattr(batch_files, "write_whole", write)
    tab.change(ADD)
    bed.until(lambda: any(batch._failed for batch in bed.page.open.values()))
    assert not (bed.folder / "orders.csv").exists()
    assert tab.rows[0]["cells"]["order"] == "Owl"
    assert tab.post(f"{tab.base}/make", {"plan": 1}, 409)["error"]["code"] == "unsaved"
    full[0] = False
    bed.until(lambda: (told := tab.get(tab.base))["saved"] == told["revision"])
    assert (bed.folder / "orders.csv").exists()


def test_ending_saves_what_was_typed_last(tmp_path):
    bed = Bed(tmp_path, ASLEEP)
    tab = bed.tab()
    tab.change(ADD)
    tab.post("/api/quit", {})
    bed.close()
    assert table(bed.folder / "orders.csv")[0]["order"] == "Owl"
    assert not (bed.state / "page.json").exists()


def test_a_broken_file_is_shown_as_it_is_and_left_alone(tmp_path):
    folder = tmp_path / "batch"
    folder.mkdir()
    (folder / "orders.csv").write_text('order,art\nA,"never closed\nB,c.png\n')
    before = (folder / "orders.csv").read_bytes()
    bed = Bed(tmp_path, ASLEEP)
    try:
        tab = bed.tab()
        assert "row 2" in tab.get(tab.base)["read_only"]["what"]
        tab.change(ADD, status=409)
        (folder / "coming").write_text("order,art\nA,a.png\n")
        (folder / "coming").rename(folder / "orders.csv")  # whole at once: an empty file is an empty batch
        bed.until(lambda: tab.get(tab.base)["read_only"] is None)
        assert tab.rows[0]["cells"]["order"] == "A"
    finally:
        bed.close()
    assert before != (folder / "orders.csv").read_bytes()


def test_files_are_as_open_as_others_of_the_folder(bed, tab):
    tab.change(ADD)
    bed.until((bed.folder / "orders.csv").exists)
    mask = os.umask(0)
    os.umask(mask)
    assert (bed.folder / "orders.csv").stat().st_mode & 0o777 == 0o666 & ~mask


def test_what_is_asked_of_a_measured_page_is_what_can_be_read_off_it():
    from impose.page.shop_handlers import _FIELDS
    from impose.run.calibration_readings import NAMES

    assert {name for name, _, _ in _FIELDS} == set(NAMES)


def test_the_server_starts_without_what_it_does_not_need_yet():
    """Who opens the page waits for this: artwork, nesting and drawing are loaded by the helper, or when asked for."""
    import subprocess
    import sys

    heavy = ("numpy", "PIL", "pymupdf", "rectpack", "impose.run.plan", "impose.run.nest_batch", "impose.art.prepare",
             "impose.pages.proof.garment_drawings", "impose.desk.monitor", "impose.printing.batch_printer")  # fmt: skip
    script = "import sys, impose.page.application; print(*[name for name in sys.argv[1:] if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", script, *heavy], capture_output=True, text=True, check=True)
    assert done.stdout.split() == []


def test_what_is_said_now_goes_before_what_the_batch_says(tmp_path):
    from impose.run.batch_choices import lay_choices
    from impose.run.options import Options

    batch = {"oversize": "panels"}
    assert lay_choices(Options(), batch, tmp_path).oversize_way == "panels"
    assert lay_choices(Options(oversize="refuse"), batch, tmp_path).oversize_way == "refuse"
    assert lay_choices(Options(), {}, tmp_path).oversize_way == "refuse"


def test_every_choice_of_a_batch_can_be_shown(tmp_path):
    from impose.page.shop_page import list_choices
    from impose.run.batch_choices import NAMES
    from impose.run.options import Options

    told = list_choices(Options(), {}, tmp_path)
    assert [entry["name"] for entry in told] == list(NAMES)
    assert all(entry["title"] and entry["group"] for entry in told)
