"""PNG files and folders as a batch."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.errors import Exit, Severity, Trouble
from impose.shop.loose import batch_of_files
from impose.shop.orders import Blanks
from impose.shop.profiles import Profiles

WIDE = Blanks(width_mm=90)


def test_a_folder_in_natural_order(tmp_path: Path, profiles: Profiles) -> None:
    names = ["print 10.png", "print 2.png", "Print 1.PNG", "print 2b.png"]
    for name in [*names, "notes.txt", ".hidden.png", "Thumbs.db"]:
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "sub.png").mkdir()
    batch = batch_of_files([tmp_path], profiles, blanks=WIDE)
    assert [row.art for row in batch.rows] == ["Print 1.PNG", "print 2.png", "print 2b.png", "print 10.png"]
    assert [row.row for row in batch.rows] == [1, 2, 3, 4]
    assert (batch.name, batch.art_root) == (tmp_path.name, tmp_path)
    (note,) = batch.findings
    assert note.severity is Severity.NOTE
    assert "notes.txt, sub.png" in note.what


def test_files_keep_their_order_and_take_what_the_command_says(desk: Path, profiles: Profiles) -> None:
    blanks = Blanks(placement="Full Back", height_mm=200, copies=12)
    batch = batch_of_files([desk / "art/owl.png", desk / "art/fox.png"], profiles, blanks=blanks)
    assert [row.art for row in batch.rows] == ["owl.png", "fox.png"]
    assert {(r.placement, r.width_mm, r.height_mm, r.copies) for r in batch.rows} == {("full-back", None, 200, 12)}
    assert batch.name == "art"
    assert batch_of_files([desk / "art/owl.png"], profiles, blanks=WIDE).name == "owl"


def test_art_is_told_from_the_root_given(desk: Path, profiles: Profiles) -> None:
    batch = batch_of_files([desk / "art/owl.png"], profiles, art_root=desk, blanks=WIDE)
    assert batch.rows[0].art == "art/owl.png"


def test_what_is_taken_for_granted_is_said(desk: Path, profiles: Profiles) -> None:
    batch = batch_of_files([desk / "art/owl.png"] * 2, profiles, blanks=Blanks(placement="left-chest"))
    assert [f.kind for f in batch.findings] == ["garment-assumed", "twice"]


def test_a_size_is_needed(desk: Path, profiles: Profiles) -> None:
    with pytest.raises(Trouble, match="--width") as caught:
        batch_of_files([desk / "art/owl.png"], profiles)
    assert caught.value.exit is Exit.USAGE
    with pytest.raises(Trouble, match="left-chest"):
        batch_of_files([desk / "art/owl.png"], profiles, blanks=Blanks(placement="left-chst"))


def test_every_missing_file_is_named(desk: Path, profiles: Profiles) -> None:
    empty = desk / "empty"
    empty.mkdir()
    with pytest.raises(Trouble) as caught:
        batch_of_files([desk / "a.png", desk / "art/owl.png", desk / "b.png", empty], profiles, blanks=WIDE)
    assert [Path(f.file).name for f in caught.value.findings] == ["a.png", "b.png", "empty"]
    assert caught.value.exit is Exit.REFUSED
