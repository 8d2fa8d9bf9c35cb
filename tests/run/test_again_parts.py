"""An order made again, piece by piece: which files come along, which words become whose, what a cell is written as."""

from __future__ import annotations

import hashlib
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.errors import Finding, Severity
from impose.profiles.word_styles import says_letters
from impose.run import again_artwork, again_folder
from impose.run.again_words import OldNames, replace_words
from impose.run.options import Options
from impose.values import replace
from sheet.test_ordered import BLANK


def make_source(rows: dict[int, Any], changed: frozenset[int] = frozenset()) -> Any:
    """A record of rows, each printed once from the file that it names; those in `changed` as other bytes."""
    printed = []
    for number, row in rows.items():
        sha256 = "" if row.words else hashlib.sha256(row.path.read_bytes()).hexdigest()
        printed.append(SimpleNamespace(key=(number, 0), art_sha256="other" if number in changed else sha256))
    return SimpleNamespace(path=Path("old/batch.json"), printed=SimpleNamespace(transfers=tuple(printed), batch="old"))


def find(
    rows: dict[int, Any], monkeypatch: pytest.MonkeyPatch, root: Path, *, changed: frozenset[int] = frozenset(),
    take_new: bool = False, wanted: set[int] | None = None,
) -> tuple[dict[str, Path], list[Finding]]:  # fmt: skip
    by_key = {(number, 0): row for number, row in rows.items()}
    monkeypatch.setattr(again_artwork, "make_rows", lambda *_, **_more: by_key)
    monkeypatch.setattr(again_artwork, "_report_reset_words", lambda *_, **_more: [])
    findings: list[Finding] = []
    keys = {(number, 0) for number in (rows if wanted is None else wanted)}
    found = again_artwork.find_again_artwork(
        make_source(rows, changed), keys, cast(Any, None), Options(art_root=root), take_new, findings
    )
    return found, findings


def test_files_come_along_under_the_names_that_rows_will_have(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A page of a PDF is named behind #, and the file is the PDF; a # in another file's name is its own."""
    for name in ("poster.pdf", "no #1.png", "owl.png", "hand.otf"):
        (tmp_path / name).write_bytes(name.encode())
    style = SimpleNamespace(is_file=True, folder=str(tmp_path / "hand.otf"), font="hand.otf")
    rows = {
        2: replace(BLANK, art="art/poster.pdf#2", path=tmp_path / "poster.pdf", page=2),
        3: replace(BLANK, art="no #1.png", path=tmp_path / "no #1.png"),
        4: replace(BLANK, art="art\\owl.png", path=tmp_path / "owl.png"),
        5: replace(BLANK, art="words", words="ADA", style=cast(Any, style)),
        6: replace(BLANK, art="poster.pdf", path=tmp_path / "poster.pdf", page=1),
    }
    found, findings = find(rows, monkeypatch, tmp_path)
    assert found == {
        "art/poster.pdf": tmp_path / "poster.pdf", "no #1.png": tmp_path / "no #1.png",
        "art/owl.png": tmp_path / "owl.png", "hand.otf": tmp_path / "hand.otf", "poster.pdf": tmp_path / "poster.pdf",
    }  # fmt: skip
    assert findings == []
    style.folder = str(tmp_path)  # beside the artwork, as the row names it
    assert find({5: rows[5]}, monkeypatch, tmp_path)[0] == {"hand.otf": tmp_path / "hand.otf"}
    style.is_file = False
    assert find({5: rows[5]}, monkeypatch, tmp_path)[0] == {}
    assert set(find(rows, monkeypatch, tmp_path, wanted={3})[0]) == {"no #1.png"}


def test_artwork_that_has_changed_stops_or_is_taken_and_is_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "owl.png").write_bytes(b"owl")
    rows = {n: replace(BLANK, art="owl.png", path=tmp_path / "owl.png") for n in (2, 3)}
    for take_new, severity in ((False, Severity.STOP), (True, Severity.WARN)):
        _, (told,) = find(rows, monkeypatch, tmp_path, changed=frozenset({2, 3}), take_new=take_new)
        assert (told.severity, told.kind, told.column, told.read) == (severity, "art-changed", "art", "owl.png")
        assert ("the new one is taken" in told.what) == take_new


OLD = OldNames("ANN", "7", "Ann Lee")


