"""A table that a person edits is written back as it came (RFC 4180 and what spreadsheets make of it)."""

from __future__ import annotations

import codecs
import csv
import io
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from each_case import try_each
from impose.errors import Trouble
from impose.orders.editable_table import EditableTable, carry_names, parse_editable, read_workbook_table

PATH = Path("evening.csv")
FILE = (
    'order,art,width,colour of ours\r\nR-1,"owl, grey.png",60 mm,x\r\n\r\nR-2,"two\r\nlines.png",90 mm\r\nR-3,fox.png,'
)


def parsed(text: str = FILE, encoding: str = "utf-8", mark: bytes = b"") -> EditableTable:
    return parse_editable(mark + text.encode(encoding), PATH)


def rows_of(content: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@try_each(
    "text, encoding, mark",
    [
        (FILE, "utf-8", b""),
        (FILE, "utf-8", codecs.BOM_UTF8),
        (FILE.replace("\r\n", "\n"), "utf-8", b""),
        (FILE.replace(",", ";").replace("\r\n", "\r"), "utf-8", b""),
        (FILE, "utf-16-le", codecs.BOM_UTF16_LE),
        (FILE, "utf-16-be", codecs.BOM_UTF16_BE),
        ("sep=;\r\n" + FILE.replace(",", ";"), "utf-8", b""),
        ("\r\n" + FILE, "utf-8", b""),
        (FILE + "\r\n", "utf-8", b""),
    ],
)
def test_what_was_not_edited_is_written_back_byte_for_byte(text, encoding, mark):
    content = mark + text.encode(encoding)
    assert parse_editable(content, PATH).make_file() == content


def test_a_cell_that_is_changed_changes_its_record_alone():
    table = parsed()
    ident = table.list_shown()[1].id
    changed = table.set_cell(ident, "width", "91 mm")
    assert changed.make_file().decode() == FILE.replace("90 mm", "91 mm,")
    assert table.make_file().decode() == FILE, "the table before is kept as it was"
    assert table.set_cell(ident, "width", "90 mm") is table
    with pytest.raises(LookupError):
        table.set_cell("r99", "width", "1 mm")


def test_a_new_row_stands_where_it_was_asked_for_and_after_a_last_line_without_end():
    table = parsed()
    first, _, last = table.list_shown()
    for after, at in ((None, 1), (first.id, 2), (last.id, 5), (..., 5)):
        more, ident = table.add_row({"order": "NEW", "art": "new.png"}, after)
        assert ident not in {row.id for row in table.rows}
        rows = rows_of(more.make_file())
        assert [row[:2] for row in rows].index(["NEW", "new.png"]) == at
        assert len(rows) == 6
        again, other = more.add_row({"order": "NEXT"})
        assert other != ident
        assert rows_of(again.make_file())[-1][0] == "NEXT"


def test_rows_are_moved_in_the_order_of_the_file_and_removed():
    table = parsed()
    one, two, three = (row.id for row in table.list_shown())
    moved = table.move_rows([three, two], None)
    assert [row.cells[0] for row in moved.list_shown()] == ["R-2", "R-3", "R-1"]
    assert [row.cells[0] for row in table.move_rows([one], two).list_shown()] == ["R-2", "R-1", "R-3"]
    assert [row.cells[0] for row in table.remove_rows([one, three]).list_shown()] == ["R-2"]
    with pytest.raises(LookupError):
        table.remove_rows([one, "r99"])


def test_columns_come_and_go_with_what_stands_in_them():
    table = parsed()
    ident = table.list_shown()[0].id
    wider = table.set_cell(ident, "note", "soon")
    rows = rows_of(wider.make_file())
    assert rows[0][-1] == "note"
    assert rows[1] == ["R-1", "owl, grey.png", "60 mm", "x", "soon"]
    assert rows[2] == [], "a blank line stays one"
    narrower = wider.remove_column("art")
    assert rows_of(narrower.make_file())[1] == ["R-1", "60 mm", "x", "soon"]


def test_each_row_knows_its_line_of_the_file():
    """As a text editor counts: a quoted cell may hold the end of a line."""
    table = parsed("sep=,\r\n" + FILE)
    first, second, third = (row.id for row in table.list_shown())
    lines = table.number_lines()
    assert (lines[first], lines[second], lines[third]) == (3, 5, 7)
    assert [entry["row"] for entry in table.make_mappings()] == [3, 5, 7]
    assert table.make_mappings(lambda ident: {"told": ident})[1]["told"] == second
    assert parsed(FILE.replace("\r\n", "\r")).number_lines() == parsed(FILE.replace("\r\n", "\n")).number_lines()


def test_no_two_columns_are_asked_for_by_one_key():
    table = parsed("art,art,,picture\na,b,c,d\n")
    assert len(set(table.keys)) == 4
    assert set(table.read_values(table.rows[0]).values()) == {"a", "b", "c", "d"}


def test_rows_read_anew_keep_their_names():
    """The same rows by what they hold, a changed one by its place, a new one by a name that was never given."""
    before = parsed("art,width\na,1\nb,2\nc,3\n")
    names = [row.id for row in before.rows]
    after = carry_names(before, parsed("art,width\nc,3\nb,9\na,1\nd,4\n"))
    assert [row.id for row in after.rows[:3]] == [names[2], names[1], names[0]]
    assert after.rows[3].id not in names
    _, ident = after.add_row({"art": "e"})
    assert ident not in {row.id for row in after.rows}


@pytest.mark.parametrize("content", [b"", b"\r\n\r\n", b'art,width\n"a,1\n'])
def test_a_file_with_nothing_in_it_or_a_broken_record_is_refused(content):
    with pytest.raises(Trouble):
        parse_editable(content, PATH)


def test_a_workbooks_table_is_shown_with_names_for_rows_to_come(tmp_path):
    from openpyxl import Workbook

    book = Workbook()
    for row in (["art", "width"], ["owl.png", "60 mm"], [None, None], ["fox.png"]):
        book.active.append(row)
    book.save(tmp_path / "b.xlsx")
    table = read_workbook_table(tmp_path / "b.xlsx")
    assert [row.cells for row in table.list_shown()] == [("owl.png", "60 mm"), ("fox.png", "")]
    # Rows are called after their lines in the file, and the next after the last of them.
    assert [row.id for row in table.list_shown()] == ["r2", "r4"]
    assert table.add_row({"art": "new.png"})[1] == "r5"


CELL = st.text(st.characters(codec="utf-8", exclude_characters="\0", exclude_categories=["Cs"]), max_size=8)


@given(st.lists(st.lists(CELL, min_size=2, max_size=2), min_size=1, max_size=5), st.sampled_from([",", ";", "\t"]))
def test_any_table_that_csv_writes_comes_back_as_it_was(rows, separator):
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator).writerows([["order", "art"], *rows])
    content = out.getvalue().encode()
    try:
        table = parse_editable(content, PATH)
    except Trouble:
        return  # control characters
    assert table.make_file() == content
