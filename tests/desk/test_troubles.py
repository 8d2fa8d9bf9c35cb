"""Poison, full and vanished disks, folders that may not be written, clocks that jump, a second watcher."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from desk import runner
from desk.fake import delivered, png
from impose import files
from impose.desk import file_integrity as whole
from impose.desk.folders import open_desk, refuse_nested_folders
from impose.desk.lock import DeskLock
from impose.desk.new_desk import make_desk
from impose.errors import Exit, Trouble
from impose.ledger.store import open_ledger
from impose.profiles.profiles import load_profiles
from impose.values import replace
from waiting import wait_until


def test_a_poison_file_is_tried_three_times_and_stops_nobody(bed):
    for number, name in enumerate(["crash", "error", "owl", "fox"]):
        bed.drop(f"left-chest/{name}.png", png(number))
    bed.turns(60)
    assert bed.refused == ["crash.png", "error.png"]
    assert "3 times" in bed.why("crash.png")
    assert "signal 11" in bed.why("crash.png")
    assert bed.sheets == ["fox", "owl"]


def test_a_kill_of_the_watcher_is_no_try(bed):
    bed.drop("left-chest/owl.png", png(1))
    for _ in range(5):
        bed.start()
        for _ in range(40):
            if bed.watch._desk.bench.making is not None:
                break
            bed.turns(0.25, 0.25)
        assert bed.watch._desk.bench.making is not None
    (drop,) = bed.look(lambda drops: drops.list_drops("making"))
    assert drop.tries == 0
    bed.start()
    bed.turns(3)
    assert bed.sheets == ["owl"]


def test_a_kill_of_the_watcher_between_tries_keeps_their_number(bed):
    bed.drop("left-chest/crash.png", png(1))
    bed.turns(4)
    bed.start()
    bed.turns(2)
    bed.start()
    bed.turns(2)
    assert bed.refused == ["crash.png"]


def test_one_refused_picture_leaves_the_others_together(bed):
    for number, name in enumerate(["blank", "owl", "fox"]):
        bed.drop(f"left-chest/{name}.png", png(number))
    bed.turns(8)
    assert bed.refused == ["blank.png"]
    assert bed.sheets == ["left-chest"]


def test_trouble_that_waiting_mends_is_waited_out(bed):
    bed.maker.trouble = "No space left on device"
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(60)
    assert bed.sheets == []
    assert bed.refused == []
    assert "No space" in bed.watch._desk.bench.trouble
    bed.maker.trouble = ""
    bed.turns(90)
    assert bed.sheets == ["owl"]


def test_a_full_ledger_loses_nothing(bed):
    bed.start()
    ledger = bed.watch._desk.ledger
    with ledger.begin_read() as db:
        pages = db.execute("PRAGMA page_count").fetchone()[0]
    ledger._db.execute(f"PRAGMA max_page_count = {pages}")
    for number in range(60):
        bed.drop(f"left-chest/{number} (1 copies, 80 mm).png", png(number))
    bed.turns(4)
    assert any("its disk is full" in line for line in bed.said)
    bed.turns(60)  # opened anew, the ledger has room again
    assert len(delivered(bed.root)) == 60
    assert bed.refused == []


def mounted(path: Path, size: str) -> bool:
    """Whether a small file system of its own could be put at `path`."""
    path.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "none", str(path)], capture_output=True, check=False
    )
    return done.returncode == 0


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_is_really_full(tmp_path):
    disk = tmp_path / "disk"
    if not mounted(disk, "500k"):
        pytest.skip("no small disk can be mounted here")
    try:
        desk = disk / "desk"
        (desk / "in" / "left-chest").mkdir(parents=True)
        child = os.fork()
        if child == 0:
            code = 99
            try:
                code = runner.main([str(desk), "--fake", "--settle", "0.02"])
            finally:
                os._exit(code)
        for number in range(4):
            (desk / "in" / "left-chest" / f".{number}.png").write_bytes(png(number))
        wait_until((desk / "work" / "heartbeat.json").exists, "the watcher watches")
        ballast = disk / "ballast"
        with ballast.open("wb", buffering=0) as file, pytest.raises(OSError) as full:
            while True:
                file.write(bytes(4096))
        assert full.value.errno == errno.ENOSPC
        for number in range(4):
            (desk / "in" / "left-chest" / f".{number}.png").rename(desk / "in" / "left-chest" / f"{number}.png")
        time.sleep(1.0)  # for a watcher that would deliver what it has no room for; a slow one is not told apart
        assert delivered(desk) == {}
        ballast.unlink()
        wait_until(lambda: len(delivered(desk)) == 4, "all four are delivered")
        os.kill(child, signal.SIGTERM)
        assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 0
        assert sorted(len(names) for names in delivered(desk).values()) == [1, 1, 1, 1]
        assert list((desk / "refused").iterdir()) == []
    finally:
        subprocess.run(["umount", "-l", str(disk)], check=False)


@pytest.mark.parametrize("left", ["nothing", "an empty folder", "empty folders"])
def test_a_share_that_vanishes_and_comes_back(bed, left):
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(2.5)  # claimed
    bed.drop("left-chest/fox.png", png(2))
    away = bed.root.with_name("away")
    bed.root.rename(away)
    if left != "nothing":
        bed.root.mkdir()
    if left == "empty folders":
        for name in ("in", "work", "sheets", "refused", "done"):
            (bed.root / name).mkdir()
    bed.turns(30)
    for path in sorted(bed.root.rglob("*"), reverse=True):
        assert path.is_dir(), "nothing was made where the desk used to be"
        path.rmdir()
    if bed.root.exists():
        bed.root.rmdir()
    away.rename(bed.root)
    bed.turns(40)
    assert sorted(len(names) for names in delivered(bed.root).values()) == [1, 1]
    assert bed.refused == []
    assert any("not there" in line for line in bed.said)


def test_a_share_that_vanishes_while_the_ledger_is_local(bed, tmp_path):
    bed.start(ledger=tmp_path / "local.db")
    for number in range(3):
        bed.drop(f"left-chest/{number}.png", png(number))
    away = bed.root.with_name("away")
    for seconds in (2.0, 0.5, 0.5, 0.5):
        bed.turns(seconds)
        bed.root.rename(away)
        bed.turns(20)
        away.rename(bed.root)
        bed.turns(0.5)
    bed.turns(40)
    assert sorted(len(names) for names in delivered(bed.root).values()) == [1, 1, 1]
    assert bed.refused == []


def test_a_folder_that_may_not_be_written(bed, monkeypatch):
    """Root may write everywhere, so the system's answer is played."""
    real, locked = Path.rename, True

    def rename(self, target):
        if locked and Path(target).parent == bed.places.sheets:
            raise PermissionError(errno.EACCES, "Permission denied", str(target))
        if locked and "stuck" in self.name:
            raise PermissionError(errno.EACCES, "Permission denied", str(self))
        return real(self, target)

    monkeypatch.setattr(Path, "rename", rename)
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("right-long-sleeve/stuck.png", png(2))
    bed.turns(20)
    assert bed.sheets == []
    assert bed.inbox == ["right-long-sleeve/stuck.png"]
    assert any("cannot be taken" in waiting.why for waiting in bed.watch._desk.intake.last.waiting)
    locked = False
    bed.turns(400, 5)
    assert bed.sheets == ["owl", "stuck"]


