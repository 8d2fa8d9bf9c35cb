"""Whole or not at all: folders built aside and put in place in one step."""

from __future__ import annotations

import json

import pytest

from impose import files
from impose.errors import Exit, Trouble


def ours(folder, mark="old"):
    folder.mkdir()
    (folder / "batch.json").write_text(json.dumps({"format": "impose-record/1", "mark": mark}))
    return folder


def test_a_folder_appears_whole(tmp_path):
    with files.write_new_folder(tmp_path / "deep" / "out") as part:
        (part / "a.txt").write_text("a")
        assert not (tmp_path / "deep" / "out").exists()
    assert (tmp_path / "deep" / "out" / "a.txt").read_text() == "a"
    assert [path.name for path in (tmp_path / "deep").iterdir()] == ["out"]


def test_nothing_is_left_of_a_failure(tmp_path):
    with pytest.raises(KeyboardInterrupt), files.write_new_folder(tmp_path / "out") as part:
        (part / "a.txt").write_text("a")
        raise KeyboardInterrupt
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("replace", [False, True])
def test_what_is_not_ours_is_left_alone(tmp_path, replace):
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "holiday.txt").write_text("keep")
    with pytest.raises(Trouble) as caught, files.write_new_folder(tmp_path / "out", replace):
        raise AssertionError("the block was entered")
    assert caught.value.exit == Exit.USAGE
    assert (tmp_path / "out" / "holiday.txt").read_text() == "keep"


def test_a_link_is_never_replaced(tmp_path):
    ours(tmp_path / "real")
    (tmp_path / "out").symlink_to(tmp_path / "real")
    with pytest.raises(Trouble), files.write_new_folder(tmp_path / "out", replace=True):
        raise AssertionError("the block was entered")


@pytest.mark.parametrize("can_exchange", [True, False])
def test_replace_swaps_old_for_new(tmp_path, monkeypatch, can_exchange):
    if not can_exchange:
        monkeypatch.setattr(files, "exchange_names", lambda one, other: False)
    out = ours(tmp_path / "out")
    with files.write_new_folder(out, replace=True) as part:
        (part / "batch.json").write_text(json.dumps({"format": "impose-record/1", "mark": "new"}))
    assert json.loads((out / "batch.json").read_text())["mark"] == "new"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_old_one_stays_when_the_new_one_fails(tmp_path):
    out = ours(tmp_path / "out")
    with pytest.raises(OSError, match="disk"), files.write_new_folder(out, replace=True) as part:
        (part / "half").write_text("half")
        raise OSError("disk full")
    assert json.loads((out / "batch.json").read_text())["mark"] == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_next_free_name(tmp_path):
    assert files.find_free_name(tmp_path / "out").name == "out"
    (tmp_path / "out").mkdir()
    (tmp_path / "out-2").write_text("")
    assert files.find_free_name(tmp_path / "out").name == "out-3"


def test_a_file_keeps_its_old_content_when_writing_fails(tmp_path):
    path = tmp_path / "a.txt"
    path.write_text("old")
    with pytest.raises(ValueError, match="stop"), files.write_new_file(path) as part:
        part.write_text("half")
        raise ValueError("stop")
    assert path.read_text() == "old"
    with files.write_new_file(path) as part:
        part.write_text("new")
    assert [(p.name, p.read_text()) for p in tmp_path.iterdir()] == [("a.txt", "new")]


def test_the_shipped_profiles_are_found():
    names = {entry.name for entry in files.find_shipped_profiles().iterdir()}
    assert {"papers.toml", "printers.toml", "placements.toml"} <= names
