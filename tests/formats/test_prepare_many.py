"""Many pictures: the same outcomes in the same order for any workers, with or without the cache."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import BrokenExecutor, Executor, Future, ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from impose.art.cache import PictureCache, default_cache_folder
from impose.art.prepare import PreparationOptions, PreparedPicture, prepare_picture
from impose.errors import Exit, Trouble
from impose.formats import prepare_many as several
from impose.formats.prepare_file import prepare_file
from impose.formats.prepare_many import prepare_pictures
from waiting import LONGEST_S


@pytest.fixture
def pictures(tmp_path: Path) -> list[Path]:
    """Seven files: five pictures, one of them twice, and one that is damaged."""
    paths = []
    for seed in range(5):
        rng = np.random.default_rng(seed)
        size = (20 + 90 * (4 - seed), 30 + 50 * (seed % 3), 3)
        path = tmp_path / f"p{seed}.png"
        Image.fromarray(rng.integers(0, 200, size).astype(np.uint8)).save(path, compress_level=1)
        paths.append(path)
    paths.insert(2, tmp_path / "again.png")
    paths[2].write_bytes(paths[0].read_bytes() + b"")
    paths.insert(4, tmp_path / "damaged.png")
    paths[4].write_bytes(paths[0].read_bytes()[:-20])
    return paths


def plain(outcomes) -> list:
    return [o if isinstance(o, PreparedPicture) else o.findings for o in outcomes]


@pytest.fixture
def one_by_one(pictures: list[Path]) -> list:
    found = []
    for path in pictures:
        try:
            found.append(prepare_picture(path.read_bytes(), name=path.name))
        except Trouble as trouble:
            found.append(trouble.findings)
    return found


def test_one_worker(pictures, one_by_one):
    assert plain(prepare_pictures(pictures)) == one_by_one


@pytest.mark.parametrize("window", [1, 2, 50])
def test_threads(pictures, one_by_one, window):
    with ThreadPoolExecutor(3) as executor:
        assert plain(prepare_pictures(pictures, workers=executor, window=window)) == one_by_one


def test_processes_and_cache(pictures, one_by_one, tmp_path):
    cache = PictureCache(tmp_path / "cache")
    assert plain(prepare_pictures(pictures, workers=2, cache=cache)) == one_by_one
    assert plain(prepare_pictures(pictures, cache=cache)) == one_by_one


def counted(monkeypatch) -> list[int]:
    calls: list[int] = []

    def spy(content, recipe, name, sha256):
        calls.append(len(content))
        return prepare_file(content, recipe, name, sha256)

    monkeypatch.setattr(several, "prepare_file", spy)
    return calls


def test_each_distinct_file_is_prepared_once(pictures, monkeypatch, tmp_path):
    calls = counted(monkeypatch)
    list(prepare_pictures(pictures))
    assert len(calls) == 6
    calls.clear()
    cache = PictureCache(tmp_path / "cache")
    list(prepare_pictures(pictures, cache=cache))
    list(prepare_pictures(pictures, cache=cache))
    assert len(calls) == 6 + 1  # only the damaged one is tried again
    list(prepare_pictures(pictures, PreparationOptions(tint=0.1), cache=cache))
    assert len(calls) == 7 + 6  # another recipe is another picture


def test_findings_carry_the_name_of_their_own_file(pictures, tmp_path):
    copy = tmp_path / "copy.png"
    copy.write_bytes(pictures[4].read_bytes())
    first, second = prepare_pictures([pictures[4], copy])
    assert [o.findings[0].file for o in (first, second)] == ["damaged.png", "copy.png"]
    assert first.findings[0].what == second.findings[0].what


def test_what_cannot_be_read_is_told_at_its_place(pictures, tmp_path):
    outcomes = list(prepare_pictures([tmp_path / "missing.png", tmp_path, pictures[0]]))
    assert [getattr(o, "exit", None) for o in outcomes] == [Exit.SYSTEM, Exit.SYSTEM, None]
    assert [o.findings[0].file for o in outcomes[:2]] == ["missing.png", tmp_path.name]


def entries(cache: PictureCache) -> list[Path]:
    return sorted(cache.folder.iterdir())


@pytest.mark.parametrize("spoil", ["flip", "cut", "empty", "foreign", "swap"])
def test_damaged_entries_are_made_anew(pictures, one_by_one, tmp_path, spoil, monkeypatch):
    cache = PictureCache(tmp_path / "cache")
    list(prepare_pictures(pictures[:2], cache=cache))
    first, second = entries(cache)
    content = first.read_bytes()
    if spoil == "flip":
        first.write_bytes(content[:-50] + bytes([content[-50] ^ 4]) + content[-49:])
    elif spoil == "swap":  # whole, but another picture's
        first.write_bytes(second.read_bytes())
    else:
        first.write_bytes({"cut": content[:-1], "empty": b"", "foreign": b"something else"}[spoil])
    calls = counted(monkeypatch)
    assert plain(prepare_pictures(pictures[:2], cache=cache)) == one_by_one[:2]
    assert len(calls) == 1
    assert plain(prepare_pictures(pictures[:2], cache=cache)) == one_by_one[:2]
    assert len(calls) == 1


def test_the_least_recently_used_go_first(pictures, tmp_path):
    cache = PictureCache(tmp_path / "cache")
    list(prepare_pictures(pictures, cache=cache))
    files = entries(cache)
    assert len(files) == 5
    for age, path in enumerate(files):
        os.utime(path, (1_000_000 - age, 1_000_000 - age))
    stale = cache.folder / "x.part"
    stale.write_bytes(b"half")
    os.utime(stale, (1_000, 1_000))
    fresh = cache.folder / "y.part"  # another process may be writing it
    fresh.write_bytes(b"half")
    sizes = [path.stat().st_size for path in files]
    cache.limit = sizes[0] + sizes[1]
    cache.remove_oldest()
    assert entries(cache) == sorted([*files[:2], fresh])


def test_a_picture_found_in_the_cache_counts_as_used(pictures, tmp_path):
    cache = PictureCache(tmp_path / "cache")
    list(prepare_pictures(pictures[:1], cache=cache))
    (path,) = entries(cache)
    os.utime(path, (1_000, 1_000))
    list(prepare_pictures(pictures[:1], cache=cache))
    assert path.stat().st_mtime > 1_000_000


@pytest.mark.skipif(os.name == "nt", reason="a file in place of a folder is reported otherwise there")
def test_trouble_with_the_cache_is_no_trouble(pictures, one_by_one, tmp_path):
    in_the_way = tmp_path / "file"
    in_the_way.write_bytes(b"")
    assert plain(prepare_pictures(pictures, cache=PictureCache(in_the_way / "cache"))) == one_by_one
    assert plain(prepare_pictures(pictures, cache=PictureCache(in_the_way))) == one_by_one


def test_a_full_disk_is_no_trouble(pictures, one_by_one, tmp_path, monkeypatch):
    def full(self, target):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    cache = PictureCache(tmp_path / "cache")
    assert plain(prepare_pictures(pictures, cache=cache)) == one_by_one
    assert entries(cache) == []


HASTE = """
import sys
from pathlib import Path
from impose.art.cache import PictureCache
from impose.formats.prepare_many import prepare_pictures
folder, *paths = map(Path, sys.argv[1:])
for round in range(12):
    cache = PictureCache(folder, limit=60_000)
    outcomes = list(prepare_pictures(paths, cache=cache))
    print([getattr(o, "sha256", "") + str(len(getattr(o, "data", b""))) for o in outcomes])
