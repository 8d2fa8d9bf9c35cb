"""Disks and shares that are away while their mount point stays: nothing is made in their place, nothing counts as gone.

A mount is played by renaming: what lay there is elsewhere, an empty folder stands in its place, and comes back.
"""

from __future__ import annotations

import os
import shutil

import pytest

from desk.fake import delivered, png
from impose.desk.folders import open_desk
from impose.desk.lock import DeskLock
from impose.desk.monitor import read_status
from impose.desk.new_desk import make_desk
from impose.errors import Exit, Trouble


class Mount:
    """A folder that can be away."""

    def __init__(self, folder):
        self.folder, self.elsewhere = folder, folder.with_name(f"{folder.name} elsewhere")
        folder.mkdir(exist_ok=True)

    def leave(self):
        self.folder.rename(self.elsewhere)
        self.folder.mkdir()

    def come(self):
        shutil.rmtree(self.folder)
        self.elsewhere.rename(self.folder)


def pdfs(folder):
    return sorted(path.name for path in folder.rglob("*.pdf"))


def files(folder):
    return [path for path in folder.rglob("*") if path.is_file()]


@pytest.fixture
def share(tmp_path):
    return Mount(tmp_path / "print")


def test_a_pdf_waits_while_the_print_share_is_away_and_its_mount_point_stays(bed, share):
    bed.start(print_folder=share.folder)
    assert any("is marked in .impose" in line for line in bed.said)
    share.leave()
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(20)
    assert bed.sheets == ["owl"]
    assert files(share.folder) == [], "nothing is written on the disk below"
    status = read_status(bed.places, None, bed.time.wall)
    assert status.values["unprinted"] == ["owl, number 1, on a4"]
    assert "the print folder is away" in "\n".join(status.list_lines())
    bed.start()  # over a restart, and the watcher goes on with all else
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(20)
    assert bed.sheets == ["fox", "owl"]
    assert files(share.folder) == []
    share.come()
    bed.turns(300, 5)
    assert [name.split("-")[0] for name in pdfs(share.folder)] == ["fox", "owl"]
    assert read_status(bed.places, None, bed.time.wall).values["unprinted"] == []


@pytest.mark.parametrize("point", ["print:copied", "print:written"])
def test_a_share_that_leaves_in_the_middle_of_a_drop_is_no_drop(bed, share, point):
    left = []

    def fault(name):
        if name == point and not left:
            left.append(name)
            share.leave()

    bed.world = bed.time.world(fault=fault)
    bed.start(print_folder=share.folder)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(20)
    assert left == [point]
    assert files(share.folder) == []
    assert read_status(bed.places, None, bed.time.wall).values["unprinted"] == ["owl, number 1, on a4"]
    share.come()
    bed.turns(60)
    assert len(pdfs(share.folder)) == 1


def test_a_paper_folder_that_somebody_removes_loses_no_pdf(bed, share):
    removed = []

    def fault(name):
        if name == "print:written" and not removed:
            removed.append(name)
            (share.folder / "a4").rmdir()

    bed.world = bed.time.world(fault=fault)
    bed.start(print_folder=share.folder)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(20)
    assert removed
    assert len(pdfs(share.folder)) == 1


def test_a_replaced_print_share_waits_for_adopt(bed, share):
    bed.start(print_folder=share.folder)
    share.leave()
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(20)
    bed.start(adopt=True)
    bed.turns(20)
    assert len(pdfs(share.folder)) == 1
    shutil.rmtree(share.folder)
    shutil.move(share.elsewhere, share.folder)  # and the old one comes back: it is another now
    bed.start(adopt=False)
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(20)
    assert pdfs(share.folder) == []
    assert any("another print folder is in its place" in line for line in bed.said)


def test_a_pdf_half_way_into_a_replaced_share_goes_whole_into_the_new_one(bed, share):
    def fault(name):
        if name == "print:written" and not share.elsewhere.exists():
            share.leave()

    bed.world = bed.time.world(fault=fault)
    bed.start(print_folder=share.folder)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(10)
    bed.start(adopt=True)
    bed.turns(20)
    assert len(pdfs(share.folder)) == 1
    assert any("may have been printed already" in line for line in bed.said)


