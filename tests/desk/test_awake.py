"""No step of the loop takes long, whatever is dropped; wrong clocks throw nothing away; kills leave nothing behind.

Time is played by the work itself: each megabyte read takes so and so long by the watcher's clock.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
import time
import tracemalloc
import zlib
from pathlib import Path

import pytest

from desk.fake import png
from impose import files
from impose.art.png import read_png
from impose.desk import file_integrity as whole
from impose.desk import time_slices as slices
from impose.desk.file_integrity import LARGEST, find_png_fault, hash_file
from impose.desk.time_slices import STEP_S, finish_steps
from impose.errors import Trouble
from impose.files import open_scratch_folder, sweep_parts, write_new_file, write_new_folder
from impose.values import replace

MB = 1 << 20


class Disk:
    """Reading a block takes `seconds` of the bed's time; counts what is read of each file."""

    def __init__(self, bed, monkeypatch, seconds):
        self.bed, self.seconds, self.read = bed, seconds, {}
        real = whole.open_plain

        def opened(path):
            return _Slow(real(path), path, self)

        monkeypatch.setattr(whole, "open_plain", opened)
        monkeypatch.setattr(slices, "open_plain", opened)


class _Slow:
    def __init__(self, file, path, disk):
        self._file, self._path, self._disk = file, path, disk

    def read(self, size):
        assert 0 <= size <= MB, "no more than a slice is held"
        block = self._file.read(size)
        if len(block) > 2048:  # less is a look at what the file is
            self._disk.bed.time.sleep(self._disk.seconds)
            self._disk.read[self._path.name] = self._disk.read.get(self._path.name, 0) + len(block)
        return block

    def __enter__(self):
        return self

    def __exit__(self, *error):
        self._file.close()

    def __getattr__(self, name):
        return getattr(self._file, name)


def sparse(path, size, head=b""):
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("wb") as file:
        file.write(head)
        file.truncate(size)
    return path


def longest_turn(bed, seconds):
    """The longest turn of the loop by the watcher's clock, over so many seconds."""
    watch, longest, end = bed.watch or bed.start(), 0.0, bed.time.now + seconds
    while bed.time.now < end:
        begun = bed.time.now
        watch.run_turn()
        longest = max(longest, bed.time.now - begun)
        bed.time.sleep(0.1)
    return longest


@pytest.mark.parametrize("name", ["film.mov", "left-chest/film.png", "film.csv", "club/film.mov", "film.ttf"])
def test_what_is_too_large_is_refused_by_its_size_and_not_read(bed, monkeypatch, name):
    disk = Disk(bed, monkeypatch, 1.0)
    sparse(bed.places.inbox / name, 40 * LARGEST)
    bed.drop("full-back/owl.png", png(1))
    assert longest_turn(bed, 80) < 1.0
    assert disk.read == {}
    assert bed.sheets == ["owl"]
    assert len(bed.refused) == 1
    assert not list(bed.places.inbox.glob("**/film*"))


def test_a_film_below_the_limit_is_refused_unread(bed, monkeypatch):
    disk = Disk(bed, monkeypatch, 1.0)
    sparse(bed.places.inbox / "film.mov", 20 * MB)
    bed.turns(8)
    assert bed.refused == ["film.mov"]
    assert disk.read == {}


def chunks(*sizes):
    """A PNG that is whole, with data of these sizes between IHDR and IDAT (W3C PNG, third edition, 5.3)."""
    plain = png(1)
    more = b""
    for size in sizes:
        data = os.urandom(1) * size
        more += size.to_bytes(4, "big") + b"prVt" + data + zlib.crc32(b"prVt" + data).to_bytes(4, "big")
    return plain[:33] + more + plain[33:]


