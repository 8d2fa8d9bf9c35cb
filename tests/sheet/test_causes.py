"""Findings by picture and cause: said once, with the rows, and what to ask for."""

from __future__ import annotations

from impose.errors import Finding, Severity
from impose.sheet.finding_causes import gather_causes


def _few(row, ppi, art="art/oars.png"):
    kind = "very-low-resolution" if ppi < 100 else "low-resolution"
    remedy = f"Ask for a larger picture, its ink {row * 100:,} pixels wide or more, or print it at most 5 mm wide."
    what = f"{ppi} pixels an inch at 80 mm wide"
    return Finding(what, remedy, Severity.WARN, kind, file="o.csv", row=row, column="art", read=art)


def test_one_picture_is_asked_for_once_with_all_its_rows_and_by_its_worst():
    (told,) = gather_causes([_few(4, 112), _few(7, 74), _few(9, 98)])
    assert told.what.startswith("74 ")
    assert "a larger picture of oars.png (for rows 4, 7, 9), its ink 700 pixels wide" in told.remedy
    assert str(told).count("pixels an inch") == 1
    assert len(gather_causes([_few(4, 112), _few(7, 74, "art/moth.png")])) == 2


def test_thirty_rows_with_like_words_are_one_line():
    def wide(row):
        what = f"{140 + row} mm at its longest, far under the 279 mm usual for full back"
        return Finding(what, "Check.", Severity.WARN, "size-unusual", file="o.csv", row=row, column="width")

    (told,) = gather_causes([wide(row) for row in range(2, 32)])
    assert "rows 2-31" in str(told)


def test_what_stops_is_each_said():
    stops = [Finding("no such file", kind="art-missing", file="o.csv", row=row, read=f"{row}.png") for row in (2, 3)]
    assert len(gather_causes(stops)) == 2
