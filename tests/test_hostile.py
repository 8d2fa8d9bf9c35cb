"""Batches and surroundings nobody would wish for: one clear message, the right exit code, nothing half-written.

What each kind of trouble returns is the program's own table (`impose.errors.Exit`); the signals and errors are POSIX's.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import unicodedata
from collections.abc import Callable
from pathlib import Path

import pytest

from conftest import draw
from waiting import LONGEST_S

HEADING = "order,wearer,art,placement,garment,copies,width"
OWL = {"owl.png": ("ellipse", 120, 90)}
LEFT_ALONE = ["evening.csv", "owl.png"]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def unsafe(text: str) -> list[str]:
    """Characters a terminal obeys instead of showing: controls, format characters (which turn text), surrogates."""
    return [c for c in text if unicodedata.category(c) in ("Cc", "Cf", "Cs") and c != "\n"]


@pytest.fixture
def refused(batch, run, tmp_path) -> Callable[..., str]:
    """Run a batch of these bytes, which must be refused with code 3 and leave nothing; returns what was said."""
    source = batch([], OWL)

    def command(content: bytes) -> str:
        before = names(tmp_path)
        source.write_bytes(content)
        code, out, err = run("sheets", source)
        assert (code, out) == (3, ""), err
        assert "Traceback" not in err
        assert not unsafe(err)
        assert names(tmp_path) == before
        assert max(map(len, err.splitlines())) < 500
        return err

    return command


FILES = {
    "nothing": (b"", "the file is empty"),
    "a byte-order mark": (b"\xef\xbb\xbf", "the file is empty"),
    "blank lines": (b"\n\r\n\n", "the file is empty"),
    "headings only": (HEADING.encode(), "headings but no rows"),
    "headings and blank cells": (f"{HEADING}\n,,,,,,\n".encode(), "headings but no rows"),
    "nothing but NUL": (bytes(1000), "no text at all"),
    "a NUL in the headings": (b"order,ar\0t,width\nR,owl.png,5cm\n", "no column art"),
    "another encoding": (f"{HEADING}\nR,J\x81rgen,owl.png,,,1,5cm\n".encode("latin-1"), "not UTF-8 text: byte 81"),
    "half a UTF-16": (b"\xff\xfeo\0r", "not UTF-16 text"),
    "an open quote": (f'{HEADING}\nR,"Ilka,owl.png,,,1,5cm\n'.encode(), "never closed"),
    "a picture": (b"\x89PNG\r\n\x1a\n", "a picture, not a table"),
}


@pytest.mark.parametrize("name", FILES)
def test_files_that_are_no_batch(refused, name):
    content, words = FILES[name]
    err = refused(content)
    assert "evening.csv" in err
    assert words in err
    assert err.count("stop:") == 1


LONG = "x" * 10_000
CELLS = {
    "NUL in a name": ({"wearer": "a\0b"}, "U+0000"),
    "NUL in art": ({"art": "ow\0l.png"}, "U+0000"),
    "escape in a placement": ({"placement": "left-chest\x1b[2J"}, "U+001B"),
    "bell in an order": ({"order": "R\a"}, "U+0007"),
    "long order": ({"order": LONG}, "more than 2,000 characters"),
    "long wearer": ({"wearer": LONG}, "more than 2,000 characters"),
    "long art": ({"art": LONG + ".png"}, "more than 2,000 characters"),
    "deep art": ({"art": "a/" * 5000 + "b.png"}, "more than 2,000 characters"),
    "art of 2,000": ({"art": "x" * 1990}, "longer than any file's"),
    "long placement": ({"placement": LONG}, "more than 2,000 characters"),
    "long garment": ({"garment": LONG}, "more than 2,000 characters"),
    "copies 0": ({"copies": "0"}, "no copies at all"),
    "copies -1": ({"copies": "-1"}, "not a whole number"),
    "copies 2.5": ({"copies": "2.5"}, "not a whole number"),
    "copies 1e9": ({"copies": "1e9"}, "not a whole number"),
    "copies NaN": ({"copies": "NaN"}, "not a whole number"),
    "copies 1000000000": ({"copies": "1000000000"}, "more than 100,000 copies"),
    "copies in other digits": ({"copies": "\u0663"}, "not a whole number"),
    "width without a unit": ({"width": "90"}, "no unit"),
    "width NaN": ({"width": "NaN"}, "not a length"),
    "width inf": ({"width": "inf mm"}, "not a length"),
    "width 0": ({"width": "0 mm"}, "not a positive length"),
    "width -5": ({"width": "-5 mm"}, "more than nothing"),
    "width 1e9": ({"width": "1e9 mm"}, "exponent"),
    "width of 10,000 digits": ({"width": "9" * 1900 + " mm"}, "too long for a length"),
    "width over nothing": ({"width": "1/0 in"}, "zero below the line"),
    "a folder as art": ({"art": "folder.png"}, "a folder, not a file"),
    "here as art": ({"art": "."}, "names no file"),
    "nothing as art": ({"art": ""}, "no artwork is named"),
    "upwards": ({"art": "../owl.png"}, "leads upwards"),
    "absolute": ({"art": "/etc/passwd"}, "an absolute name"),
    "art that turns the line round": ({"art": "ow\u202egnp.l"}, "no such file"),
    "art with a new line": ({"art": '"ow\nl.png"'}, "control character"),
}


@pytest.mark.parametrize("name", CELLS)
def test_cells_that_are_refused(refused, tmp_path, name):
    (tmp_path / "folder.png").mkdir()
    changed, words = CELLS[name]
    cells = dict(zip(HEADING.split(","), ("R-1", "Ilka", "owl.png", "left-chest", "", "1", ""), strict=True)) | changed
    err = refused(f"{HEADING}\n{','.join(cells.values())}\n".encode())
    (column,) = changed
    assert f"evening.csv, row 2, column {column}" in err
    assert words in err
    assert err.count("stop:") == 1


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_a_link_out_of_the_root_is_not_followed(refused, tmp_path, tmp_path_factory):
    """Neither a linked file nor a file below a linked folder."""
    outside = tmp_path_factory.mktemp("outside")
    draw("noise", 40, 40).save(outside / "secret.png")
    (tmp_path / "secret.png").symlink_to(outside / "secret.png")
    (tmp_path / "linked").symlink_to(outside)
    err = refused(f"{HEADING}\nR,,secret.png,,,1,5cm\nR,,linked/secret.png,,,1,5cm\n".encode())
    assert err.count("leads out of the folder") == 2


def test_overrides_in_names_reach_neither_terminal_nor_page(batch, run, tmp_path):
    """Bidirectional controls (Unicode UAX 9, table of explicit formatting) are left out of labels, with a warning."""
    import pymupdf

    source = batch(["R\u202e1\u2066,I\u200flka\u2069\u202d,owl.png,left-chest,youth M,1,,,,,"], OWL)
    code, out, err = run("sheets", source, "-v", "-p", "a4")
    assert code == 0
    assert not unsafe(out + err)
    assert "U+202E" in err
    with pymupdf.open(tmp_path / "evening-sheets" / "sheets-a4.pdf") as document:
        text = document[0].get_text()
    assert "R1" in text
    assert not unsafe(text)


def test_ten_thousand_letters_are_cut_on_the_label_and_kept_in_the_record(batch, run, tmp_path):
    source = batch([f"R-1,{'W' * 1999},owl.png,left-chest,youth M,1,,,,,"], OWL)
    code, _, err = run("sheets", source, "-p", "a4")
    assert code == 0, err
    record = json.loads((tmp_path / "evening-sheets" / "batch.json").read_text("utf-8"))
    assert record["sheets"][0]["transfers"][0]["wearer"] == "W" * 1999


EVIL = "e\x1b[2J\x1b]0;t\x07v\u202egnp\x85"


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="such names cannot be given there")
def test_names_of_files_cannot_speak_to_the_terminal(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    evil = source.rename(tmp_path / f"{EVIL}.csv")
    code, out, err = run("sheets", evil, "-v")
    assert code == 0, err
    assert not unsafe(out + err)
    assert "\\x1b[2J" in err + out, "it is shown what is there"
    code, out, err = run("sheets", evil, "-o", tmp_path / f"{EVIL}-json", "--json")
    assert not unsafe(out)
    assert json.loads(out)["batch"] == EVIL, "and JSON says it exactly"
    evil.write_text("order,art,width,\x1b[2J\u202eboo\nR,owl.png,5cm,1\n", "utf-8")
    assert not unsafe("".join(map(str, run("sheets", evil, "-v")[1:])))
    for arguments in (["sheets", f"{EVIL}-none.csv"], ["sheets", tmp_path / "owl.png", "--placement", EVIL], [EVIL]):
        code, out, err = run(*arguments)
        assert code in (2, 3, 5)
        assert not unsafe(out + err)


@pytest.mark.parametrize("name", ["می\u200cخواهم", "क्\u200dष", "👨\u200d👩\u200d👧"])
def test_names_spelt_with_joiners_stand_on_the_terminal_as_they_are(batch, run, tmp_path, name):
    """The Unicode Standard, 23.2: without them Persian and Indic words are misspelt and a family is three people."""
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    code, out, err = run("sheets", source.rename(tmp_path / f"{name}.csv"), "-v")
    assert code == 0, err
    assert name in out + err
    assert "\\u200" not in out + err


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="every name is text there")
def test_names_that_are_no_text_are_refused(batch, run, tmp_path):
    """POSIX: a name is bytes. A record and a PDF are text."""
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    odd = os.fsdecode(b"odd\xff")
    (tmp_path / odd).mkdir()
    for name in ("owl.png", "evening.csv"):
        (tmp_path / odd / name).write_bytes((tmp_path / name).read_bytes())
    (tmp_path / "loose").mkdir()
    (tmp_path / "loose" / f"{odd}.png").write_bytes((tmp_path / "owl.png").read_bytes())
    for arguments in (
        [tmp_path / odd / "evening.csv"],
        [tmp_path / odd, "--width", "5 cm"],
        [tmp_path / "loose", "--width", "5 cm"],
        [source, "-o", tmp_path / f"{odd}-out"],
    ):
        code, out, err = run("sheets", *arguments)
        assert code in (2, 3), err
        assert out == ""
        assert "another name" in err
    (tmp_path / "loose" / f"{odd}.png").rename(tmp_path / "loose" / f"{odd}.txt")
    (tmp_path / "loose" / "owl.png").write_bytes((tmp_path / "owl.png").read_bytes())
    assert run("sheets", tmp_path / "loose", "--width", "5 cm")[0] == 0, "what is passed over may be called anything"


def test_folders_that_cannot_be_written_are_5(batch, run, tmp_path):
    """A file where a folder should be, and on Linux the system's own folders, refuse whoever asks, root too."""
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    places = [tmp_path / "owl.png" / "out", tmp_path / ("x" * 300)]
    if sys.platform == "linux":
        places += [Path("/proc/impose-out"), Path("/sys/impose-out")]
    for place in places:
        code, out, err = run("sheets", source, "-o", place)
        assert (code, out) == (5, ""), err
        assert "Traceback" not in err
        assert err.count("stop:") == 1
    assert names(tmp_path) == LEFT_ALONE


