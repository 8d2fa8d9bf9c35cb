"""What anybody who can drop may do to the inbox: each is that entry's or that folder's own fault, and nobody else's."""

from __future__ import annotations

import errno
import os
import shutil
import signal
import stat
import sys

import pytest

from desk.fake import png
from impose.desk import inbox_rules as inbox
from impose.desk import scan
from impose.desk.claim import list_names_below
from impose.desk.drop_rules import NamedFiles
from impose.desk.worker_jobs import FailedJob, ReadTableJob, answer_request
from impose.files import open_plain
from waiting import LONGEST_S


def was_reset(bed):
    return any("cannot go on" in line for line in bed.said)


# -- folders that vanish, trees too deep --


@pytest.mark.parametrize("base", ["left-chest", "batch", "batch/below"])
def test_a_folder_that_vanishes_while_it_is_listed_is_left_out(bed, monkeypatch, base):
    """An unpacker or a client that keeps folders alike removes one between two looks."""
    real, gone = os.scandir, []

    def listed(path):
        if not gone and str(path) == str(bed.places.inbox / base):
            gone.append(path)
            shutil.rmtree(path)
        return real(path)

    bed.start()
    bed.drop("full-back/fox.png", png(1))
    bed.drop(f"{base}/owl (80 mm).png", png(2))
    monkeypatch.setattr(scan.os, "scandir", listed)
    bed.turns(6)
    assert gone
    assert not was_reset(bed)
    assert bed.sheets == ["fox"]
    assert bed.refused == []


@pytest.mark.parametrize("code", [errno.EIO, errno.ENAMETOOLONG, errno.ELOOP])
@pytest.mark.parametrize("where", ["file", "folder"])
def test_what_cannot_be_looked_at_is_refused_and_nothing_else(bed, monkeypatch, code, where):
    real_lstat, real_scandir = os.lstat, os.scandir

    def fault(path):
        if where == "file" and str(path) == str(bed.places.inbox / "left-chest" / "bad.png"):
            raise OSError(code, os.strerror(code), str(path))

    def scandir(path):
        if where == "folder" and str(path) == str(bed.places.inbox / "bad"):
            raise OSError(code, os.strerror(code), str(path))
        return real_scandir(path)

    def lstat(self):
        fault(self)
        return real_lstat(self)

    bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/bad.png" if where == "file" else "bad/a (80 mm).png", png(2))
    monkeypatch.setattr(scan.os, "scandir", scandir)
    monkeypatch.setattr(scan.Path, "lstat", lstat)
    bed.turns(8)
    assert not was_reset(bed)
    assert bed.sheets == ["owl"]
    (name,) = bed.refused
    assert ("names too long" if code == errno.ENAMETOOLONG else os.strerror(code)) in bed.why(name)


@pytest.mark.skipif(os.name == "nt", reason="made by the handles of folders")
@pytest.mark.parametrize(("levels", "name"), [(40, "a"), (1500, "a"), (60, "d" * 200)])
def test_a_tree_too_deep_is_refused_and_stops_nobody(bed, levels, name):
    """1,500 levels are more than a recursive walk takes, 60 of 200 letters more than PATH_MAX of Linux (4,096)."""
    bed.start()
    bed.drop("left-chest/owl.png", png(1))
    (bed.places.inbox / "deep").mkdir()
    handle = os.open(bed.places.inbox / "deep", os.O_RDONLY)
    for _ in range(levels):
        os.mkdir(name, dir_fd=handle)
        below = os.open(name, os.O_RDONLY, dir_fd=handle)
        os.close(handle)
        handle = below
    with open(os.open("x.png", os.O_CREAT | os.O_WRONLY, dir_fd=handle), "wb") as file:  # noqa: PTH123
        file.write(png(2))
    os.close(handle)
    bed.turns(8)
    try:
        assert not was_reset(bed)
        assert bed.refused == ["deep"]
        assert "one in the other" in bed.why("deep")
        assert bed.sheets == ["owl"]
        bed.start(keep_done_bytes=0)
        bed.turns(4)
    finally:
        flatten(bed.places.refused / "deep", name)


def flatten(folder, name):
    """Take a deep tree apart from its top; the recursive removal of the standard library could not."""
    while (folder / name).is_dir():
        (folder / name).rename(folder.with_name("rest"))
        shutil.rmtree(folder)
        folder.with_name("rest").rename(folder)


