"""What is delivered is on the disk before it takes its name, and the name after it: seen from the calls to the system.

POSIX.1-2017: rename() promises that the name is exchanged at once, not that data or name are on the disk; fsync() of a
file promises its data, fsync() of a folder its names.
"""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from impose import files


class Calls:
    """Inode numbers synced, and renamings, in the order the system is asked."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.made: list[tuple[str, int]] = []
        sync, rename, replace = os.fsync, os.rename, os.replace

        def synced(handle: int) -> None:
            self.made.append(("sync", os.fstat(handle).st_ino))
            sync(handle)

        def renamed(source: object, target: object, **more: object) -> None:
            self.made.append(("rename", os.stat(source).st_ino))  # type: ignore[arg-type]  # noqa: PTH116
            rename(source, target, **more)  # type: ignore[arg-type]

        def replaced(source: object, target: object, **more: object) -> None:
            self.made.append(("rename", os.stat(source).st_ino))  # type: ignore[arg-type]  # noqa: PTH116
            replace(source, target, **more)  # type: ignore[arg-type]

        monkeypatch.setattr(os, "fsync", synced)
        monkeypatch.setattr(os, "rename", renamed)
        monkeypatch.setattr(os, "replace", replaced)

    def order(self, what: str, path: Path) -> list[int]:
        number = path.stat().st_ino
        return [at for at, made in enumerate(self.made) if made == (what, number)]


def test_a_folder_is_synced_whole_before_it_has_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = Calls(monkeypatch)
    with files.write_new_folder(tmp_path / "out") as part:
        (part / "deep").mkdir()
        (part / "deep" / "a.pdf").write_bytes(b"a")
        (part / "b.json").write_bytes(b"b")
    out = tmp_path / "out"
    (named,) = calls.order("rename", out)
    for path in (out, out / "deep", out / "deep" / "a.pdf", out / "b.json"):
        synced = calls.order("sync", path)
        assert synced, path
        assert min(synced) < named, path
    assert max(calls.order("sync", tmp_path)) > named, "the name itself is on the disk"


def test_a_folder_that_replaces_another_is_synced_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    record = '{"format": "impose-record/1"}'
    out = tmp_path / "out"
    out.mkdir()
    (out / "batch.json").write_text(record)
    calls = Calls(monkeypatch)
    with files.write_new_folder(out, replace=True) as part:
        (part / "batch.json").write_text(record)
        (part / "a.pdf").write_bytes(b"a")
    for path in (out, out / "a.pdf", out / "batch.json", tmp_path):
        assert calls.order("sync", path), path


def test_a_file_is_synced_before_it_has_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calls = Calls(monkeypatch)
    with files.write_new_file(tmp_path / "list.csv") as part:
        part.write_text("a")
    (named,) = calls.order("rename", tmp_path / "list.csv")
    assert min(calls.order("sync", tmp_path / "list.csv")) < named