def started(arguments: list[object], *program: str, **more: object) -> subprocess.Popen[str]:
    """The command as a process and a group of its own; what `more` has of `cache` is where it keeps its pictures."""
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))}
    if "cache" in more:
        environment["XDG_CACHE_HOME"] = str(more.pop("cache"))
    return subprocess.Popen(
        [sys.executable, *(program or ("-m", "impose")), *map(str, arguments)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment,
        start_new_session=True,
        **more,  # type: ignore[call-overload]
    )


@pytest.mark.skipif(sys.platform == "win32", reason="no limits on processes there")
@pytest.mark.parametrize("kilobytes", [0, 8, *(pytest.param(kb, marks=pytest.mark.long) for kb in (1, 16))])
def test_a_disk_that_fills_at_any_point_is_5_and_leaves_nothing(batch, tmp_path, kilobytes):
    """POSIX setrlimit: writing beyond RLIMIT_FSIZE fails as on a full disk, in every library alike."""
    import resource

    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], {"owl.png": ("noise", 120, 90)})
    limit = (kilobytes << 10, kilobytes << 10)
    child = started(
        ["sheets", source, "-o", tmp_path / "out", "--no-cache"],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, limit),
    )
    out, err = child.communicate(timeout=LONGEST_S)
    assert (child.returncode, out) == (5, ""), err
    assert "Traceback" not in err
    (stop,) = [line for line in err.splitlines() if line.startswith("stop:")]
    assert str(tmp_path / "out") in stop
    assert "space" in stop
    assert names(tmp_path) == LEFT_ALONE