# -- what takes a file's place --


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names")
def test_a_picture_that_becomes_a_pipe_between_look_and_claim_blocks_nobody(bed):
    """The alarm ends a watcher that waits for the pipe's other end."""

    def fault(name):
        if name == "claim:written" and path.exists() and not path.is_fifo():
            path.unlink()
            os.mkfifo(path)

    bed.world = bed.time.world(fault=fault)
    bed.start()
    path = bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/fox.png", png(2))
    signal.signal(signal.SIGALRM, lambda *_: pytest.fail("the watcher waits for a pipe"))
    signal.alarm(int(LONGEST_S))
    try:
        bed.turns(30)
    finally:
        signal.alarm(0)
    assert bed.sheets == ["fox"]
    assert bed.refused == ["owl.png"]
    assert stat.S_ISFIFO((bed.places.refused / "owl.png").lstat().st_mode)


def test_a_picture_that_becomes_a_link_between_look_and_claim_is_not_followed(bed, tmp_path):
    outside = tmp_path / "outside.png"
    outside.write_bytes(png(1))

    def fault(name):
        if name == "claim:written" and path.exists() and not path.is_symlink():
            facts = path.stat()
            os.utime(outside, ns=(facts.st_mtime_ns, facts.st_mtime_ns))
            path.unlink()
            path.symlink_to(outside)

    bed.world = bed.time.world(fault=fault)
    bed.start()
    path = bed.drop("left-chest/owl.png", png(1))
    bed.turns(20)
    assert bed.sheets == [], "same size, same time, and yet not what was looked at"
    assert bed.refused == ["owl.png"]


