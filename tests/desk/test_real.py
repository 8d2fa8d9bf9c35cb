"""The whole desk with the real maker, as a person runs it: the commands, their files, their exit codes."""

from __future__ import annotations

import hashlib
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import papercheck
from conftest import draw
from desk.fake import make_inline
from impose.desk.worker import ProcessWorkerClient
from impose.run import Options
from impose.values import replace
from waiting import LONGEST_S, wait_until

ROOT = Path(__file__).parents[2]


def impose_alone(*arguments: object) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own, as a person starts it."""
    words = [sys.executable, "-m", "impose", *map(str, arguments)]
    return subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.fixture
def impose(run, monkeypatch):
    """The command in this process, and its sheets too; that they are made in another one is held by other tests."""
    make_inline(monkeypatch)

    def command(*arguments: object) -> subprocess.CompletedProcess[str]:
        code, out, err = run(*arguments)
        return subprocess.CompletedProcess(arguments, code, out, err)

    return command


def test_drops_become_sheets_that_measure_right_and_can_be_found_again(tmp_path, impose):
    desk, prints = tmp_path / "desk", tmp_path / "print"
    inbox = desk / "in"
    (inbox / "left-chest").mkdir(parents=True)
    draw("ellipse", 400, 300, 1).save(inbox / "left-chest" / "owl (3 copies, 90 mm).png")
    draw("words", 300, 300, 2).save(inbox / "left-chest" / "fox.png")
    (inbox / "club").mkdir()
    draw("gradient", 200, 300, 3).save(inbox / "club" / "crest.png")
    (inbox / "club" / "orders.csv").write_text(
        "order,wearer,art,placement,copies\nK-1,Ilka,crest.png,left-chest,2\nK-2,Bo,crest.png,left-chest,1\n", "utf-8"
    )
    prints.mkdir()
    done = impose_alone("watch", desk, "--once", "--settle", "0.2", "--print-folder", prints, "--steps", "50")
    assert done.returncode == 0, done.stderr
    assert sorted(done.stdout.splitlines()) == [str(desk / "sheets" / name) for name in ("club", "left-chest")]
    records = {path.parent: json.loads(path.read_text("utf-8")) for path in desk.glob("sheets/*/batch.json")}
    assert sorted(folder.name for folder in records) == ["club", "left-chest"]
    copies: dict[str, int] = {}
    for folder, record in records.items():
        for sheet in record["sheets"]:
            for transfer in sheet["transfers"]:
                art = Path(record["art_root"]) / transfer["art"]
                assert hashlib.sha256(art.read_bytes()).hexdigest() == transfer["art_sha256"]
                copies[art.name] = copies.get(art.name, 0) + 1
        assert papercheck.faults(folder, Path(record["art_root"])) == []
    assert copies == {"owl (3 copies, 90 mm).png": 3, "fox.png": 1, "crest.png": 3}
    owls = [t for r in records.values() for s in r["sheets"] for t in s["transfers"] if "owl" in t["art"]]
    assert {round(max(t["ink_mm"]["w"], t["ink_mm"]["h"]), 3) for t in owls} == {90.0}
    printed = sorted(path.read_bytes() for path in prints.glob("[!.]*/*"))
    assert printed == sorted(path.read_bytes() for path in desk.glob("sheets/*/sheets-*.pdf"))
    assert impose("watch", desk, "--once", "--settle", "0.1").returncode == 0
    assert len(list(desk.glob("sheets/*"))) == 2


def test_a_watch_inside_a_longer_process_gives_its_signals_back(tmp_path, impose):
    usual = [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)]
    assert impose("watch", tmp_path / "desk", "--once", "--settle", "0.1").returncode == 0
    assert [signal.getsignal(number) for number in (signal.SIGINT, signal.SIGTERM)] == usual


def test_a_delivery_in_parts_is_printed_whole(tmp_path, impose):
    desk, prints = tmp_path / "desk", tmp_path / "print"
    (desk / "in" / "full-back").mkdir(parents=True)
    prints.mkdir()
    draw("ellipse", 400, 300, 1).save(desk / "in" / "full-back" / "owl (2 copies, 170 mm).png")
    options = ["--once", "--settle", "0.1", "--steps", "50", "--part-sheets", "1", "--print-folder", prints, "-p", "a4"]
    done = impose("watch", desk, *options)
    assert done.returncode == 0, done.stderr
    (folder,) = desk.glob("sheets/*")
    files = sorted(path.name for path in folder.glob("sheets-*.pdf"))
    assert len(files) > 1
    record = json.loads((folder / "batch.json").read_text("utf-8"))
    assert [sheet["file"] for sheet in record["sheets"]] == files
    assert papercheck.faults(folder, Path(record["art_root"])) == []
    printed = sorted(path.read_bytes() for path in prints.glob("[!.]*/*"))
    assert printed == sorted(path.read_bytes() for path in folder.glob("sheets-*.pdf"))


def test_what_the_maker_refuses_says_its_row_in_the_dropped_file(tmp_path, impose):
    desk = tmp_path / "desk"
    (desk / "in" / "left-chest").mkdir(parents=True)
    draw("ellipse", 400, 300, 1).save(desk / "in" / "owl.png")
    (desk / "in" / "evening.csv").write_text("art,width,copies\nowl.png,80mm,1\nowl.png,80,1\nowl.png,9mm,0\n", "utf-8")
    draw("ellipse", 90, 90, 1).save(desk / "in" / "left-chest" / "good.png")
    # A film by its first bytes (ISO/IEC 14496-12, 4.3): named as it was dropped, not by a row that nobody wrote.
    (desk / "in" / "left-chest" / "crew.heic").write_bytes(b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + bytes(200))
    done = impose("watch", desk, "--once", "--settle", "0.1", "--steps", "50")
    assert done.returncode == 3
    why = (desk / "refused" / "evening.txt").read_text("utf-8")
    assert "evening.csv, row 3, column width" in why
    assert "evening.csv, row 4, column copies" in why
    why_picture = (desk / "refused" / "crew.heic.txt").read_text("utf-8")
    assert "left-chest/crew.heic was not used" in why_picture
    assert "this is a HEIC photograph" in why_picture
    assert not re.search(r"\brow\b|\bcolumn\b|drop-", why_picture)
    assert "work" not in why, "where it lay when it was read is nobody's business"
    assert (desk / "sheets" / "good" / "batch.json").exists()


def passing(bed, until) -> None:
    """Let simulated time pass while the real maker works in real time.

    It passes 25 times as fast at most, so that the half hour which the maker has for a delivery is more than a minute.
    """
    wait_until(lambda: bed.turns(0.5) or until(), "what the desk was to do")


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_a_picture_that_takes_its_process_down_takes_nothing_else_down(bed):
    bed.maker = ProcessWorkerClient(script=[str(Path(__file__).with_name("deadly.py"))])
    bed.habits = replace(bed.habits, options=Options(steps=20, cache=False))
    for number, name in enumerate(("owl", "crash", "fox")):
        draw("ellipse", 90, 90, number).save(bed.drop(f"left-chest/.{name}.png", b""))
        (bed.places.inbox / f"left-chest/.{name}.png").rename(bed.places.inbox / f"left-chest/{name}.png")
    passing(bed, lambda: bed.refused and len(bed.sheets) == 2)
    assert bed.refused == ["crash.png"]
    assert "signal 11" in bed.why("crash.png")
    assert bed.sheets == ["fox", "owl"]
    (drop,) = bed.look(lambda drops: drops.list_newest("refused", 9))
    assert drop.tries == 3


def test_held_drops_go_when_the_real_sheets_are_full(bed):
    bed.maker = ProcessWorkerClient()
    bed.start(hold_s=1e6, fill=0.6, options=Options(steps=20, cache=False, settings={"papers": ["a4"]}))
    draw("ellipse", 90, 90, 1).save(bed.drop("left-chest/owl (60 mm).png", b""))
    bed.turns(4)
    passing(bed, lambda: bed.watch._desk.bench._chooser._weighed and not bed.maker.open_count)
    bed.turns(10)
    assert bed.sheets == [], "one cell of 88 mm on a sheet of A4"
    draw("ellipse", 90, 90, 2).save(bed.drop("left-chest/fox (5 copies, 60 mm).png", b""))
    passing(bed, lambda: bed.sheets)
    (name,) = bed.sheets
    record = json.loads((bed.places.sheets / name / "batch.json").read_text("utf-8"))
    assert [sheet["yield"] >= 0.6 for sheet in record["sheets"]] == [True] * len(record["sheets"])
    assert len({t["art"] for sheet in record["sheets"] for t in sheet["transfers"]}) == 2


@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_one_watcher_a_desk_and_sigterm_ends_it_cleanly(tmp_path, impose):
    desk = tmp_path / "desk"
    made = impose("desk", "--new", desk)
    assert made.returncode == 0
    watcher = subprocess.Popen(
        [sys.executable, "-m", "impose", "watch", str(desk), "--settle", "0.2", "-q"],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,  # what this process captures is the other commands'
        stderr=subprocess.PIPE,
    )
    try:
        wait_until(lambda: (desk / "work" / "heartbeat.json").exists() or watcher.poll() is not None, "it watches")
        assert watcher.poll() is None
        second = impose("watch", desk)
        assert second.returncode == 2
        assert f"already watched by process {watcher.pid} on " in second.stderr
        draw("ellipse", 90, 90, 1).save(desk / "in" / "left-chest" / ".owl.png")
        (desk / "in" / "left-chest" / ".owl.png").rename(desk / "in" / "left-chest" / "owl.png")
        # The folder is in its place a moment before the ledger says so: what the desk says is waited for.
        read_status = lambda: json.loads(impose("desk", desk, "--json").stdout)  # noqa: E731
        wait_until(lambda: read_status()["delivered"], "the desk says so")
        status = read_status()
        assert (desk / "sheets" / "owl").is_dir()
        assert status["watcher"]["pid"] == watcher.pid
        assert [one["name"] for one in status["delivered"]] == ["owl"]
        watcher.send_signal(signal.SIGTERM)
        assert watcher.wait(LONGEST_S) == 0
    finally:
        watcher.kill()
        watcher.wait()
        watcher.stderr.close()
    assert json.loads(impose("desk", desk, "--json").stdout)["watcher"]["state"] == "stopped"


def test_a_new_desk_has_what_a_person_needs_and_keeps_what_is_there(tmp_path, impose):
    desk = tmp_path / "the evening's desk"
    desk.mkdir()
    (desk / "HOW TO.txt").write_text("mine")
    assert impose("desk", "--new", desk).returncode == 0
    assert (desk / "HOW TO.txt").read_text() == "mine"
    assert (desk / "in" / "left-chest").is_dir()
    for name in ("Start desk.bat", "Start desk.command", "Start desk.desktop", "orders - copy me.csv"):
        assert (desk / name).exists(), name
    if os.name != "nt":
        assert os.access(desk / "Start desk.command", os.X_OK)
        checked = subprocess.run(["sh", "-n", str(desk / "Start desk.command")], check=False)
        assert checked.returncode == 0
    (unit,) = desk.glob("*.service")
    text = unit.read_text("utf-8")
    assert f'"watch" "{desk}"' in text
    assert "KillMode=mixed" in text
    filled = desk / "in" / "evening.csv"
    sheet = (desk / "orders - copy me.csv").read_text("utf-8")
    filled.write_text(sheet + "K-1,Ilka,owl.png,,,left-chest,youth M,1,,,,,,,\n", "utf-8")
    draw("ellipse", 90, 90, 1).save(desk / "in" / "owl.png")
    done = impose("watch", desk, "--once", "--settle", "0.1", "--steps", "50")
    assert done.returncode == 0, done.stderr
    assert (desk / "sheets" / "evening").is_dir()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["watch", "DESK", "--hold", "soon"], "--hold"),
        (["watch", "DESK", "--fill", "120%"], "--fill"),
        (["watch", "DESK", "--then", ""], "--then"),
        (["watch", "DESK", "--keep-done-size", "much"], "--keep-done-size"),
        (["watch", "DESK", "--art", "."], "--art"),
        (["watch", "DESK", "--print-folder", "DESK/in"], "print folder"),
        (["watch", "DESK", "-p", "a44"], "not a paper on file"),
        (["watch", "DESK", "--printer", "nobody"], "not a printer on file"),
        (["watch", "DESK", "--placement", "knee"], "not a placement on file"),
        (["watch", "DESK", "--columns", "TMP/words.toml"], "no table is named after one of our columns"),
        (["watch", "DESK", "--output-profile", "TMP/words.toml"], "the output profile is damaged"),
        (["watch", "DESK", "--scheduler", "tcp://127.0.0.1:1", "--workers", "2"], "both given"),
        (["desk", "DESK/none"], "is not a desk"),
    ],
)
def test_wrong_use_is_said_in_a_sentence(run, tmp_path, words, said):
    (tmp_path / "words.toml").write_text("")
    code, _, err = run(*[word.replace("DESK", str(tmp_path / "desk")).replace("TMP", str(tmp_path)) for word in words])
    assert code == 2
    assert not (tmp_path / "desk").exists(), "nothing is made, and no drop refused, for what the command got wrong"
    assert said in err
    assert "Traceback" not in err


def test_a_column_map_explains_exports_and_leaves_pictures_alone(tmp_path, impose):
    inbox = tmp_path / "desk" / "in"
    (inbox / "left-chest").mkdir(parents=True)
    (tmp_path / "words.toml").write_text('[art]\nfrom = "Design"\n[width]\nfrom = "Size"\n', "utf-8")
    draw("ellipse", 300, 300).save(inbox / "left-chest" / "owl.png")
    draw("ellipse", 300, 300, 1).save(inbox / "fox.png")
    (inbox / "shop.csv").write_text("Design,Size\nfox.png,60 mm\n", "utf-8")
    done = impose("watch", tmp_path / "desk", "--once", "--settle", "0.5", "--columns", tmp_path / "words.toml")
    assert done.returncode == 0, done.stderr
    assert sorted(path.name for path in (tmp_path / "desk" / "sheets").iterdir()) == ["owl", "shop"]


@pytest.mark.long  # of an extra; the way from a scheduler to the same bytes is in tests/run/test_cluster.py
def test_a_desk_may_have_the_workers_of_a_scheduler(tmp_path, impose):
    distributed = pytest.importorskip("distributed")
    inbox = tmp_path / "desk" / "in" / "left-chest"
    inbox.mkdir(parents=True)
    draw("ellipse", 300, 300).save(inbox / "owl.png")
    with distributed.LocalCluster(
        n_workers=1, threads_per_worker=1, processes=True, dashboard_address=":0", silence_logs=50
    ) as cluster:
        done = impose("watch", tmp_path / "desk", "--once", "--settle", "0.2", "--scheduler", cluster.scheduler_address)
    assert done.returncode == 0, done.stderr
    assert [path.name for path in (tmp_path / "desk" / "sheets").iterdir()] == ["owl"]
