"""The command as a person meets it: what it says where, what it returns, and that it leaves nothing half-written."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from PIL import Image

from each_case import try_each
from impose.native.library import KEEP_MEMORY, load_library
from waiting import LONGEST_S

OWL = {"owl.png": ("ellipse", 120, 90)}


def test_sheets_writes_pdf_and_record_and_says_so(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,3,,,,,"], OWL)
    code, out, _ = run("sheets", source, "--steps", "50")
    folder = tmp_path / "evening-sheets"
    assert code == 0
    assert sorted(path.name for path in folder.iterdir()) == [
        "approval", "batch.json", "blanks.csv", "proof.html", "reprint.csv",
        "sheets-a4.pdf", "slips.pdf", "tickets.pdf",
    ]  # fmt: skip
    assert "3 transfers on 1 sheet" in out
    assert "no fewer sheets possible" in out
    assert str(folder) in out
    code, _, _ = run("sheets", source, "--steps", "50")
    assert (tmp_path / "evening-sheets-2").is_dir(), "the next free name"


def test_json_on_stdout_is_the_record(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,2,,,,,"], OWL)
    code, out, _ = run("sheets", source, "--json", "-o", tmp_path / "out")
    record = json.loads(out)
    assert code == 0
    assert record == json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    assert record["format"] == "impose-record/1"
    assert set(record) >= {"batch", "code", "art_root", "options", "codec", "warnings", "paper", "cost", "currency"}
    assert set(record["fewest"]) == {"sheets", "cost", "proven", "clock"}
    (sheet,) = record["sheets"]
    assert set(sheet) >= {"sheet", "paper", "width_mm", "height_mm", "file", "page", "yield", "transfers"}
    first = sheet["transfers"][0]
    assert set(first) >= {
        "id", "row", "order", "wearer", "art", "art_sha256", "placement", "garment", "copy", "copies", "ink_px",
        "ink_mm", "cell_mm", "turned", "mirrored", "ppi", "cost",
    }  # fmt: skip
    assert first["row"] == 2
    assert first["mirrored"] is True


def test_every_fault_of_a_batch_in_one_report(batch, run, tmp_path):
    source = batch(
        [
            "R-1,Ilka,owl.png,left-chest,youth M,0,,,,,",
            "R-1,Bo,gone.png,left-chest,,1,,,,,",
            "R-2,Cy,owl.png,,,1,210,,,,",
            "R-2,Cy,../owl.png,left-chest,,1,,,,,",
        ],
        OWL,
    )
    code, out, err = run("sheets", source)
    assert code == 3
    assert out == ""
    for row in (2, 3, 4, 5):
        assert f"evening.csv, row {row}, column" in err
    assert "210" in err
    assert not (tmp_path / "evening-sheets").exists()


def test_a_damaged_picture_is_refused_whole(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,,1,,,,,"], OWL)
    content = (tmp_path / "owl.png").read_bytes()
    (tmp_path / "owl.png").write_bytes(content[:-20])
    code, _, err = run("sheets", source)
    assert code == 3
    assert "row 2, column art" in err
    assert "Traceback" not in err


def test_what_fits_no_paper_is_refused_with_the_largest_size(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,500 mm,,,,"], OWL)
    code, _, err = run("sheets", source, "-p", "a4", "-p", "letter")
    assert code == 4
    assert "a4 takes" in err
    assert "letter takes" in err
    assert not (tmp_path / "evening-sheets").exists()
    code, _, err = run("sheets", source, "-p", "a4", "--oversize", "shrink")
    assert code == 0
    assert "instead of the 500 mm" in err


def test_skip_bad_leaves_out_whole_orders_and_returns_3(batch, run, tmp_path):
    lines = [
        "R-1,Ilka,owl.png,left-chest,,2,,,,,",
        "R-2,Bo,owl.png,left-chest,,1,,,,,",
        "R-2,Cy,no.png,left-chest,,1,,,,,",
    ]
    code, out, err = run("sheets", batch(lines, OWL), "--skip-bad")
    assert code == 3
    assert "2 transfers" in out
    assert "R-2" in err
    record = json.loads((tmp_path / "evening-sheets" / "batch.json").read_text("utf-8"))
    assert {t["order"] for s in record["sheets"] for t in s["transfers"]} == {"R-1"}


def test_strict_stops_at_a_warning_and_accept_lets_it_pass(batch, run):
    source = batch(["R-1,Ilka,owl.png,,adult M,1,185 mm,,,,"], OWL)  # takes the tight margin on A4
    assert run("sheets", source, "-p", "a4", "--keep-upright")[0] == 0
    code, _, err = run("sheets", source, "-p", "a4", "--keep-upright", "--strict")
    assert code == 3
    assert "stop:" in err
    kinds = ("tight-margin", "very-low-resolution")
    accepted = [part for kind in kinds for part in ("--accept", kind)]
    assert run("sheets", source, "-p", "a4", "--keep-upright", "--strict", *accepted)[0] == 0


@try_each(
    "arguments",
    [
        ["sheets"],
        ["sheets", "x.csv", "--units", "furlong"],
        ["nonsense"],
        ["sheets", "x.csv", "--printer", "no-such-printer"],
        ["sheets", "x.csv", "-p", "no-such-paper"],
        ["sheets", "x.csv", "--width", "90"],
        ["sheets", "x.csv", "--tear", "2 mm"],
        ["sheets", "x.csv", "--steps", "5", "--seconds", "1"],
        ["profiles", "socks"],
    ],
)
def test_wrong_use_is_2(run, arguments):
    code, out, err = run(*arguments)
    assert (code, out) == (2, "")
    assert "Traceback" not in err
    assert err


def test_png_files_with_options(batch, run, tmp_path):
    batch([], OWL)
    code, out, _ = run("sheets", tmp_path / "owl.png", "--width", "3.5 in", "--copies", "4", "-o", tmp_path / "out")
    assert code == 0
    assert "4 transfers" in out
    record = json.loads((tmp_path / "out" / "batch.json").read_text("utf-8"))
    ink = record["sheets"][0]["transfers"][0]["ink_mm"]
    # Common practice, no source: a left chest print is 3.5 in wide, that is 88.9 mm.
    assert max(ink["w"], ink["h"]) == pytest.approx(88.9)


def test_a_turned_picture_is_asked_about_and_decided_by_an_option(batch, run, tmp_path):
    """Exif 2.32, 4.6.4 A: orientation 6 is shown turned a quarter clockwise, so that width and height change places."""
    source = batch(["R-1,Ilka,owl.png,,adult M,1,60 mm,,,,"], OWL)
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.open(tmp_path / "owl.png").save(tmp_path / "owl.png", exif=exif)
    code, _, err = run("sheets", source, "-p", "a4")
    assert code == 3
    assert "row 2, column art" in err
    assert "--orientation apply" in err
    for choice, size in (("apply", (90, 120)), ("ignore", (120, 90))):
        code, out, _ = run("sheets", source, "-p", "a4", "--json", "--orientation", choice, "-o", tmp_path / choice)
        record = json.loads(out)
        (left, top, right, bottom) = record["sheets"][0]["transfers"][0]["ink_px"]
        assert (code, right - left, bottom - top) == (0, *size)
        assert record["options"]["orientation"] == choice
    assert run("sheets", source, "--orientation", "ask")[0] == 2


def test_quote_compares_papers_and_writes_nothing(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,9,,,,,"], OWL)
    before = sorted(tmp_path.iterdir())
    code, out, _ = run("quote", source, "-p", "a4", "-p", "a3", "--steps", "50")
    assert code == 0
    assert "a4 + a3" in out
    assert "best" in out
    assert sorted(tmp_path.iterdir()) == before
    code, out, _ = run("quote", source, "-p", "a4", "--json", "--steps", "50")
    (offer,) = json.loads(out)["offers"]
    assert offer["sheets"]["a4"] >= offer["fewest"] >= 1


def test_profiles_show_where_settings_came_from(run, tmp_path, monkeypatch):
    code, out, _ = run("profiles", "papers")
    assert code == 0
    assert "iso_a4_210x297mm" in out
    assert run("profiles", "--copy-to", tmp_path / "mine")[0] == 0
    assert (tmp_path / "mine" / "papers.toml").is_file()
    assert run("profiles", "--copy-to", tmp_path / "mine")[0] == 2, "nothing is overwritten"
    (tmp_path / "measured").mkdir()
    (tmp_path / "measured" / "printers.toml").write_text("# as measured\n", "utf-8")
    assert run("profiles", "papers", "--copy-to", tmp_path / "measured")[0] == 0
    assert sorted(path.name for path in (tmp_path / "measured").iterdir()) == ["papers.toml", "printers.toml"]
    code, out, err = run("profiles", "--copy-to", tmp_path / "measured")
    assert code == 0
    assert [name for name in ("papers", "printers", "presses") if f"{name}.toml" in err] == ["papers", "printers"]
    assert "presses.toml" in out
    assert (tmp_path / "measured" / "printers.toml").read_text("utf-8") == "# as measured\n"
    (tmp_path / "own").mkdir()
    (tmp_path / "own" / "printers.toml").write_text('[careful]\nleft = "4 mm"\n')
    code, out, _ = run("profiles", "printers", "--profiles", tmp_path / "own")
    assert "left 4 mm" in out
    (tmp_path / "own" / "printers.toml").write_text('[careful]\nlfet = "4 mm"\n')
    code, _, err = run("profiles", "--profiles", tmp_path / "own")
    assert code == 2
    for word in ("printers.toml", "careful", "lfet"):
        assert word in err
    monkeypatch.setenv("IMPOSE_PRINTER", "borderless")
    assert "borderless" in run("profiles", "settings")[1]


def test_existing_output_is_left_alone_and_replaced_on_request(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    assert run("sheets", source, "-o", tmp_path / "out")[0] == 0
    code, _, err = run("sheets", source, "-o", tmp_path / "out")
    assert code == 2
    assert "--replace" in err
    assert run("sheets", source, "-o", tmp_path / "out", "--replace")[0] == 0


@pytest.mark.skipif(os.geteuid() == 0, reason="root may write anywhere")
def test_a_folder_that_may_not_be_written_is_5(batch, run, tmp_path):
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    (tmp_path / "locked").mkdir(mode=0o500)
    assert run("sheets", source, "-o", tmp_path / "locked" / "out")[0] == 5


def test_a_full_disk_is_5_and_leaves_nothing(batch, run, tmp_path, monkeypatch):
    import errno

    from impose import files

    def full(path):
        raise OSError(errno.ENOSPC, "No space left on device", str(path))

    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    monkeypatch.setattr(files, "sync_path", full)
    code, _, err = run("sheets", source, "-o", tmp_path / "out")
    assert code == 5
    assert "no space left" in err.lower()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["evening.csv", "owl.png"]


def test_output_that_fails_its_own_check_is_6(batch, run, tmp_path, monkeypatch):
    from impose.pages.pdf import sheet_pages as sheets

    real = sheets.compute_picture_matrix
    monkeypatch.setattr(sheets, "compute_picture_matrix", lambda box, *rest: real(box.move_by(0.3, 0), *rest))
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,1,,,,,"], OWL)
    code, _, err = run("sheets", source, "-o", tmp_path / "out")
    assert code == 6
    assert "own check" in err
    assert not (tmp_path / "out").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGINT to a child there")
def test_interrupted_is_130_and_leaves_nothing(batch, tmp_path):
    """Ctrl-C in the middle: the writer of pages says when it has begun, then dawdles."""
    source = batch(["R-1,Ilka,owl.png,left-chest,youth M,3,,,,,"], OWL)
    script = (
        "import time\n"
        "from impose.pages.pdf import sheet_pages\n"
        "from impose.cli import main\n"
        "def dawdle(*arguments, **more):\n"
        "    print('begun', flush=True)\n"
        "    time.sleep(600)\n"
        "sheet_pages.write_sheets = dawdle\n"
        "main()\n"
    )
    child = subprocess.Popen(
        [sys.executable, "-c", script, "sheets", str(source), "--no-cache"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        # A shell that starts jobs in the background has them ignore Ctrl-C, and children inherit that.
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "begun\n"
    child.send_signal(signal.SIGINT)
    _, err = child.communicate(timeout=LONGEST_S)
    assert child.returncode == 130, err
    assert "Traceback" not in err
    assert sorted(path.name for path in tmp_path.iterdir()) == ["evening.csv", "owl.png"]


def test_help_ends_with_the_order_of_work_and_the_cautions(run):
    code, out, _ = run("--help")
    assert code == 0
    assert out.index("Order of work") < out.index("Take care")
    for word in ("burn", "fumes", "local rules"):
        assert word in out


@pytest.mark.parametrize("number", ["nan", "inf", "-inf"])
def test_seconds_that_are_no_time_are_wrong_use(run, tmp_path, number):
    for command in (("sheets", "no.png", "--width", "5cm", "--seconds"), ("watch", tmp_path / "desk", "--settle")):
        code, _, err = run(*command, number)
        assert code == 2
        assert "Traceback" not in err
    assert not (tmp_path / "desk").exists()


def test_a_long_word_is_not_repeated_whole(run):
    code, _, err = run("check", "x.png", "--orientation", "x" * 5000)
    assert code == 2
    assert "--orientation" in err
    assert max(map(len, err.splitlines())) < 400


@pytest.mark.parametrize(
    "command",
    [
        ("watch", ""), ("desk", "--new", ""), ("sheets", ""), ("sheets", "x.png", "--width", "5cm", "-o", ""),
        ("reprint", "", "--only", "1"), ("reprint", ".", "--list", ""), ("profiles", "--copy-to", ""),
        ("stock", "a4", "--set", "1", "--ledger", ""),
    ],
)  # fmt: skip
def test_an_empty_name_is_not_the_folder_at_hand(run, tmp_path, monkeypatch, command):
    monkeypatch.chdir(tmp_path)
    code, _, err = run(*command)
    assert code == 2
    assert "the name is empty" in err
    assert list(tmp_path.iterdir()) == []


# Several commands of one interpreter, whose streams are set up by the environment as a pipe's are.
COMMANDS = """
import json, os, sys
from impose.cli import main
for words in json.loads(sys.argv[1]):
    try:
        main(words)
    except SystemExit as left:
        assert not left.code, words
    sys.stdout.flush()
    os.write(1, bytes(1))