def test_a_disk_that_is_full_is_5_and_leaves_nothing(batch, run, tmp_path):
    """A file system of 32 KB, where one can be mounted."""
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], {"owl.png": ("noise", 150, 150)})
    disk = tmp_path / "disk"
    disk.mkdir()
    try:
        subprocess.run(["mount", "-t", "tmpfs", "-o", "size=32k", "tmpfs", str(disk)], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError):
        pytest.skip("no file system may be mounted here")
    try:
        code, out, err = run("sheets", source, "-o", disk / "out")
        assert (code, out) == (5, ""), err
        assert "no space left" in err
        assert names(disk) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)


@pytest.mark.parametrize("words", [["sheets", "SOURCE", "--json"], ["--version"], ["quote", "--help"]])
def test_a_result_that_cannot_be_told_is_5(batch, tmp_path, words):
    """Linux: writing to /dev/full fails with ENOSPC (full(4))."""
    if not Path("/dev/full").exists():
        pytest.skip("no /dev/full here")
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    with Path("/dev/full").open("w") as full:
        child = subprocess.run(
            [sys.executable, "-m", "impose", *(str(source) if word == "SOURCE" else word for word in words)],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
        )
    assert child.returncode == 5, child.stderr
    assert "no space left" in child.stderr
    assert "Traceback" not in child.stderr


