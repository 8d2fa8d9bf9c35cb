"""Names held against the order (common practice, no source: check every name against the roster)."""

from __future__ import annotations

from pathlib import Path

import pytest

from each_case import try_each
from impose.errors import Exit, Severity, Trouble
from impose.orders.batch_reader import read_batch
from impose.profiles.profiles import Profiles


def _found(
    folder: Path, profiles: Profiles, rows: str, head: str = "order,wearer,words,placement\n"
) -> list[tuple[str, int | None]]:
    (folder / "names.csv").write_text(head + rows, encoding="utf-8")
    batch = read_batch(folder / "names.csv", profiles)
    return [(f.kind, f.row) for f in batch.findings if f.kind.startswith("name-")]


@try_each(
    "rows, found",
    [
        ("1,Ana,ANA,full-back\n1,Ben,BEN,full-back\n", []),
        ("1,Ana,ANA,full-back\n1,Ben,ANA,full-back\n", [("name-twice", 3)]),
        ("1,Ana,7,full-back\n1,Ben,7,full-back\n", []),
        ("1,Ana,ANA,full-back\n2,Ben,ANA,full-back\n", []),
        ("1,Ana,ANA,full-back\n1,Ana,ANA,left-chest\n", []),
        ("1,Łukasz Wróbel,LUKASZ,full-back\n", [("name-changed", 2)]),
        ("1,José,JOSE,full-back\n", [("name-changed", 2)]),
        ("1,Bronagh,Bronnagh,full-back\n", [("name-changed", 2)]),
        ("1,Bronagh Tully,TULLY 9,full-back\n", []),
        ("1,Bronagh Tully,The Boss,full-back\n", []),
        ("1,Jose\u0301,Jos\u00e9,full-back\n", []),
        ("1,,ANA,full-back\n", []),
        ("1,Ελένη,ΕΛΕΝΗ,full-back\n", []),
        ("1,Ελένη,Ελενη,full-back\n", [("name-changed", 2)]),
    ],
)
def test_names_twice_and_changed(desk: Path, profiles: Profiles, rows: str, found: list[tuple[str, int]]) -> None:
    assert _found(desk, profiles, rows) == found


def test_a_wearer_without_a_name_is_asked_about(desk: Path, profiles: Profiles) -> None:
    head = "order,wearer,words,art,placement\n"
    rows = "1,Ana,ANA,,full-back\n1,Ben,BEN,,full-back\n1,Cleo,,art/owl.png,left-chest\n2,Dan,,art/owl.png,left-chest\n"
    assert _found(desk, profiles, rows, head) == [("name-missing", 4)]


@pytest.mark.parametrize(
    ("head", "row", "column"),
    [
        ("words,art,width", "ANA,art/owl.png,5 cm", "words"),
        ("art,font,width", "art/owl.png,plain,5 cm", "font"),
        ("words,font,width", "ANA,plian,5 cm", "font"),
        ("words,font,width", "ANA,mine.ttf,5 cm", "font"),
        ("words,font,width", '"ANA\nBEN","plain, arc 40",5 cm', "words"),
        ("words,width", '"a\nb\nc\nd\ne",5 cm', "words"),
        ("words,width", "#REF!,5 cm", "words"),
        ("words,art,width", ",,5 cm", "art"),
    ],
)
def test_rows_that_cannot_be_set_are_refused(desk: Path, profiles: Profiles, head: str, row: str, column: str) -> None:
    (desk / "names.csv").write_text(f"{head}\n{row}\n", encoding="utf-8")
    with pytest.raises(Trouble) as caught:
        read_batch(desk / "names.csv", profiles)
    (fault,) = caught.value.findings
    assert (fault.row, fault.column) == (2, column)
    assert fault.remedy


def test_where_few_have_words_the_many_are_not_missed(desk: Path, profiles: Profiles) -> None:
    """Two captains with their title on the back: the eight others of the team have none on purpose."""
    team = "".join(f"1,Player {n},{n},left-chest\n" for n in range(1, 11))
    assert _found(desk, profiles, team + "1,Player 1,CAPTAIN,full-back\n1,Player 2,DEPUTY,full-back\n") == []


def test_a_blank_cell_is_refused_where_words_are_all_there_is(tmp_path, profiles):
    path = tmp_path / "names.csv"
    path.write_text("order,wearer,words,width\nT,Ann,ANN,5cm\nT,Bo,,5cm\nT,Cy,  ,5cm\n", "utf-8")
    with pytest.raises(Trouble) as caught:
        read_batch(path, profiles)
    assert [(f.row, f.column, f.kind, f.exit) for f in caught.value.findings if f.severity is Severity.STOP] == [
        (row, "words", "words", Exit.REFUSED) for row in (3, 4)
    ]