def test_a_link_put_into_a_folder_while_it_is_taken_is_not_followed(bed, tmp_path):
    (tmp_path / "outside (80 mm).png").write_bytes(png(1))

    def fault(name):
        link = bed.places.inbox / "club" / "b (80 mm).png"
        if name == "claim:written" and link.parent.exists() and not link.is_symlink():
            link.symlink_to(tmp_path / "outside (80 mm).png")

    bed.world = bed.time.world(fault=fault)
    bed.start()
    bed.drop("club/a (80 mm).png", png(2))
    bed.turns(20)
    assert bed.sheets == []
    assert bed.refused == ["club"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names")
def test_only_a_plain_file_is_opened(tmp_path):
    (tmp_path / "file").write_bytes(b"x")
    (tmp_path / "link").symlink_to(tmp_path / "file")
    os.mkfifo(tmp_path / "pipe")
    with open_plain(tmp_path / "file") as file:
        assert file.read() == b"x"
    for name in ("link", "pipe", "nothing", ""):
        with pytest.raises(OSError):
            open_plain(tmp_path / name)
    reply = answer_request(ReadTableJob(tmp_path / "pipe", None))
    assert isinstance(reply, FailedJob)
    assert reply.kind == "system"
    with pytest.raises(OSError, match="no plain file"):
        list_names_below(tmp_path)


# -- desk.toml --

HOSTILE = {
    "a number of 5,000 digits": f"hold = {'9' * 5000}\n",
    "a number of 3,900 digits in base 16": f"hold = 0x{'f' * 3900}\n",
    "many dots": "a" + ".a" * 30_000 + " = 1\n",
    "dots within the limit": "hold" + ".a" * 2_000 + " = 1\n",
    "brackets": "hold = " + "[" * 2000 + "]" * 2000 + "\n",
    "tables": "hold = " + "{a=" * 600 + "1" + "}" * 600 + "\n",
    "a date that is none": "hold = 9999-99-99\n",
    "no text": "\xff\xfe",
    "an array for a name": "printer = [1]\n",
    "papers of numbers": "papers = [1, 2]\n",
    "a paper that is none": 'papers = ["nothing"]\n',
    "a name with a zero": 'placement = "\\u0000"\n',
}


@pytest.mark.parametrize("text", HOSTILE.values(), ids=HOSTILE.keys())
def test_no_fault_of_a_desk_toml_leaves_its_folder(bed, text):
    bed.start()
    bed.drop("club/desk.toml", text.encode("latin-1"))
    bed.drop("club/owl.png", png(1))
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(6)
    assert bed.sheets == ["fox"]
    assert bed.refused == ["owl.png"]
    assert "desk.toml" in bed.why("owl.png")
    assert not was_reset(bed)


def test_whatever_a_parser_raises_stays_in_its_folder(bed, monkeypatch):
    def parse(content, name):
        raise MemoryError

    monkeypatch.setattr(inbox, "parse_toml", parse)
    bed.drop("club/desk.toml", 'papers = ["a4"]\n')
    bed.drop("club/owl.png", png(1))
    bed.turns(6)
    assert bed.refused == ["owl.png"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no pipes with names")
def test_a_desk_toml_that_is_a_pipe_or_a_folder_is_its_folders_fault(bed):
    bed.start()
    (bed.places.inbox / "left-chest").mkdir()
    (bed.places.inbox / "right-chest" / "desk.toml").mkdir(parents=True)
    os.mkfifo(bed.places.inbox / "left-chest" / "desk.toml")
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("right-chest/fox.png", png(2))
    bed.drop("full-back/hen.png", png(3))
    bed.turns(6)
    assert bed.refused == ["fox.png", "owl.png"]
    assert bed.sheets == ["hen"]


# -- batch files and the maker --


class Failing:
    """Answers for a batch file with these replies first, then in truth."""

    def __init__(self, bed, *replies):
        self.times, real, left = [], bed.maker.queue_request, list(replies)

        def ask(request, then, urgent=False):
            if isinstance(request, ReadTableJob):
                self.times.append(bed.time.now)
                if left:
                    return real(request, lambda _: then(left.pop(0)), urgent)
            return real(request, then, urgent)

        bed.maker.queue_request = ask


@pytest.mark.parametrize("kind", ["error", "system", "refused"])
def test_a_death_of_the_maker_while_it_reads_a_batch_file_is_not_the_files_fault(bed, kind):
    failing = Failing(bed, *[FailedJob(kind, common="died: signal 9")] * 3)
    bed.drop("evening.csv", "art,width\nowl.png,80mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(60)
    assert bed.refused == []
    assert bed.sheets == ["evening"]
    waits = [round(b - a) for a, b in zip(failing.times, failing.times[1:], strict=False)]
    assert waits == sorted(waits)
    assert waits[0] >= 5
    assert waits[-1] >= 20, "asked again after a growing wait"


def test_a_batch_file_that_always_takes_the_maker_down_is_refused_in_the_end(bed):
    Failing(bed, *[FailedJob("error", common="died: signal 11")] * 99)
    bed.drop("evening.csv", "art,width\nowl.png,80mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(200)
    assert "evening.csv" in bed.refused
    assert "failed 5 times" in bed.why("evening.csv")


def test_a_batch_file_that_the_system_cannot_read_is_waited_for(tmp_path, monkeypatch):
    path = tmp_path / "evening.csv"
    path.write_text("art,width\nowl.png,80mm\n", "utf-8")
    assert answer_request(ReadTableJob(path, None)) == NamedFiles(("owl.png",))
    path.unlink()
    reply = answer_request(ReadTableJob(path, None))
    assert isinstance(reply, FailedJob)
    assert reply.kind == "system"


# -- two batch files, one picture --


@pytest.mark.skipif(sys.platform == "win32", reason="shorter names there")
def test_two_batch_files_share_a_picture_with_a_name_as_long_as_names_may_be(bed):
    name = "n" * 251 + ".png"
    bed.drop("one.csv", f"art,width\n{name},80mm\n")
    bed.drop("two.csv", f"art,width\n{name},90mm\n")
    bed.drop(name, png(1))
    bed.turns(10)
    assert bed.refused == []
    assert bed.sheets == ["one", "two"]


def test_a_picture_that_cannot_be_copied_yet_is_not_taken_away_by_the_other_batch_file(bed, monkeypatch):
    """As on a full disk: a copy fails, and a renaming would not."""
    from impose.desk import claim

    real, full = claim.copy_plain, [True]

    def copy(source, target):
        if full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(target))
        return (yield from real(source, target))

    monkeypatch.setattr(claim, "copy_plain", copy)
    bed.drop("one.csv", "art,width\nowl.png,80mm\n")
    bed.drop("two.csv", "art,width\nowl.png,90mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(200, 2)
    assert bed.refused == []
    assert bed.inbox == ["one.csv", "owl.png", "two.csv"]
    full.clear()
    bed.turns(400, 5)
    assert bed.sheets == ["one", "two"]


def test_two_batch_files_share_a_picture_however_late_one_of_them_is_read(bed):
    """The maker is busy, so that both are read long after both have come, one a turn before the other."""
    bed.start()
    busy = bed.maker.hand_out_replies
    bed.maker.hand_out_replies = lambda now: False
    bed.drop("one.csv", "art,width\nowl.png,80mm\n")
    bed.drop("two.csv", "art,width\nowl.png,90mm\n")
    bed.drop("owl.png", png(1))
    bed.turns(20)
    bed.maker.hand_out_replies = busy
    bed.turns(10)
    assert bed.refused == []
    assert bed.sheets == ["one", "two"]
