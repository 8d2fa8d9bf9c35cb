"""What is still needed is not pruned, and a lock is one only while its file is the one that stands there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from impose.desk.lock import DeskLock
from impose.desk.recover import prune_done
from impose.errors import Trouble
from impose.ledger.drops import DROPS, DropLedger
from impose.ledger.store import open_ledger


def _originals(folder: Path, *names: str) -> Path:
    for name in names:
        (folder / "done" / name).mkdir(parents=True)
        (folder / "done" / name / "a.png").write_bytes(b"x" * 100)
    return folder / "done"


@pytest.mark.parametrize(("keep_s", "keep_bytes"), [(0.0, None), (None, 0), (0.0, 0)])
def test_an_original_that_is_needed_stays_whatever_its_age_and_size(
    tmp_path: Path, keep_s: float | None, keep_bytes: int | None
) -> None:
    done = _originals(tmp_path, "needed", "other")
    said: list[str] = []
    for _ in prune_done(done, 1e12, keep_s, keep_bytes, lambda name: name == "needed", said.append):
        pass
    assert [path.name for path in done.iterdir()] == ["needed"]
    assert (done / "needed" / "a.png").read_bytes() == b"x" * 100
    assert said == ["pruned done/other"]


def test_nothing_younger_or_smaller_than_told_is_pruned(tmp_path: Path) -> None:
    done = _originals(tmp_path, "a", "b")
    newest = max(path.stat().st_ctime for path in done.iterdir())
    for _ in prune_done(done, newest, 60.0, 200, lambda name: False, lambda text: None):
        pass
    assert len(list(done.iterdir())) == 2
    for _ in prune_done(done, newest, 60.0, 199, lambda name: False, lambda text: None):
        pass
    assert [path.name for path in done.iterdir()] == ["b"], "the oldest goes, and no more than is over"


@pytest.mark.parametrize("state", ["making", "made", "asking", "delivered"])
def test_until_a_delivery_is_closed_its_originals_are_needed(tmp_path: Path, state: str) -> None:
    """The states of a delivery before its last, as the table of the ledger has them."""
    with open_ledger(tmp_path / "l.db", [DROPS]) as ledger:
        drops = DropLedger(ledger)
        number = drops.begin_delivery([], "sheets", "originals", 1.0)
        with ledger.begin_change() as db:
            db.execute("UPDATE deliveries SET state = ? WHERE id = ?", (state, number))
        assert drops.name_is_bound("originals")
        assert drops.name_is_bound("sheets")
        assert not drops.name_is_bound("others")
        with ledger.begin_change() as db:
            db.execute("UPDATE deliveries SET state = 'closed' WHERE id = ?", (number,))
        assert not drops.name_is_bound("originals")


@pytest.mark.skipif(os.name == "nt", reason="a locked file cannot be replaced there")
def test_a_lock_on_a_file_that_was_replaced_is_none(tmp_path: Path) -> None:
    """A file of the same name and words, put there by another, can be locked by another: two would watch."""
    with DeskLock(tmp_path / "lock") as lock:
        assert lock.still_held()
        with pytest.raises(Trouble):
            DeskLock(tmp_path / "lock").take_lock()
        other = tmp_path / "other"
        other.write_bytes((tmp_path / "lock").read_bytes())
        other.replace(tmp_path / "lock")
        assert not lock.still_held()
        with DeskLock(tmp_path / "lock") as second:
            assert second.still_held()
    assert not lock.still_held()
