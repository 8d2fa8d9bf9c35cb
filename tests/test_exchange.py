"""An output that is replaced: what people put there stays, what we wrote goes. The sums are those of hashlib."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from impose import files
from impose.folder_exchange import hash_files_below

RECORD = "impose-record/1"


def _output(folder: Path, named: bool = True, **written: str) -> None:
    """An output folder as `produce` makes one."""
    for name, content in written.items():
        path = folder / name.replace("__", "/")
        path.parent.mkdir(exist_ok=True)
        path.write_text(content)
    sums = {"files": hash_files_below(folder)} if named else {}
    (folder / "batch.json").write_text(json.dumps({"format": RECORD, **sums}))


def _made(place: Path, **written: str) -> None:
    with files.write_new_folder(place, replace=True) as folder:
        _output(folder, **written)


def _texts(folder: Path) -> dict[str, str]:
    return {
        path.relative_to(folder).as_posix(): path.read_text()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "batch.json"
    }


@pytest.fixture(params=[True, False], ids=["exchanged", "renamed"])
def place(tmp_path: Path, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Path:
    if not request.param:
        monkeypatch.setattr(files, "exchange_names", lambda *_: False)
    place = tmp_path / "sheets"
    place.mkdir()
    _output(place, sheets="one", proof="one", reprint="id", approval__ada="page")
    return place


def test_what_people_put_into_a_folder_is_carried_over(place: Path) -> None:
    (place / "approval" / "ada-signed.pdf").write_text("signed")
    (place / "reprint").write_text("id,x")
    (place / "notes" / "press").mkdir(parents=True)
    (place / "notes" / "press" / "a.txt").write_text("hot")
    (place / "empty").mkdir()
    (place / "link").symlink_to("notes/press/a.txt")
    _made(place, sheets="two", reprint="id", approval__bo="page")
    assert _texts(place) == {
        "approval/ada-signed.pdf": "signed",
        "approval/bo": "page",
        "kept/reprint": "id,x",
        "link": "hot",
        "notes/press/a.txt": "hot",
        "reprint": "id",
        "sheets": "two",
    }
    assert (place / "empty").is_dir()
    assert (place / "link").is_symlink()
    assert sorted(one.name for one in place.parent.iterdir()) == ["sheets"]


def test_what_was_carried_once_is_carried_again_and_not_doubled(place: Path) -> None:
    (place / "reprint").write_text("first")
    _made(place, sheets="two", reprint="id")
    (place / "reprint").write_text("second")
    _made(place, sheets="three", reprint="id")
    _made(place, sheets="four", reprint="id")
    assert _texts(place) == {
        "kept/reprint": "first", "kept/reprint-2": "second", "reprint": "id", "sheets": "four"
    }  # fmt: skip


def test_what_comes_between_the_look_and_the_exchange_is_not_lost(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    look = files.carry_over

    def late(old: Path, new: Path, move: bool = False) -> None:
        look(old, new, move)
        if not move:
            (place / "late.txt").write_text("late")

    monkeypatch.setattr(files, "carry_over", late)
    _made(place, sheets="two")
    assert _texts(place)["late.txt"] == "late"


def test_a_record_that_names_no_files_tells_ours_by_their_names(tmp_path: Path) -> None:
    place = tmp_path / "old"
    place.mkdir()
    _output(place, named=False, **{"sheets-a4.pdf": "old", "tickets.pdf": "old", "signed.pdf": "signed"})
    _made(place, **{"sheets-a3.pdf": "new"})
    assert _texts(place) == {"sheets-a3.pdf": "new", "signed.pdf": "signed"}


def test_a_ticked_list_and_a_signed_page_outlive_a_second_run(batch, run, tmp_path: Path) -> None:
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,2,,,,,"], {"owl.png": ("ellipse", 600, 600)})
    out = tmp_path / "out"
    assert run("sheets", source, "-o", out, "-p", "a4")[0] == 0
    record = json.loads((out / "batch.json").read_bytes())
    assert record["files"] == {
        path.relative_to(out).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(out.rglob("*"))
        if path.is_file() and path.name != "batch.json"
    }
    ticked = (out / "reprint.csv").read_text("utf-8-sig") + "x"
    (out / "reprint.csv").write_text(ticked)
    (out / "signed.pdf").write_bytes(b"%PDF signed")
    assert run("sheets", source, "-o", out, "-p", "a4", "--replace")[0] == 0
    assert (out / "kept" / "reprint.csv").read_text() == ticked
    assert (out / "signed.pdf").read_bytes() == b"%PDF signed"
    assert set(record["files"]) | {"batch.json", "kept/reprint.csv", "signed.pdf"} == {
        path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file()
    }


def test_a_calibration_page_replaces_nothing_but_one(run, tmp_path: Path) -> None:
    orders = tmp_path / "orders.csv"
    orders.write_text("order,art\n")
    code, _, err = run("calibrate", "-p", "a4", "--printer", "studio", "-o", orders, "--replace")
    assert code == 2
    assert "not a calibration page" in err
    assert orders.read_text() == "order,art\n"
    page = tmp_path / "page.pdf"
    for _ in range(2):
        assert run("calibrate", "-p", "a4", "--printer", "studio", "-o", page, "--replace")[0] == 0
    noted = page.read_bytes() + b"\n% a note\n%%EOF\n"  # an incremental update (ISO 32000-2, 7.5.6)
    page.write_bytes(noted)
    assert run("calibrate", "-p", "a4", "--printer", "studio", "-o", page, "--replace")[0] == 2
    assert page.read_bytes() == noted