@pytest.mark.parametrize("shared", [False, True])
def test_no_turn_takes_a_second_however_large_the_drops_are(bed, monkeypatch, tmp_path, shared):
    """24 MB at 10 MB/s: looking through takes 2.4 s, hashing as long, copying to the printer 1 s."""
    Disk(bed, monkeypatch, 0.1)
    (tmp_path / "print").mkdir()
    bed.start(print_folder=tmp_path / "print")
    real = bed.maker._make

    def make(request):
        reply = real(request)
        if request.out is not None:
            (request.out / "sheets-a4.pdf").write_bytes(bytes(10 * MB))
        return reply

    bed.maker._make = make
    art = chunks(24 * MB)
    if shared:
        bed.drop("one.csv", "art,width\nbig.png,80mm\n")
        bed.drop("two.csv", "art,width\nbig.png,90mm\n")
        bed.drop("big.png", art)
    else:
        bed.drop("club/a (80 mm).png", art)
        bed.drop("left-chest/b.png", art)
    longest = longest_turn(bed, 40)
    assert longest < 1.0, longest
    assert longest > STEP_S, "the work was there"
    assert bed.sheets == (["one", "two"] if shared else ["b", "club"])
    assert len(list((tmp_path / "print").rglob("*.pdf"))) == 2


def test_a_watcher_is_heard_to_stop_in_the_middle_of_a_large_file(bed, monkeypatch):
    disk = Disk(bed, monkeypatch, 0.1)
    path = bed.drop("left-chest/owl.png", chunks(24 * MB))
    watch = bed.start()
    real, asked = bed.world.sleep, []

    def sleep(seconds):
        real(seconds)
        if disk.read and not asked:
            asked.append(bed.time.now)
            watch.ask_to_stop()

    watch.world = replace(watch.world, sleep=sleep)
    watch.run_watch(bed.lock)
    assert bed.time.now - asked[0] < 1.0
    assert path.exists()


@pytest.mark.parametrize("length", [0, LARGEST - 100])
def test_a_sparse_png_of_a_gigabyte_is_not_held_in_memory(tmp_path, length):
    path = sparse(tmp_path / "big.png", LARGEST, png(1)[:33] + length.to_bytes(4, "big") + b"IDAT")
    steps = find_png_fault(path)
    tracemalloc.start()
    try:
        for _ in range(20):
            next(steps, None)
        assert tracemalloc.get_traced_memory()[1] < 4 * MB
    finally:
        tracemalloc.stop()
    steps.close()


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (png(1), ""),
        (chunks(3 * MB, 0, 17), ""),
        (png(1) + b"more", ""),
        (png(1)[:-1], "cut off"),
        (png(1)[:-12], "cut off"),
        (png(1)[:60], "cut off"),
        (png(1)[:8], "cut off"),
        (chunks(3 * MB)[: 2 * MB], "cut off"),
        (png(1)[:-20] + b"\0" + png(1)[-19:], "checksum"),
        (b"GIF89a" * 99, "a GIF picture"),
        (b"", "an empty file"),
    ],
)
def test_whole_or_not(tmp_path, content, why):
    """Against what the decoder of the house says, which is held to the specification elsewhere."""
    path = tmp_path / "owl.png"
    path.write_bytes(content)
    found = finish_steps(find_png_fault(path))
    assert (why in found) if why else found == ""
    try:
        read_png(content)
    except Trouble:
        assert found
    else:
        assert not found


def test_a_hash_is_that_of_the_standard_library(tmp_path):
    content = os.urandom(3 * MB + 5)
    (tmp_path / "x").write_bytes(content)
    assert finish_steps(hash_file(tmp_path / "x")) == hashlib.sha256(content).hexdigest()


# -- clocks --

DAY = 86400.0


def originals(bed):
    return sorted(path.name for path in bed.places.done.iterdir())


@pytest.fixture
def aged(bed, monkeypatch):
    """A desk that keeps originals for 90 days, with one of today; the times of files go by the played clock."""
    bed.time.wall = time.time()
    bed.drop("left-chest/owl.png", png(1))
    bed.start(keep_done_s=90 * DAY)
    bed.turns(7200, 60)
    assert originals(bed) == ["owl"]
    return bed


def test_a_clock_that_is_ahead_for_a_while_throws_nothing_away(aged):
    aged.time.wall += 100 * DAY
    aged.turns(3000, 4)
    assert originals(aged) == ["owl"]
    assert aged.look(lambda drops: len(drops.list_newest("delivered", 9))) == 1
    aged.time.wall -= 100 * DAY
    aged.turns(8000, 60)
    assert originals(aged) == ["owl"]