"""


@pytest.mark.parametrize("page", ["cp1252", "ascii", pytest.param("cp437", marks=pytest.mark.long)])
def test_a_code_page_that_lacks_the_customers_letters_ends_nothing(batch, page):
    """What Windows gives a pipe: the encoding is the system's, and has no Hebrew."""
    source = str(batch(["שלום,Zoë 🦉,owl.png,,adult M,1,60 mm,,,,"], {"owl.png": ("ellipse", 300, 300)}))
    commands = [["check", source], ["quote", source], ["quote", source, "--json"], ["quote", source, "--csv"]]
    done = subprocess.run(
        [sys.executable, "-c", COMMANDS, json.dumps(commands)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": page, "PYTHONUTF8": "0"},
        cwd=Path(__file__).parents[1],
        check=False,
    )
    assert done.returncode == 0, done.stderr
    checked, quoted, as_json, as_csv, rest = done.stdout.split(b"\0")
    assert rest == b""
    assert b"1 picture examined" in checked
    # An ASCII stream is taken for a system that was set up wrongly, and is written in UTF-8.
    assert (b"\\u05e9" if page != "ascii" else "ש".encode()) in quoted
    assert "שלום" in json.loads(as_json)["offers"][0]["money"]["orders"][0]["order"]
    assert "שלום" in as_csv.decode("utf-8")


def test_margins_are_told_in_the_units_asked_for(batch, run):
    """Letter less 3 mm edges is 209.9 mm wide: 8.25 in leave 0.175 mm a side, 0.00689 in; a margin is rounded down."""
    source = batch(["A,,wide.png,,adult M,1,8.25 in,,,,"], {"wide.png": ("noise", 1700, 400)})
    for units, told in (("mm", "0.17 mm"), ("in", "0.006 in")):
        code, out, _ = run("check", source, "-p", "letter", "--units", units, "--keep-upright")
        assert code == 0
        assert f"left and right only {told}, and no tick" in out


def test_version_and_changes(run):
    """Both of the package and the changelog that is shipped; the version of a checkout stands under its heading."""
    from impose import __version__

    code, out, _ = run("--version")
    assert (code, out) == (0, f"impose, version {__version__} (what changed: impose changes)\n")
    code, out, _ = run("changes")
    assert (code, out.splitlines()[0]) == (0, f"impose, version {__version__}")
    assert "## " in out


@pytest.mark.skipif(not Path("/proc/self/task").is_dir(), reason="threads are counted as Linux lists them")
def test_a_command_starts_no_threads_that_wait_at_full_speed(tmp_path):
    """The library of linear algebra in numpy has one thread a core unless it is told; here it is told."""
    script = (
        "import os, atexit\n"
        "from impose.cli import main\n"
        "@atexit.register\n"
        "def count_threads():\n"
        "    import numpy.linalg\n"
        "    print(len(os.listdir('/proc/self/task')))\n"
        "main(['changes'])\n"
    )
    own = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, env=own)
    assert done.stdout.splitlines()[-1:] == ["1"]


