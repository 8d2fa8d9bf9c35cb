"""Answers of customers: noted of what was shown, found by later runs, and every later change marked."""

from __future__ import annotations

import json
import shutil

import pytest

from conftest import draw
from impose.errors import Severity, Trouble
from impose.run import Options, check, plan, produce
from impose.run.agreed_answers import MARK, find_agreed_file, note_agreed, read_agreed

HEAD = "order,wearer,art,placement,garment,copies,width"
ROWS = ("Crew,Ada,owl.png,left-chest,adult M,1,80 mm", "Crew,Bo,owl.png,left-chest,adult L,1,80 mm")


@pytest.fixture(scope="module")
def once(tmp_path_factory):
    """The batch and its output, made once."""
    folder = tmp_path_factory.mktemp("once")
    draw("ellipse", 600, 600).save(folder / "owl.png", compress_level=1)
    source = folder / "evening.csv"
    source.write_text("\n".join([HEAD, *ROWS]) + "\n", "utf-8")
    options = Options(steps=5, workers=1, cache=False)
    produce(plan([source], options), folder / "out")
    return folder, options


@pytest.fixture
def made(tmp_path, once):
    """Both moved to the test's own folder."""
    folder, options = once
    shutil.copytree(folder, tmp_path, dirs_exist_ok=True)
    record = tmp_path / "out" / "batch.json"
    record.write_text(record.read_text("utf-8").replace(str(folder), str(tmp_path)), "utf-8")
    return tmp_path / "evening.csv", tmp_path / "out", options


def _told(source, options, kind="not-agreed"):
    return [one for one in check([source], options).findings if one.kind == kind]


def test_an_answer_is_noted_by_the_command_and_told_by_check(made, run):
    source, out, options = made
    code, text, _ = run("check", out, "--agreed", "Ada Weir", "--on", "2026-11-28")
    assert code == 0
    assert "Crew, agreed by Ada Weir on 2026-11-28" in text
    (note,) = _told(source, options, "agreed")
    assert note.severity is Severity.NOTE
    assert "Ada Weir on 2026-11-28" in note.what
    assert not _told(source, options)


@pytest.mark.parametrize(
    ("rows", "row", "words"),
    [
        ((ROWS[0].replace("80 mm", "90 mm"), ROWS[1]), 2, "the size was 80 mm × 80 mm, now 90 mm × 90 mm"),
        ((ROWS[0], ROWS[1].replace(",1,", ",3,")), 3, "copies were 1, now 3"),
        ((ROWS[0], ROWS[1].replace("Bo,", "Bob,")), 3, "for Bob was not among it"),
        ((ROWS[0],), 2, "on left chest for Bo is no longer there"),
    ],
)
def test_what_changes_afterwards_is_marked_in_check_proof_and_tickets(made, rows, row, words):
    source, out, options = made
    note_agreed(out, "Ada", "Monday")
    source.write_text("\n".join([HEAD, *rows]) + "\n", "utf-8")
    told = [one for one in _told(source, options) if words in one.what]
    assert [one.row for one in told] == [row]
    planned = plan([source], options)
    marks = dict(next(one for one in planned.batch.rows if one.row == row).extra)
    assert words in marks[MARK]
    on_sheets = [p.transfer.piece.row for sheet in planned.layout.sheets for p in sheet.placed]
    assert any(MARK in dict(one.extra) for one in on_sheets)
    page = (produce(planned, out, replace=True) / "proof.html").read_text("utf-8")
    assert "ot what was agreed" in page


def test_another_picture_under_the_same_name_is_not_what_was_agreed(made, tmp_path):
    source, out, options = made
    note_agreed(out, "Ada", "Monday")
    draw("noise", 600, 600, 3).save(tmp_path / "owl.png", compress_level=1)
    assert all("the picture owl.png has changed" in one.what for one in _told(source, options))
    assert len(_told(source, options)) == 2


def test_other_lettering_or_cloth_is_not_what_was_agreed(tmp_path):
    """Both are seen by whoever wears it, and neither is in the words or the size. An older answer says neither."""
    source, options = tmp_path / "evening.csv", Options(steps=5, workers=1, cache=False)
    head, row = "order,wearer,words,font,placement,garment,width,cloth_colour", "Crew,Ada,ADA,{},nape,adult M,80 mm,{}"

    def write(*values):
        source.write_text(f"{head}\n{row.format(*values)}\n", "utf-8")

    write("plain", "white")
    produce(plan([source], options), tmp_path / "out")
    note_agreed(tmp_path / "out", "Ada", "Monday")
    write("bold", "cream")
    (told,) = _told(source, options)
    assert "the lettering was “plain”, now “bold”" in told.what
    assert "the cloth was “white polyester (assumed)”, now “cream polyester (assumed)”" in told.what
    path = find_agreed_file(str(source), "evening")
    values = json.loads(path.read_text("utf-8"))
    for shown in values["orders"][0]["shows"]:
        del shown["font"], shown["cloth"], shown["size_mm"]
        shown["size_mm"] = plan([source], options).record["approval"][0]["shows"][0]["size_mm"]
    path.write_text(json.dumps(values), "utf-8")
    assert not _told(source, options)


