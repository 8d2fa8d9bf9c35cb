"""Several drops as one batch: whose row is whose, what each file is called, and what is said of whom."""

from __future__ import annotations

from pathlib import Path

from desk.fake import png
from impose.desk import batch
from impose.desk.batch import CombinedBatch, DropContent, combine_drops
from impose.errors import Finding, Severity
from impose.orders.batch import RowDefaults
from impose.run import Options
from impose.run.load_batch import load_profiles_in_force
from impose.values import replace

LIST = "order,art,width\nA,owl.png,80mm\nB,fox.png,60mm\n"
TWICE = LIST + "A,owl.png,80mm\n"


def _drop(root: Path, number: int, shown: str, files: dict[str, bytes | str], **more: object) -> DropContent:
    folder = root / f"drop-{number}"
    for name, content in files.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())
    main = next((name for name in files if name.endswith(".csv")), "")
    return DropContent(number, shown, folder, main, RowDefaults(placement="left-chest", copies=2), **more)  # type: ignore[arg-type]


def _combine(*parcels: DropContent, **more: object) -> CombinedBatch:
    options = Options(cache=False, **more)  # type: ignore[arg-type]
    return combine_drops(parcels, "evening", load_profiles_in_force(options), options)


def _art(*names: str) -> dict[str, bytes | str]:
    return {name: png(number) for number, name in enumerate(names)}


def test_a_lone_drop_keeps_its_row_numbers_and_its_artworks_names(tmp_path):
    only = _drop(tmp_path, 7, "left-chest/club.csv", {"club.csv": "\n" + LIST, **_art("owl.png", "fox.png")})
    combined = _combine(only)
    assert [(row.row, row.art) for row in combined.batch.rows] == [(3, "owl.png"), (4, "fox.png")]
    assert combined.origin == {3: (7, 3), 4: (7, 4)}
    assert (combined.batch.name, combined.batch.source) == ("evening", "left-chest/club.csv")
    assert combined.batch.art_root == only.folder


def test_rows_of_several_are_numbered_through_and_two_of_one_name_stay_two(tmp_path):
    files = _art("owl.png", "fox.png")
    combined = _combine(
        _drop(tmp_path, 3, "a.csv", {"a.csv": LIST, **files}), _drop(tmp_path, 5, "b.csv", {"b.csv": LIST, **files})
    )
    assert [(row.row, row.art) for row in combined.batch.rows] == [
        (1, "drop-3/owl.png"), (2, "drop-3/fox.png"), (3, "drop-5/owl.png"), (4, "drop-5/fox.png"),
    ]  # fmt: skip
    assert combined.origin == {1: (3, 2), 2: (3, 3), 3: (5, 2), 4: (5, 3)}
    assert (combined.batch.source, combined.batch.art_root) == ("evening", tmp_path)
    assert all((combined.batch.art_root / row.art).is_file() for row in combined.batch.rows)


def test_what_is_said_of_a_row_names_the_row_in_the_batch_and_the_file_as_it_was_dropped(tmp_path):
    files = _art("owl.png", "fox.png")
    first = _drop(tmp_path, 3, "in/a.csv", {"a.csv": TWICE, **files}, again="delivery 1 (club)")
    combined = _combine(first, _drop(tmp_path, 5, "in/b.csv", {"b.csv": TWICE, **files}))
    (made,) = [finding for finding in combined.batch.findings if finding.kind == "made-before"]
    assert (made.file, made.row, made.severity) == ("in/a.csv", None, Severity.NOTE)
    assert "delivery 1 (club)" in made.what
    assumed = [finding for finding in combined.batch.findings if finding.kind != "made-before"]
    assert [(finding.row, finding.also, finding.file) for finding in assumed] == [
        (1, (2, 3), "in/a.csv"), (4, (5, 6), "in/b.csv"),
    ]  # fmt: skip


def test_a_drop_that_cannot_be_read_is_left_out_with_what_is_wrong_with_it(tmp_path):
    bad = _drop(tmp_path, 3, "in/a.csv", {"a.csv": "art,width\nowl.png,much\n", **_art("owl.png")})
    lost = _drop(tmp_path, 4, "in/club", {"note.txt": "no artwork"})
    combined = _combine(bad, lost, _drop(tmp_path, 5, "in/b.csv", {"b.csv": LIST, **_art("owl.png", "fox.png")}))
    assert sorted(combined.faults) == [3, 4]
    assert [(finding.file, finding.row) for finding in combined.faults[3]] == [("in/a.csv", 2)]
    assert [(finding.file, finding.what) for finding in combined.faults[4]] == [("in/club", "a folder without artwork")]
    assert combined.origin == {1: (5, 2), 2: (5, 3)}


def test_of_a_folder_each_files_name_goes_before_what_holds_for_the_folder(tmp_path):
    names = ("a.png", "b (3 copies, 90 mm).png", "c (70 mm high).png", ".hidden.png", "note.txt")
    (combined,) = [_combine(_drop(tmp_path, 3, "in/club", _art(*names)))]
    rows = combined.batch.rows
    assert [(r.row, r.art, r.copies, r.placement, r.width_mm, r.height_mm) for r in rows] == [
        (1, "a.png", 2, "left-chest", None, None),
        (2, "b (3 copies, 90 mm).png", 3, "left-chest", 90.0, None),
        (3, "c (70 mm high).png", 2, "left-chest", None, 70.0),
    ]
    assert combined.origin == {1: (3, 1), 2: (3, 2), 3: (3, 3)}


def test_bad_rows_are_left_out_only_of_a_drop_that_is_made_alone(tmp_path):
    """Of several, the drop of a bad row is refused whole: the others are made without it."""
    content = {"a.csv": "order,art,width\nA,owl.png,80mm\nB,fox.png,much\n", **_art("owl.png", "fox.png")}
    alone, beside = _drop(tmp_path, 3, "a.csv", content), _drop(tmp_path, 5, "b.png", _art("b (80 mm).png"))
    assert [row.order for row in _combine(alone, skip_bad=True).batch.rows] == ["A"]
    both = _combine(alone, beside, skip_bad=True)
    assert sorted(both.faults) == [3]
    assert [row.art for row in both.batch.rows] == ["drop-5/b (80 mm).png"]


def test_what_is_of_no_row_and_of_no_file_of_its_own_is_said_once(tmp_path, monkeypatch):
    """A note on garments is of what all pictures have in common; any other is of its own file."""
    read = batch.read_sources

    def read_noting(paths, *more):
        found = read(paths, *more)
        notes = [
            Finding(kind, "none", Severity.NOTE, kind, file=str(paths[0])) for kind in ("garment-assumed", "size-read")
        ]
        return replace(found, findings=tuple(notes))

    monkeypatch.setattr(batch, "read_sources", read_noting)
    combined = _combine(*(_drop(tmp_path, n, f"{n}.png", _art("owl (80 mm).png")) for n in (1, 2, 3)))
    told = [(finding.kind, finding.row) for finding in combined.batch.findings]
    assert told.count(("garment-assumed", None)) == 1
    assert told.count(("size-read", None)) == 3