"""


def test_two_processes_share_a_cache_that_is_too_small(pictures, one_by_one, tmp_path):
    """Both write, read and remove the same entries; each sees whole ones only."""
    command = [sys.executable, "-c", HASTE, str(tmp_path / "cache"), *map(str, pictures)]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    right = [getattr(o, "sha256", "") + str(len(getattr(o, "data", b""))) for o in one_by_one]
    for process in running:
        out, _ = process.communicate(timeout=LONGEST_S)
        assert process.returncode == 0
        assert out.splitlines() == [str(right)] * 12


@pytest.mark.skipif(sys.platform != "linux", reason="the folder is set otherwise there")
def test_a_run_with_no_cache_neither_reads_nor_writes_one(batch, run, tmp_path, monkeypatch):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], {"owl.png": ("noise", 120, 90)})
    folder = tmp_path / "cache"
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder))
    assert run("sheets", source, "--no-cache", "-o", tmp_path / "first")[0] == 0
    assert not folder.exists()
    assert run("sheets", source, "-o", tmp_path / "second")[0] == 0
    (entry,) = folder.rglob("*.picture")
    before = entry.stat()
    assert run("sheets", source, "--no-cache", "-o", tmp_path / "third")[0] == 0
    assert entry.stat() == before, "reading would have marked it as used"
    for name in ("second", "third"):
        for file in ("sheets-a4.pdf", "batch.json"):
            assert (tmp_path / name / file).read_bytes() == (tmp_path / "first" / file).read_bytes()


def test_what_was_checked_is_decoded_no_more_when_it_is_made(batch, run, tmp_path, monkeypatch):
    """Each distinct picture is decoded once over `check`, `quote`, `sheets` and `sheets` again."""
    from impose.art import prepare

    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    rows = [f"R-{n},Ilka,{name}.png,left-chest,youth M,1,,,,," for n, name in enumerate(("owl", "fox", "owl"), 1)]
    source = batch(rows, {"owl.png": ("noise", 120, 90), "fox.png": ("noise", 90, 120)})
    decoded, decode = [], prepare.decode_png

    def count(png, name=""):
        decoded.append(name)
        return decode(png, name)

    monkeypatch.setattr(prepare, "decode_png", count)
    for number, command in enumerate(("check", "quote", "sheets", "sheets")):
        out = ("-o", tmp_path / f"out{number}", "--steps", "50") if command == "sheets" else ()
        assert run(command, source, "--workers", "1", *out)[0] == 0
        assert len(decoded) == 2, command


def test_the_default_folder_is_the_systems(monkeypatch, tmp_path):
    monkeypatch.setattr(sys, "platform", "linux")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    assert default_cache_folder() == tmp_path / "impose"
    monkeypatch.setenv("XDG_CACHE_HOME", "relative")  # invalid by the XDG specification, so ignored
    assert default_cache_folder() == Path.home() / ".cache" / "impose"


class Dying(Executor):
    """An executor whose worker the system has killed."""

    def submit(self, fn, /, *args, **kwargs):
        future: Future = Future()
        future.set_exception(BrokenExecutor("killed"))
        return future


def test_a_worker_that_dies_is_told(pictures):
    with pytest.raises(Trouble, match="memory") as stop:
        list(prepare_pictures(pictures, workers=Dying()))
    assert stop.value.exit is Exit.SYSTEM