def test_another_place_is_not_what_was_agreed(tmp_path):
    """The drawing shows it: a print that moves by a hand's breadth was not agreed to. An older answer says no place."""
    source, options = tmp_path / "evening.csv", Options(steps=5, workers=1, cache=False)

    def write(drop):
        head = "order,wearer,words,placement,garment,width,drop"
        source.write_text(f"{head}\nCrew,Ada,ADA,nape,adult M,80 mm,{drop}\n", "utf-8")

    write("")
    produce(plan([source], options), tmp_path / "out")
    note_agreed(tmp_path / "out", "Ada", "Monday")
    write("90 mm from collar to top of print")
    (told,) = _told(source, options)
    assert "the place was" in told.what
    assert "now “90 mm from collar to top of print" in told.what
    path = find_agreed_file(str(source), "evening")
    values = json.loads(path.read_text("utf-8"))
    del values["orders"][0]["shows"][0]["place"]
    path.write_text(json.dumps(values), "utf-8")
    assert not _told(source, options)


def test_of_several_orders_one_is_named(made, run, tmp_path):
    source, _, options = made
    source.write_text("\n".join([HEAD, *ROWS, ROWS[0].replace("Crew", "Band")]) + "\n", "utf-8")
    produce(plan([source], options), tmp_path / "two")
    code, _, err = run("check", tmp_path / "two", "--agreed", "Ada")
    assert code == 2
    assert "Crew, Band" in err
    assert run("check", tmp_path / "two", "--agreed", "Ada", "--order", "Band")[0] == 0
    assert [one.order for one in read_agreed(find_agreed_file(str(source), "evening"))] == ["Band"]


def test_the_answers_lie_under_the_files_name_whatever_the_batch_is_called(made):
    """The page calls a batch by its folder, the commands by its file: both find the same answers."""
    source, _, _ = made
    assert (
        find_agreed_file(str(source), "Saturday")
        == find_agreed_file(str(source), "evening")
        == source.with_name("evening-agreed.json")
    )
    folder = source.parent / "out"
    assert find_agreed_file(str(folder), "out").name == "out-agreed.json"


@pytest.mark.parametrize("content", ["", "{", "[]", '{"format": "impose-agreed/1", "orders": [3]}'])
def test_a_damaged_file_of_answers_is_a_warning(made, content):
    source, _, options = made
    find_agreed_file(str(source), "evening").write_text(content, "utf-8")
    (told,) = _told(source, options)
    assert told.severity is Severity.WARN
    assert "cannot be read" in told.what


def test_the_record_keeps_what_each_page_showed(made):
    _, out, _ = made
    (page,) = json.loads((out / "batch.json").read_text("utf-8"))["approval"]
    assert [one["wearer"] for one in page["shows"]] == ["Ada", "Bo"]
    assert page["shows"][0]["size_mm"] == [80.0, 80.0]


@pytest.mark.parametrize("size", [["Infinity", 80], ["NaN", "NaN"], ["1" + "0" * 400, 80], [-80, 80], ["{}", 1], []])
def test_answers_with_sizes_that_are_none_are_no_longer_what_is_made(made, size):
    """JSON of Python's kind has numbers that no size can be; nobody's agreement is lost, and nothing passes for one."""
    source, out, options = made
    path, _ = note_agreed(out, "Ada", "Monday")
    text = json.dumps(json.loads(path.read_text("utf-8"))).replace("[80.0, 80.0]", f"[{', '.join(map(str, size))}]", 1)
    path.write_text(text, "utf-8")
    (told,) = _told(source, options)
    assert told.row == 2
    assert "the size was" in told.what
    assert len(told.what) < 1300


@pytest.mark.parametrize("row", ["Infinity", '"two"', "null"])
def test_answers_that_cannot_be_read_are_told(made, row):
    source, out, options = made
    path, _ = note_agreed(out, "Ada", "Monday")
    values = json.loads(path.read_text("utf-8"))
    path.write_text(json.dumps(values).replace(f'"row": {values["orders"][0]["row"]}', f'"row": {row}'), "utf-8")
    assert "cannot be read" in _told(source, options)[0].what


@pytest.mark.parametrize("pages", ['[{"shows": []}]', '[{"order": 1, "row": [], "shows": []}]', '{"a": 1}'])
def test_a_damaged_record_is_no_folder_of_finished_sheets(made, pages):
    _, out, _ = made
    record = json.loads((out / "batch.json").read_text("utf-8"))
    (out / "batch.json").write_text(json.dumps(record | {"approval": json.loads(pages)}), "utf-8")
    with pytest.raises(Trouble) as caught:
        note_agreed(out, "Ada", "Monday")
    assert "no folder of finished sheets" in caught.value.findings[0].what


def test_an_answer_for_a_wearer_without_an_order_is_for_all_that_is_pressed_on_the_garment(tmp_path):
    draw("ellipse", 600, 600).save(tmp_path / "owl.png", compress_level=1)
    source, options = tmp_path / "team.csv", Options(steps=5, workers=1, cache=False)
    head, *rows = "wearer,art,placement,width", "Ada,owl.png,left-chest,80 mm", "Ada,owl.png,full-back,150 mm"
    source.write_text("\n".join([head, *rows]) + "\n", "utf-8")
    note_agreed(produce(plan([source], options), tmp_path / "out"), "Ada", "2026-11-28")
    assert [one.kind for one in check([source], options).findings if "agreed" in one.kind] == ["agreed"]
    source.write_text("\n".join([head, rows[0], rows[1].replace("150", "140")]) + "\n", "utf-8")
    assert [one.row for one in _told(source, options)] == [3]