@pytest.mark.parametrize(
    ("words", "part"),
    [("Ann", "name"), ("ANN", "name"), ("lee", "name"), ("Ann Lee", "name"), ("7", "number"), ("ROWERS", ""),
     ("12", ""), ("", "")],
)  # fmt: skip
def test_words_that_were_made_of_the_name_or_the_number_are_known_by_what_they_say(words: str, part: str) -> None:
    assert OLD.find_part(words) == part


def test_where_no_number_was_kept_digits_alone_are_one() -> None:
    bare = OldNames("", "", "Ann")
    assert [bare.find_part(words) for words in ("12", "Ann", "A1", "")] == ["number", "name", "", ""]


def make_row(words: str, **more: Any) -> Any:
    from impose.run.again import AgainRow

    return AgainRow(replace(BLANK, words=words, art="" if words else "a.png", wearer="Ann Lee", **more), 70.0, 30.0,
                    None, "", "")  # fmt: skip


def read_line(**cells: str) -> Any:
    return SimpleNamespace(cells=cells, read_cell=lambda name: cells.get(name, ""))


def test_the_new_name_stands_in_the_old_ones_capitals_and_at_the_size_that_was_asked_for() -> None:
    faults: list[tuple[str, str]] = []

    def note(line: Any, column: str, what: str, remedy: str, read: str | None = None) -> None:
        faults.append((column, what))

    old = [make_row("ANN"), make_row("7"), make_row("ROWERS"), make_row("")]
    asked = [make_row("Ann", width_mm=90.0), make_row("7", width_mm=80.0, letters_mm=40.0), *old[2:]]
    made = replace_words(asked, old, read_line(name="Bo", number="12"), True, cast(Any, note))
    assert [row.row.words for row in made] == ["Bo", "12", "ROWERS", ""]
    assert [(row.width_mm, row.height_mm) for row in made] == [(90.0, None), (None, None), (70.0, 30.0), (70.0, 30.0)]
    assert faults == []
    (capitals, *_) = replace_words(old, old, read_line(name="Bo", number="12"), True, cast(Any, note))
    assert capitals.row.words == "BO"
    # A new garment needs what the old one had printed; one that stays as it is needs nothing.
    assert [r.row.words for r in replace_words(old, old, read_line(name="Bo"), False, cast(Any, note))][:2] == [
        "BO",
        "7",
    ]
    assert faults == []
    replace_words([*old, old[1]], old, read_line(name="Bo"), True, cast(Any, note))
    assert [column for column, _ in faults] == ["number"]
    assert "“7”" in faults[0][1]


def test_names_of_a_kit_or_of_other_columns_tell_what_was_printed() -> None:
    def note(*_: Any) -> None:
        raise AssertionError

    of_kit = [make_row("ADA L.", kit="team", name="Ada L.", number="07"), make_row("07", kit="team", number="07")]
    line = read_line(name="Bo", number="12")
    assert [row.row.words for row in replace_words(of_kit, of_kit, line, True, cast(Any, note))] == ["BO", "12"]
    beside = [make_row("ADA", extra=(("Name", "Ada"), ("NUMBER", "9"))), make_row("9")]
    assert [row.row.words for row in replace_words(beside, beside, line, True, cast(Any, note))] == ["BO", "12"]


def test_cells_are_written_so_that_they_read_back_and_run_nowhere() -> None:
    """OWASP, CSV Injection: what begins with =, +, -, @, a tab or a carriage return."""
    assert [again_folder._guard_cell(text) for text in ("=1+1", "+4", "-1", "@x", "\tx", "\rx", "a=1", "")] == [
        " =1+1", " +4", " -1", " @x", " \tx", " \rx", "a=1", ""
    ]  # fmt: skip
    assert [again_folder._format_mm(mm) for mm in (None, 80.0, 88.9, 0.1234567, 100.0)] == [
        "", "80 mm", "88.9 mm", "0.123457 mm", "100 mm"
    ]  # fmt: skip


def test_the_height_of_letters_is_written_once_whatever_the_style_is_called() -> None:
    """In the cell of the font, or in a column of its own: a style called “block-letters” says no height."""
    said = {"": False, "plain": False, "block-letters": False, "Letters": False, "letters 40 mm": True,
            "plain, letters": False, "plain, Letters 2 in": True, "hand.ttf, arc 60, letters 40 mm": True}  # fmt: skip
    assert {font: says_letters(font) for font in said} == said