def test_the_installed_script_runs_the_command_and_has_garbage_looked_for():
    """What the package names as its script (pyproject.toml), started as that script is."""
    named = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text("utf-8"))
    module, _, name = named["project"]["scripts"]["impose"].partition(":")
    script = (
        f"import atexit, gc, sys\nfrom {module} import {name}\nsys.argv = ['impose', '--version']\n"
        "from impose import cli\nrun = cli._run_command\n"
        "cli._run_command = lambda words: print(gc.isenabled()) or run(words)\n"
        f"{name}()\n"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stdout.splitlines()[0]) == (0, "True"), done.stderr
    assert done.stdout.splitlines()[1].startswith("impose, version ")


def test_a_process_that_is_a_command_ends_with_its_code_when_its_work_is_done():
    """Python is not taken apart first. What the command left to the end (atexit) is done, and its words are read."""
    script = (
        "import atexit, sys\nfrom impose import cli\n"
        "def run(arguments):\n    atexit.register(print, 'of the command')\n    return 5\n"
        "cli._run_command = run\n"
        "atexit.register(print, 'of the program')\n"
        "cli.main(*([[]] if sys.argv[1:] else []))\n"
    )
    for words, want in (((), "of the command\n"), (("embedded",), "of the command\nof the program\n")):
        command = [sys.executable, "-c", script, *words]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert (done.returncode, done.stdout) == (5, want), done.stderr