INTERRUPTED = """
import os, signal
from impose.formats import prepare_many

def prepare_three(*given, **named):
    for number, outcome in enumerate(real(*given, **named), 1):
        if number == 3:
            os.killpg(0, signal.SIGINT)
        yield outcome

real, prepare_many.prepare_pictures = prepare_many.prepare_pictures, prepare_three
from impose.cli import main
main()
"""


@pytest.mark.skipif(sys.platform == "win32", reason="a group of processes is interrupted otherwise there")
@pytest.mark.parametrize("workers", [1, 2])
def test_ctrl_c_in_the_middle_is_130_and_leaves_nothing(batch, tmp_path, workers):
    """The whole group gets the signal, as from a terminal, when three of thirty pictures are prepared."""
    pictures = [f"p{i:02}.png" for i in range(30)]
    source = batch([f"R-1,,{name},,adult L,1,50 mm,,,," for name in pictures], {"owl.png": ("noise", 90, 90)})
    for number, name in enumerate(pictures):  # made distinct by bytes after the end, which are ignored
        (tmp_path / name).write_bytes((tmp_path / "owl.png").read_bytes() + bytes([number]))
    before, cache = names(tmp_path), tmp_path.with_name(f"{tmp_path.name}-cache")
    child = started(
        ["sheets", source, "--workers", workers],
        "-c",
        INTERRUPTED,
        cache=cache,
        # A shell that starts jobs in the background has them ignore Ctrl-C, and children inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    out, err = child.communicate(timeout=LONGEST_S)
    assert child.returncode == 130, err
    assert out == ""
    assert err.strip() == "Interrupted: nothing was written."
    assert names(tmp_path) == before
    assert 0 < len(list(cache.rglob("*.picture"))) < len(pictures), "it was in the middle"