def test_two_desks_may_share_a_print_folder(bed, share):
    bed.start(print_folder=share.folder)
    before = (share.folder / ".impose" / ".mark").read_bytes()
    bed.watch._close_all()
    bed.lock.release_lock()
    bed.places = open_desk(bed.root.with_name("second"))
    bed.lock = DeskLock(bed.places.work / "lock")
    bed.lock.take_lock()
    bed.watch = None
    bed.start()
    assert (share.folder / ".impose" / ".mark").read_bytes() == before


def test_a_start_while_the_desks_disk_is_away_makes_no_empty_desk(bed):
    mount = Mount(bed.root)
    for there in (True, False):
        mount.leave()
        if not there:
            mount.folder.rmdir()
        with pytest.raises(Trouble, match="its disk or share seems to be away") as told:
            open_desk(bed.root)
        assert told.value.exit is Exit.SYSTEM
        assert not mount.folder.exists() or list(mount.folder.iterdir()) == []
        mount.folder.mkdir(exist_ok=True)
        mount.come()
    assert open_desk(bed.root).read_identity() == bed.places.read_identity()


def test_a_desk_is_begun_anew_where_a_person_says_so(bed, tmp_path):
    for number, make in enumerate(
        (lambda path: open_desk(path, adopt=True), lambda path: make_desk(path, _Places())[0])
    ):
        root = tmp_path / str(number)
        open_desk(root)
        shutil.rmtree(root)
        with pytest.raises(Trouble):
            open_desk(root)
        assert make(root).read_identity()
        assert open_desk(root).read_identity()


class _Places:
    placements: tuple[str, ...] = ()


def test_folders_that_are_missing_of_a_desk_that_is_there_are_made_and_it_is_the_same_desk(bed):
    bed.start()
    bed.watch._close_all()
    mark = bed.places.read_identity()
    shutil.rmtree(bed.places.work)
    shutil.rmtree(bed.places.inbox)
    assert open_desk(bed.root).read_identity() == mark
    assert bed.places.inbox.is_dir()


def test_a_desk_known_to_its_ledger_alone_is_not_made_anew(bed, tmp_path, monkeypatch):
    bed.start(ledger=tmp_path / "local.db")
    bed.watch._close_all()
    monkeypatch.setenv("IMPOSE_LEDGER", str(tmp_path / "another user" / "ledger.db"))
    Mount(bed.root).leave()
    with pytest.raises(Trouble, match="seems to be away"):
        open_desk(bed.root, ledger=tmp_path / "local.db")
    assert open_desk(bed.root, ledger=tmp_path / "local.db", adopt=True).read_identity() is not None


def test_a_ledger_on_a_disk_that_is_away_is_waited_for_and_not_begun_anew(bed, tmp_path):
    disk = Mount(tmp_path / "disk")
    bed.start(ledger=disk.folder / "desk.db", hold_s=30.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(5)
    bed.watch._handle_lost_desk(OSError("the disk is gone"))
    disk.leave()
    bed.turns(20)
    assert bed.refused == [], "drops that an empty ledger does not know"
    assert any("its disk seems to be away" in line for line in bed.said)
    disk.come()
    bed.turns(60)
    assert list(delivered(bed.root).values()) == [["owl"]]


@pytest.mark.skipif(os.name == "nt", reason="a locked file cannot be deleted there")
def test_a_lock_that_was_deleted_is_taken_again_or_ends_the_watcher(bed):
    bed.start()
    bed.turns(1)
    bed.lock.path.unlink()
    bed.turns(1)
    assert bed.lock.still_held(), "nobody else took it"
    bed.lock.path.unlink()
    with DeskLock(bed.lock.path):
        with pytest.raises(Trouble, match="already watched by") as told:
            bed.turns(2)
        assert told.value.exit is Exit.USAGE
        bed.drop("left-chest/owl.png", png(1))
    assert bed.sheets == []