@pytest.mark.skipif(load_library() is None, reason="there are no compiled loops")
def test_only_a_command_sets_how_its_process_keeps_memory():
    """mallopt(3): it is the whole process's, so that a program that imports the library keeps its own."""
    script = (
        "import ctypes, os, sys\nfrom impose.art.pixel_loops import load_pixel_loops\n"
        "from impose.native import library\n"
        "asked = []\nmade = library.load_library()\n"
        "made.keep_memory = lambda: asked.append(1)\n"
        "if sys.argv[1:]:\n    from impose.cli import main\n    try:\n        main(['changes'])\n"
        "    except SystemExit:\n        pass\n"
        "load_pixel_loops()\nprint(len(asked))\n"
    )
    own = {name: value for name, value in os.environ.items() if name != KEEP_MEMORY}
    for words, want in (((), "0"), (("command",), "1")):
        command = [sys.executable, "-c", script, *words]
        done = subprocess.run(command, capture_output=True, text=True, check=False, env=own)
        assert done.stdout.splitlines()[-1:] == [want], done.stderr


@pytest.mark.skipif(load_library() is None, reason="without the compiled loops numpy works out the bounds")
def test_a_batch_whose_artwork_is_in_the_cache_loads_no_numpy(batch, run):
    """It takes longer to load than a small batch takes to nest."""
    source = batch([f"R-{n},Ilka,owl.png,,,{n},{6 * n} mm,,,," for n in (1, 2, 3)], OWL)
    asked = ["sheets", source, "-p", "a4", "-p", "13x19", "--steps", "50", "-q"]
    assert run(*asked)[0] == 0
    script = (
        "import sys, atexit\nfrom impose.cli import main\n"
        "atexit.register(lambda: print(sorted({'numpy', 'rectpack'} & set(sys.modules))))\nmain(sys.argv[1:])"
    )
    done = subprocess.run([sys.executable, "-c", script, *asked], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "['rectpack']"


def test_numbers_that_are_none_are_told_in_plain_words(run, tmp_path):
    for option, number, taken in (
        ("--workers", "0", "from 1 on"), ("--workers", "two", "from 1 on"), ("--steps", "-1", "from 0 on"),
        ("--copies", "1e3", "from 1 to 100,000"), ("--copies", "100001", "from 1 to 100,000"),
    ):  # fmt: skip
        code, _, err = run("quote", tmp_path / "b.csv", option, number)
        assert code == 2
        assert f"“{number}” is not taken. Write a whole number {taken}." in err


def test_an_option_given_twice_is_said(batch, run):
    source = batch(["Ada,Ada,a.png,,,1,60mm,,,,"], {"a.png": ("ellipse", 300, 300)})
    code, _, err = run("quote", source, "-p", "a4", "--steps", "5", "--steps", "6")
    assert code == 0
    assert "--steps is given 2 times; only the last one counts" in err
    assert "is given" not in run("quote", source, "-p", "a4", "-p", "a5", "--steps", "5", "--keep-upright")[2]


def test_very_many_columns_of_an_export_have_one_note(tmp_path, run):
    from conftest import draw

    draw("ellipse", 300, 300).save(tmp_path / "a.png")
    names = [f"field {n}" for n in range(10_000)]
    (tmp_path / "b.csv").write_text(
        f"order,art,width,{','.join(names)},plcement\nAda,a.png,60mm,{','.join('x' * 10_000)},\n", "utf-8"
    )
    code, out, err = run("check", tmp_path / "b.csv", "-v")
    assert code == 0
    assert "this and 9,999 more are not columns" in out + err
    assert "Did you mean “placement”?" in out + err
    assert (out + err).count("unknown-column") == 2