def test_a_start_with_a_clock_that_is_ahead_throws_nothing_away(aged):
    aged.time.wall += 100 * DAY
    aged.start()
    aged.turns(3000, 60)
    assert originals(aged) == ["owl"]


def test_what_is_old_is_thrown_away_once_the_clock_has_gone_steadily_for_an_hour(aged):
    aged.time.wall += 100 * DAY
    aged.turns(3000, 60)
    assert originals(aged) == ["owl"]
    aged.turns(2000, 60)
    assert originals(aged) == []


def test_short_runs_an_evening_each_come_to_throw_away_too(aged):
    for _ in range(6):
        aged.time.wall += DAY
        aged.time.now += DAY
        aged.start(keep_done_s=4 * DAY)
        aged.turns(1)
    assert originals(aged) == []


# -- what kills leave behind --


def test_temporaries_that_a_kill_left_in_the_desk_are_swept(bed):
    left = [bed.places.refused / ".owl.png.txt.abcd1234.part", bed.places.work / ".new-4711"]
    for path in left:
        path.write_bytes(b"")
    theirs = bed.places.refused / ".hand made.part"
    theirs.write_bytes(b"")
    bed.start()
    assert [path.exists() for path in left] == [False, False]
    assert theirs.exists()


@pytest.mark.skipif(not hasattr(os, "fork"), reason="folders cannot be locked there")
def test_a_half_built_folder_of_a_kill_is_swept_by_the_next_and_one_at_work_is_not(tmp_path):
    target = tmp_path / "lantern-sheets"

    def killed():
        child = os.fork()
        if child == 0:
            with write_new_folder(target) as part:
                (part / "half").write_bytes(b"x")
                os.kill(os.getpid(), 9)
        os.waitpid(child, 0)

    killed()
    (dead,) = tmp_path.glob(".lantern-sheets.*.part")
    strangers = [tmp_path / ".lantern-sheets.part", tmp_path / ".lantern-sheets.kept.by.hand.part"]
    for stranger in strangers:
        stranger.mkdir()
        os.utime(stranger, (0, 0))
    with write_new_folder(tmp_path / "lantern-sheets") as living:
        os.utime(living, (0, 0))
        os.utime(dead, (0, 0))
        sweep_parts(target)
        assert not dead.exists()
        assert living.exists()
    assert target.is_dir()
    assert all(stranger.exists() for stranger in strangers)


def test_a_scratch_folder_of_a_kill_is_swept_by_the_next_and_one_in_use_is_not(tmp_path, monkeypatch):
    """A kill leaves it, a customer's sheets within; nothing that others put beside it is ours to remove."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    child = os.fork()
    if child == 0:
        with open_scratch_folder() as folder:
            (folder / "sheets.pdf").write_bytes(b"x")
            os.kill(os.getpid(), 9)
    os.waitpid(child, 0)
    (dead,) = tmp_path.iterdir()
    strangers = [tmp_path / name for name in ("impose-abcdefgh", ".impose.part", ".other.abcdefgh.part", "tmpabc")]
    for stranger in strangers:
        stranger.mkdir()
    with open_scratch_folder() as living:
        assert dead.exists(), "a young one may not be locked yet"
        for folder in (dead, living, *strangers):
            os.utime(folder, (0, 0))
        with open_scratch_folder() as another:
            assert not dead.exists()
            assert living.exists()
    assert sorted(tmp_path.iterdir()) == sorted(strangers)
    assert not another.exists()


def test_no_temporary_folder_is_made_another_way():
    """One that a kill leaves is swept by nobody."""
    package = Path(files.__file__).parent
    users = {path.name for path in package.rglob("*.py") if "TemporaryDirectory" in path.read_text("utf-8")}
    assert not users


def test_an_output_may_have_a_name_as_long_as_names_may_be(tmp_path):
    name = "n" * 255
    with write_new_file(tmp_path / name) as part:
        part.write_bytes(b"x")
    assert (tmp_path / name).read_bytes() == b"x"
    with write_new_folder(tmp_path / ("m" * 255)) as folder:
        (folder / "x").touch()
    assert Path(tmp_path / ("m" * 255) / "x").exists()