def test_a_file_that_cannot_be_read_is_refused_and_holds_up_nobody(bed, monkeypatch):
    """Root may read everything, so the system's answer is played."""
    real = whole.open_plain

    def played(path):
        if "locked" in path.name:
            raise PermissionError(errno.EACCES, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(whole, "open_plain", played)
    bed.drop("left-chest/locked.png", png(1))
    bed.drop("left-chest/owl.png", png(2))
    bed.turns(6)
    assert bed.sheets == ["owl"]
    bed.turns(20)
    assert bed.refused == ["locked.png"]
    assert "Permission denied" in bed.why("locked.png")


def test_a_renaming_that_a_power_cut_undid(bed):
    bed.start(hold_s=60.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(4)
    (owl,) = bed.places.work.glob("drop-*/owl.png")
    owl.rename(bed.places.inbox / "left-chest" / "owl.png")
    (fox,) = bed.places.work.glob("drop-*/fox.png")
    fox.unlink()  # and one that somebody deleted
    bed.start()
    bed.turns(80)
    assert list(delivered(bed.root).values()) == [["owl"]]
    assert [path.name for path in bed.places.refused.iterdir()] == ["fox.png.txt"]
    assert "vanished" in bed.why("fox.png")


def test_folders_that_people_delete_are_made_again(bed):
    bed.start()
    for folder in (bed.places.inbox, bed.places.sheets, bed.places.refused, bed.places.done):
        folder.rmdir()
    bed.turns(3)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(3)
    for folder in (bed.places.sheets, bed.places.done):
        if not any(folder.iterdir()):
            folder.rmdir()
    bed.turns(20)
    assert bed.sheets == ["owl"]


@pytest.mark.parametrize("jump", [-10 * 365 * 86400.0, 10 * 365 * 86400.0, -3600.0])
def test_a_clock_that_jumps(bed, jump):
    bed.start(hold_s=600.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(10)
    bed.time.wall += jump
    bed.turns(10)
    assert bed.sheets == [], "the hold is measured by a clock that cannot be set"
    bed.turns(640, 10)
    assert bed.sheets == ["owl"]
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(10)
    bed.time.wall += jump
    bed.start()
    bed.turns(660, 10)
    assert bed.sheets == ["fox", "owl"], "over a restart a drop waits no longer than the hold, whatever the clock says"


def test_written_to_after_it_was_taken(bed, monkeypatch):
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(2.5)
    (path,) = bed.places.work.glob("drop-*/owl.png")
    path.write_bytes(png(2, 30))
    bed.turns(5)
    assert bed.refused == ["owl.png"]
    assert bed.sheets == []


def test_a_second_watcher_is_refused_in_a_sentence_and_a_dead_one_holds_nothing(bed):
    script = (
        "import sys, time; from pathlib import Path; from impose.desk.lock import DeskLock\n"
        f"lock = DeskLock(Path({str(bed.places.work / 'other')!r})); lock.take_lock(); print('held', flush=True)\n"
        "time.sleep(600)"
    )
    with pytest.raises(Trouble) as held:
        DeskLock(bed.places.work / "lock").take_lock()
    assert f"process {os.getpid()} on " in str(held.value)
    assert held.value.exit is Exit.USAGE
    other = subprocess.Popen([sys.executable, "-c", script], stdout=subprocess.PIPE, cwd=Path(__file__).parents[2])
    with other:
        assert other.stdout.readline() == b"held\n"
        opened = len(list(Path("/dev/fd").iterdir()))
        with pytest.raises(Trouble, match=f"process {other.pid} on "):
            DeskLock(bed.places.work / "other").take_lock()
        left_open = len(list(Path("/dev/fd").iterdir())) - opened
        other.kill()
        other.wait()
        assert not left_open, "who asks again and again leaves no file open"
        with DeskLock(bed.places.work / "other") as lock:
            assert lock.still_held()


def test_a_desk_inside_a_desk_or_its_print_folder_is_refused(bed, tmp_path):
    for inner in (bed.places.sheets / "inner", bed.places.inbox, bed.places.inbox / "deep" / "inner"):
        before = sorted(bed.root.rglob("*"))
        with pytest.raises(Trouble, match="inside the desk"):
            open_desk(inner)
        assert sorted(bed.root.rglob("*")) == before, "nothing is made of what is refused"
    with pytest.raises(Trouble, match="one in the other"):
        open_desk(tmp_path / "new", tmp_path / "new" / "print")
    assert not (tmp_path / "new").exists()
    for folder in (bed.places.inbox / "print", bed.root, tmp_path):
        with pytest.raises(Trouble, match="one in the other"):
            refuse_nested_folders(bed.places, folder)
    (tmp_path / "link").symlink_to(bed.root / "in")
    with pytest.raises(Trouble, match="one in the other"):
        refuse_nested_folders(bed.places, tmp_path / "link")
    refuse_nested_folders(bed.places, tmp_path / "elsewhere")


@pytest.mark.skipif(os.name == "nt", reason="no such right there")
def test_of_a_new_desk_only_what_a_person_starts_may_be_run(tmp_path):
    _, written = make_desk(tmp_path / "desk", load_profiles(files.find_shipped_profiles()))
    assert {"HOW TO.txt", "orders - copy me.csv"} < {path.name for path in written}
    runs = {path.name for path in written if path.stat().st_mode & 0o111}
    assert runs == {"Start desk.command", "Start desk.desktop"}


def test_a_desk_whose_folders_lie_on_two_disks_is_refused(tmp_path, monkeypatch):
    """A file is renamed within one file system alone (POSIX.1, rename: EXDEV)."""
    look = Path.stat

    def look_elsewhere(self, **how):
        facts = look(self, **how)
        here = list(facts[:10])
        here[2] += self.name == "done"  # st_dev
        return os.stat_result(here)

    monkeypatch.setattr(Path, "stat", look_elsewhere)
    with pytest.raises(Trouble, match="different disks"):
        open_desk(tmp_path / "desk")


def test_another_desks_ledger_is_refused(bed, tmp_path):
    bed.start(ledger=tmp_path / "shop.db")
    bed.watch._close_all()
    other = open_desk(tmp_path / "other")
    bed.places = other
    with pytest.raises(Trouble, match="belongs to another desk"):
        bed.start()


def test_a_lost_ledger_loses_no_artwork(bed):
    bed.start(hold_s=3600.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(5)
    bed.watch._desk.ledger.close()
    bed.places.ledger.unlink()
    bed.start()
    assert bed.refused == ["drop-1"]
    assert "the ledger was lost" in bed.why("drop-1")
    assert (bed.places.refused / "drop-1" / "owl.png").read_bytes() == png(1)


def test_polling_alone_sees_what_a_share_shows_late(bed):
    """A share may list a file late and with an old size: only what the listing shows counts."""
    shown: dict[str, bool] = {"late": False}
    real = bed.world.listing

    def listing(root, inbox_of):
        return [one for one in real(root, inbox_of) if one and (shown["late"] or "late" not in one.path)]

    bed.world = replace(bed.world, listing=listing)
    bed.start()
    bed.drop("left-chest/late.png", png(1))
    bed.turns(30)
    assert bed.sheets == []
    shown["late"] = True
    bed.turns(1.5)
    assert bed.sheets == [], "it is at rest only from when it is seen"
    bed.turns(4)
    assert bed.sheets == ["late"]


def test_the_ledger_is_never_wal(bed):
    bed.start()
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(5)
    with open_ledger(bed.places.ledger, []) as ledger, ledger.begin_read() as db:
        assert db.execute("PRAGMA journal_mode").fetchone()[0] == "delete"
    assert not list(bed.root.glob("*-wal"))


def test_what_the_system_says_is_told_in_words(bed, tmp_path):
    (tmp_path / "print").mkdir()
    (tmp_path / "print" / "a4").write_text("a file in the way")
    bed.start(print_folder=tmp_path / "print", command=("no-such-program",))
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(8)
    said = " ".join(bed.said)
    assert f"{tmp_path}/print/a4: file exists" in said
    assert "no-such-program: no such file or directory" in said
    assert "Errno" not in said


@pytest.mark.parametrize("record", ["[]", '{"format": "impose-record/1", "desk": [1]}', "[" * 100_000, "\xff"])
def test_a_strangers_folder_under_a_deliverys_name_ends_nothing(bed, record):
    """What was made is gone from the work folder, and somebody's folder has its name: the prints are made again."""
    struck = []

    def fault(name: str) -> None:
        if name == "delivery:made" and not struck:
            struck.append(name)
            for path in bed.places.work.glob("make-*"):
                shutil.rmtree(path)
            (bed.places.sheets / "evening").mkdir()
            (bed.places.sheets / "evening" / "batch.json").write_text(record, "utf-8")

    bed.world = bed.time.world(fault=fault)
    bed.start()
    bed.drop("fox.png", png(1))
    bed.drop("evening.csv", "art,width\nfox.png,80mm\n")
    bed.turns(20)
    assert struck
    assert len(bed.sheets) == 2
    assert bed.refused == []
