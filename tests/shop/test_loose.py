"""PNG files and folders as a batch."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.errors import Exit, Finding, Severity, Trouble
from impose.orders.art_root import ArtRoot
from impose.orders.batch import RowDefaults
from impose.orders.loose_files import read_loose
from impose.profiles.profiles import Profiles, load_profiles
from impose.remedies import Remedy

WIDE = RowDefaults(width_mm=90)


def test_a_folder_in_natural_order(tmp_path: Path, profiles: Profiles) -> None:
    names = ["print 10.png", "print 2.png", "Print 1.PNG", "print 2b.png"]
    for name in [*names, "notes.txt", ".hidden.png", "Thumbs.db"]:
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "sub.png").mkdir()
    batch = read_loose([tmp_path], profiles, blanks=WIDE)
    assert [row.art for row in batch.rows] == ["Print 1.PNG", "print 2.png", "print 2b.png", "print 10.png"]
    assert [row.row for row in batch.rows] == [1, 2, 3, 4]
    assert (batch.name, batch.art_root) == (tmp_path.name, tmp_path)
    (note,) = batch.findings
    assert note.severity is Severity.NOTE
    assert "notes.txt, sub.png" in note.what


def test_files_keep_their_order_and_take_what_the_command_says(desk: Path, profiles: Profiles) -> None:
    blanks = RowDefaults(placement="Full Back", height_mm=200, copies=12)
    batch = read_loose([desk / "art/owl.png", desk / "art/fox.png"], profiles, blanks=blanks)
    assert [row.art for row in batch.rows] == ["owl.png", "fox.png"]
    assert {(r.placement, r.width_mm, r.height_mm, r.copies) for r in batch.rows} == {("full-back", None, 200, 12)}
    assert batch.name == "art"
    assert read_loose([desk / "art/owl.png"], profiles, blanks=WIDE).name == "owl"


def test_art_is_told_from_the_root_given(desk: Path, profiles: Profiles) -> None:
    batch = read_loose([desk / "art/owl.png"], profiles, art_root=desk, blanks=WIDE)
    assert batch.rows[0].art == "art/owl.png"


def test_what_is_taken_for_granted_is_said(desk: Path, profiles: Profiles) -> None:
    batch = read_loose([desk / "art/owl.png"] * 2, profiles, blanks=RowDefaults(placement="left-chest"))
    assert [f.kind for f in batch.findings] == ["garment-assumed", "twice"]


def test_a_size_is_needed(desk: Path, profiles: Profiles) -> None:
    with pytest.raises(Trouble, match="Give a placement or a size") as caught:
        read_loose([desk / "art/owl.png"], profiles)
    assert caught.value.exit is Exit.USAGE
    with pytest.raises(Trouble, match="left-chest"):
        read_loose([desk / "art/owl.png"], profiles, blanks=RowDefaults(placement="left-chst"))


def test_every_missing_file_is_named(desk: Path, profiles: Profiles) -> None:
    empty = desk / "empty"
    empty.mkdir()
    with pytest.raises(Trouble) as caught:
        read_loose([desk / "a.png", desk / "art/owl.png", desk / "b.png", empty], profiles, blanks=WIDE)
    assert [Path(f.file).name for f in caught.value.findings] == ["a.png", "b.png", "empty"]
    assert caught.value.exit is Exit.REFUSED


def _faults(
    paths: list[Path], profiles: Profiles, root: Path | None = None, blanks: RowDefaults = WIDE
) -> list[Finding]:
    with pytest.raises(Trouble) as caught:
        read_loose(paths, profiles, root, blanks)
    assert all(fault.remedy for fault in caught.value.findings)
    return list(caught.value.findings)


def test_of_two_batch_files_only_that_is_said(desk: Path, profiles: Profiles) -> None:
    """Not that a size is missing: their rows give it."""
    paths = [desk / "orders.csv", desk / "names.xlsx"]
    for path in paths:
        path.write_text("art\n")
    assert [Path(fault.file).name for fault in _faults(paths, profiles, blanks=RowDefaults())] == [
        "orders.csv",
        "names.xlsx",
    ]


def test_every_kind_of_fault_in_one_report(desk: Path, profiles: Profiles) -> None:
    """An unknown placement, a root that is none, a missing file and a stray CSV: one report, wrong use told first."""
    (desk / "orders.csv").write_text("art\n")
    paths = [desk / "gone.png", desk / "orders.csv", desk / "art/owl.png"]
    faults = _faults(paths, profiles, desk / "nowhere", RowDefaults(placement="left-chst"))
    assert [fault.read or Path(fault.file).name for fault in faults] == [
        "left-chst", "gone.png", "orders.csv", "nowhere",
    ]  # fmt: skip
    assert "left-chest" in faults[0].remedy


def test_artwork_stays_below_its_root(desk: Path, profiles: Profiles, tmp_path: Path) -> None:
    stranger = tmp_path / "stranger.png"
    stranger.write_bytes(b"x")
    for name, target in [("out.png", stranger), ("broken.png", tmp_path / "gone"), ("near.png", Path("owl.png"))]:
        (desk / "art" / name).symlink_to(target)
    (fault,) = _faults([stranger], profiles, desk)
    assert (fault.what, fault.remedy) == ("outside the artwork's folder", Remedy("move-into-art-folder"))
    out_and_broken = ["broken.png", "out.png"]
    assert [Path(fault.file).name for fault in _faults([desk / "art"], profiles)] == out_and_broken
    assert [Path(fault.file).name for fault in _faults([desk / "art" / n for n in out_and_broken], profiles)] == (
        out_and_broken
    )
    assert read_loose([desk / "art/near.png"], profiles, blanks=WIDE).rows[0].art == "near.png"
    assert read_loose([desk / "art/out.png"], profiles, tmp_path, WIDE).rows[0].art == "shop/art/out.png"


def test_a_folder_may_itself_be_a_link(desk: Path, profiles: Profiles, tmp_path: Path) -> None:
    (tmp_path / "today").symlink_to(desk / "art")
    batch = read_loose([tmp_path / "today"], profiles, blanks=WIDE)
    assert (batch.name, batch.art_root) == ("today", tmp_path / "today")
    assert len(batch.rows) == 3


def test_whatever_is_told_is_found_again_from_the_root(desk: Path, profiles: Profiles) -> None:
    for path in (desk / "art", desk / "art/../art/owl.png", desk):
        for root in (None, desk, desk.parent):
            paths = [path] if path != desk else [desk / "art", desk / "art/fox.png"]
            batch = read_loose(paths, profiles, root, WIDE)
            for row in batch.rows:
                assert ArtRoot(batch.art_root).find_art(row.art).samefile(row.path)


@pytest.mark.parametrize("name", ["back\\slash.png", "line\nbreak.png", "c:owl.png"])
def test_names_that_could_lead_elsewhere_on_another_system(desk: Path, profiles: Profiles, name: str) -> None:
    try:
        (desk / name).write_bytes(b"x")
    except OSError:
        pytest.skip("this file system takes no such name")
    (fault,) = _faults([desk / name], profiles)
    assert fault.remedy == "Give the file another name."


def test_a_placement_without_a_known_size_needs_a_width(shipped: Path, own: Path, desk: Path) -> None:
    (own / "placements.toml").write_text(
        '[thigh]\ntitle = "thigh"\n[thigh.sizes.youth]\nwidth = "2 in"\nsource = "ours"\n'
    )
    mine = load_profiles(shipped, own)
    (fault,) = _faults([desk / "art/owl.png"], mine, blanks=RowDefaults(placement="thigh"))
    assert fault.remedy == Remedy("measure-width")
    assert read_loose([desk / "art/owl.png"], mine, blanks=RowDefaults("thigh", width_mm=50)).rows[0].width_mm == 50


@pytest.mark.parametrize(
    "out_of_range", [{"copies": 0}, {"copies": 100_001}, {"width_mm": 0.0}, {"height_mm": float("nan")}]
)
def test_what_the_command_says_has_to_be_possible(out_of_range: dict[str, float]) -> None:
    with pytest.raises(Trouble) as caught:
        RowDefaults(**out_of_range)  # type: ignore[arg-type]
    assert caught.value.exit is Exit.USAGE
