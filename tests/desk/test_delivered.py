"""Holding, asking, printing, commands, repeats, paper, pruning: what happens to a delivery and when."""

from __future__ import annotations

import json
import os
import shlex
import stat
import sys
import time
from pathlib import Path

import pytest

import schemas
from desk.fake import png
from impose.desk.batch import find_full_enough
from impose.desk.monitor import leave_request, read_status
from impose.desk.worker_jobs import FailedJob
from impose.errors import Exit, Trouble
from impose.ledger import stock
from impose.values import replace


def status(bed, ledger=None):
    return read_status(bed.places, ledger, bed.time.wall).values


# -- holding --


def test_held_drops_share_a_delivery_when_the_oldest_has_waited_enough(bed):
    bed.start(hold_s=1800.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(600, 5)
    bed.drop("evening.csv", "art,width\nfox.png,80mm\n")
    bed.drop("fox.png", png(2))
    bed.turns(1190, 5)
    assert bed.sheets == []
    assert [one["path"] for one in status(bed)["waiting"]] == ["left-chest/owl.png", "evening.csv"]
    assert "held up to 30 min" in status(bed)["waiting"][0]["why"]
    bed.turns(60, 5)
    assert len(bed.sheets) == 1
    (made,) = bed.maker.made
    assert [parcel.shown for parcel in made.parcels] == ["left-chest/owl.png", "evening.csv"]
    assert sorted(p.name for p in (bed.places.done / bed.sheets[0]).rglob("*.png")) == ["fox.png", "owl.png"]


def test_held_drops_go_when_their_sheets_are_full_enough_or_a_person_says_so(bed):
    bed.start(hold_s=3600.0, fill=0.85)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(30)
    assert bed.sheets == []
    bed.maker.yields = 0.9
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(10)
    assert bed.sheets == ["left-chest"]
    bed.maker.yields = 0.1
    bed.drop("left-chest/hen.png", png(3))
    bed.turns(30)
    leave_request(bed.places, "make-now")
    bed.turns(5)
    assert bed.sheets == ["hen", "left-chest"]
    bed.drop("left-chest/bat.png", png(4))
    bed.turns(30)
    assert bed.sheets == ["hen", "left-chest"], "the wish was for what waited then"


def test_what_waits_survives_a_restart(bed):
    bed.start(hold_s=1800.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(900, 5)
    bed.start()
    bed.turns(880, 5)
    assert bed.sheets == []
    bed.turns(60, 5)
    assert bed.sheets == ["owl"]


def test_a_folder_may_have_a_hold_of_its_own(bed):
    bed.drop("slow/desk.toml", 'placement = "left-chest"\nhold = "10m"\n')
    bed.drop("slow/owl.png", png(1))
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(10)
    assert bed.sheets == ["fox"]
    bed.turns(640, 10)
    assert bed.sheets == ["fox", "owl"]


@pytest.mark.parametrize(
    ("shares", "going"),
    [
        ([(0.9, {1, 2})], {1, 2}),
        ([(0.8, {1, 2})], set()),
        ([(0.9, {1}), (0.2, {2})], {1}),
        ([(0.9, {1, 2}), (0.2, {2})], set()),  # 2 must stay, so the first sheet would not be full
        ([(0.9, {1, 2}), (0.9, {2, 3}), (0.1, {3}), (0.95, {4})], {4}),
        ([], set()),
    ],
)
def test_a_drop_is_never_split_and_a_sheet_counts_only_if_all_of_it_goes(shares, going):
    assert find_full_enough([(y, frozenset(d)) for y, d in shares], 0.85) == going


# -- asking --


def test_a_delivery_with_warnings_waits_for_a_person(bed):
    bed.start(ask=True)
    bed.maker.warnings = ["owl.png: only 90 pixels per inch."]
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(6)
    assert bed.sheets == []
    (asked,) = status(bed)["asking"]
    assert asked["warnings"] == ["owl.png: only 90 pixels per inch."]
    assert (Path(asked["folder"]) / "batch.json").exists()
    bed.start()
    bed.turns(6)
    assert bed.sheets == [], "it waits over a restart"
    bed.drop("left-chest/fox.png", png(2))
    bed.maker.warnings = []
    bed.turns(6)
    assert bed.sheets == ["fox"], "and stops nobody else"
    leave_request(bed.places, "accept", asked["number"])
    bed.turns(2)
    assert bed.sheets == ["fox", "owl"]


def test_a_run_with_once_leaves_what_asks_for_another(bed):
    bed.start(ask=True, once=True, hold_s=0.0)
    bed.maker.warnings = ["thin lines"]
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(30)
    assert status(bed)["asking"]
    assert bed.watch._is_finished()
    assert str(bed.root) in "".join(bed.said), "the desk's own path, to be pasted"


def test_a_delivery_that_is_rejected_goes_to_the_refused(bed):
    bed.start(ask=True)
    bed.maker.warnings = ["thin lines"]
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(6)
    leave_request(bed.places, "reject", status(bed)["asking"][0]["number"])
    bed.turns(4)
    assert bed.refused == ["owl.png"]
    assert "thin lines" in bed.why("owl.png")
    assert bed.sheets == []


# -- printing and commands --


def pdfs(folder):
    return sorted(path for path in folder.rglob("*.pdf"))


def test_the_print_folder_gets_each_sheets_pdf_once_and_nothing_else(bed, tmp_path):
    prints = tmp_path / "print"
    prints.mkdir()
    bed.start(print_folder=prints)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(6)
    (pdf,) = pdfs(prints)
    assert pdf.parent.name == "a4"
    assert pdf.name.startswith("owl-1-")
    assert [path.name for path in prints.rglob("*") if path.is_file()] in ([pdf.name, ".mark"], [".mark", pdf.name])
    if os.name != "nt":  # another machine of the shop must be able to read it
        assert (prints / ".impose" / ".mark").stat().st_mode & 0o777 == 0o644
    pdf.unlink()  # as a printing program does
    bed.start()
    bed.turns(30)
    assert pdfs(prints) == []


def test_a_mistyped_print_folder_is_not_made_up(bed, tmp_path):
    with pytest.raises(Trouble, match="prnit is not there") as told:
        bed.start(print_folder=tmp_path / "prnit")
    assert told.value.exit is Exit.USAGE
    assert not (tmp_path / "prnit").exists()


@pytest.mark.skipif(os.name == "nt", reason="a shell script")
def test_a_command_runs_for_each_delivery_and_again_until_it_succeeds(bed, tmp_path):
    script = tmp_path / "then.sh"
    script.write_text(
        f'#!/bin/sh\necho "$1|$2|$IMPOSE_DELIVERY|$3" >> {tmp_path}/log\n'
        f"[ $(wc -l < {tmp_path}/log) -ge 3 ] || {{ echo no luck; exit 7; }}\n"
    )
    script.chmod(script.stat().st_mode | stat.S_IXUSR)
    bed.start(command=(str(script), "a word; $HOME"))
    bed.drop("left-chest/owl.png", png(1))
    for _ in range(400):
        bed.turns(0.5)
        if bed.watch._desk.calls._running:
            bed.watch._desk.calls._running[1].process.wait()
        if not bed.look(lambda drops: drops.list_commands()) and bed.sheets:
            break
    lines = (tmp_path / "log").read_text().splitlines()
    mark = bed.places.read_identity()
    assert lines == [f"a word; $HOME|{mark}-1|{mark}-1|{bed.places.sheets / 'owl'}"] * 3, "no shell, a stable id"
    assert any("code 7. no luck" in line for line in bed.said)


def test_a_command_that_cannot_start_blocks_nobody(bed):
    bed.start(command=("/does/not/exist",))
    for number in range(2):
        bed.drop(f"left-chest/{number}.png", png(number))
        bed.turns(6)
    assert bed.sheets == ["0", "1"]
    assert [one["delivery"] for one in status(bed)["commands"]] == [1, 2]
    assert "could not be started" in status(bed)["commands"][0]["why"]


def test_a_delivered_folder_is_written_down_before_its_command_runs(bed, tmp_path):
    bed.start(command=(sys.executable, "-c", f"import sys; open({str(tmp_path / 'seen')!r}, 'w').write(sys.argv[2])"))
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(6)
    bed.watch._desk.calls._running[1].process.wait()
    assert json.loads((Path((tmp_path / "seen").read_text()) / "batch.json").read_text())["format"]


# -- repeats --


def test_the_same_dropped_again_is_made_again_with_a_note(bed):
    for _ in range(2):
        bed.drop("left-chest/owl.png", png(1))
        bed.turns(6)
    assert bed.sheets == ["owl", "owl-2"]
    assert bed.maker.made[0].parcels[0].again == ""
    assert bed.maker.made[1].parcels[0].again == "delivery 1 (owl)"


def test_once_refuses_repeats_but_not_another_wish_for_the_same_picture(bed):
    bed.drop("left-chest/owl.png", png(1))
    watch = bed.start(once=True)
    assert watch.run_watch(bed.lock) is Exit.DONE
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("left-chest/owl (2 copies).png", png(1))
    watch = bed.start()
    assert watch.run_watch(bed.lock) is Exit.REFUSED
    assert bed.sheets == ["owl", "owl-2"]
    assert bed.refused == ["owl.png"]
    assert "made already, in delivery 1" in bed.why("owl.png")


def test_once_ends_with_nothing_to_do_and_leaves_what_is_held(bed):
    bed.start(once=True)
    assert bed.watch.run_watch(bed.lock) is Exit.DONE
    bed.drop("left-chest/owl.png", png(1))
    bed.start(hold_s=3600.0)
    assert bed.watch.run_watch(bed.lock) is Exit.DONE
    assert bed.sheets == []
    bed.time.wall += 4000
    bed.start()
    assert bed.watch.run_watch(bed.lock) is Exit.DONE
    assert bed.sheets == ["owl"]


def test_once_gives_up_on_a_full_disk_with_the_code_of_the_system(bed):
    bed.maker.trouble = "No space left on device"
    bed.drop("left-chest/owl.png", png(1))
    bed.start(once=True)
    assert bed.watch.run_watch(bed.lock) is Exit.SYSTEM
    assert len(bed.look(lambda drops: drops.list_drops("waiting"))) == 1


@pytest.mark.parametrize("comes", [False, True])
@pytest.mark.parametrize("whole", [False, True])
def test_once_waits_for_what_may_still_come_and_then_refuses_what_lacks_it(bed, whole, comes):
    """A picture that says no size waits for its list, one that is cut short for its end; the run is not over before."""
    name = "owl.png" if whole else "left-chest/owl.png"
    bed.drop(name, png(1) if whole else png(1)[:-20])
    watch = bed.start(once=True)
    real, slept, come = bed.world.sleep, [], []

    def sleep(seconds):
        real(seconds)
        slept.append(seconds)
        if comes and not come and sum(slept) > 4:
            come.append(bed.drop(*(("orders.csv", "art,width\nowl.png,80 mm\n") if whole else (name, png(1)))))

    watch.world = replace(watch.world, sleep=sleep)
    assert watch.run_watch(bed.lock) is (Exit.DONE if comes else Exit.REFUSED)
    assert (len(bed.sheets), bed.refused) == ((1, []) if comes else (0, ["owl.png"]))
    assert bed.inbox == []


@pytest.mark.parametrize("full", [1, 2, 3])
def test_once_tries_three_times_while_the_disk_is_full(bed, full):
    real, tried = bed.maker._make, []

    def make(request):
        tried.append(request)
        return FailedJob("system", common="No space left on device") if len(tried) <= full else real(request)

    bed.maker._make = make
    bed.drop("left-chest/owl.png", png(1))
    bed.start(once=True)
    assert bed.watch.run_watch(bed.lock) is (Exit.DONE if full < 3 else Exit.SYSTEM)
    assert bed.sheets == (["owl"] if full < 3 else [])
    assert len(tried) == min(full + 1, 3)


# -- stopping --


def test_stop_finishes_what_is_at_hand(bed):
    watch = bed.start()
    bed.drop("left-chest/owl.png", png(1))
    real = bed.world.sleep

    def sleep(seconds):
        real(seconds)
        if watch._desk.bench.making is not None:
            watch.ask_to_stop()

    watch.world = replace(watch.world, sleep=sleep)
    assert watch.run_watch(bed.lock) is Exit.DONE
    assert bed.sheets == ["owl"]


def test_a_stop_asked_while_nobody_watched_does_not_end_the_next_watcher(bed):
    leave_request(bed.places, "stop")
    bed.drop("left-chest/owl.png", png(1))
    assert bed.start(once=True).run_watch(bed.lock) is Exit.DONE
    assert bed.sheets == ["owl"]


def test_stop_puts_back_what_takes_too_long(bed):
    watch = bed.start()
    bed.maker.hand_out_replies = lambda now: False
    bed.drop("left-chest/owl.png", png(1))
    real, asked = bed.world.sleep, []

    def sleep(seconds):
        real(seconds)
        if watch._desk.bench.making is not None and not asked:
            asked.append(bed.time.now)
            watch.ask_to_stop()

    watch.world = replace(watch.world, sleep=sleep)
    assert watch.run_watch(bed.lock) is Exit.DONE
    assert 10.0 <= bed.time.now - asked[0] <= 11.5
    (drop,) = bed.look(lambda drops: drops.list_drops("waiting"))
    assert drop.tries == 0
    assert list(bed.places.work.glob("make-*")) == []


# -- paper, pruning, being seen --


def test_paper_is_drawn_down_once_for_each_delivery(bed, monkeypatch):
    bed.start()
    with bed.watch._desk.ledger.begin_change() as db:
        stock.set_count(db, "iso_a4_210x297mm", 2, "now", "counted")
    real = bed.maker._make

    def make(request):
        reply = real(request)
        reply.facts["takes"] = [[1, "iso_a4_210x297mm", 1]]
        return reply

    bed.maker._make = make
    for number in range(3):
        bed.drop(f"left-chest/{number}.png", png(number))
        bed.turns(6)
    assert bed.sheets == ["0", "1"]
    assert status(bed)["paper"] == [{"paper": "iso_a4_210x297mm", "left": 0, "shown": "0 sheets"}]
    assert bed.maker.made[1].options.limits == {"iso_a4_210x297mm": 1}
    assert any("too little of iso_a4_210x297mm" in line for line in bed.said)
    with bed.watch._desk.ledger.begin_change() as db:
        stock.set_count(db, "iso_a4_210x297mm", 5, "later", "bought")
    bed.turns(60)
    assert bed.sheets == ["0", "1", "2"]
    assert status(bed)["paper"][0]["left"] == 4


def test_done_is_pruned_by_age_and_size_only_if_told(bed):
    for number in range(4):
        bed.drop(f"left-chest/{number}.png", png(number, 40))
        bed.turns(6)
    bed.turns(1300, 5)
    assert len(list(bed.places.done.iterdir())) == 4
    size = (bed.places.done / "0" / "0.png").stat().st_size
    bed.start(keep_done_bytes=2 * size + 20)
    bed.turns(2)
    assert len(list(bed.places.done.iterdir())) == 2
    bed.time.wall = time.time() + 100 * 86400
    bed.start(keep_done_bytes=None, keep_done_s=90 * 86400.0)
    bed.turns(7200, 60)
    assert list(bed.places.done.iterdir()) == []
    assert len(bed.sheets) == 4


def test_the_heartbeat_says_who_watches_and_what_waits(bed):
    bed.start()
    bed.drop("owl.png", png(1))
    bed.turns(20)
    seen = status(bed)
    assert seen["watcher"]["state"] == "watching"
    assert seen["watcher"]["pid"] == os.getpid()
    (waiting,) = seen["inbox"]
    assert waiting["path"] == "owl.png"
    assert 0 < waiting["refused_in_s"] <= 60
    schemas.strict("desk")(seen)
    bed.time.wall += 3600
    assert status(bed)["watcher"]["state"] == "silent"
    bed.watch._close_all()
    assert status(bed)["watcher"]["state"] == "stopped"


@pytest.mark.skipif(os.name == "nt", reason="its shell quotes otherwise")
def test_what_to_type_can_be_pasted(run, tmp_path):
    desk = tmp_path / "Ada's desk"
    for command in (("--new",), ()):
        out = run("desk", *command, desk)[1]
        typed = out[out.index("start with: ") :].removeprefix("start with: ").splitlines()[0]
        # How a POSIX shell parts words: the standard library's own reading of it.
        assert shlex.split(typed) == ["impose", "watch", str(desk)]
    code, _, err = run("desk", tmp_path / "no desk")
    assert code == 2
    assert shlex.split(err.partition("Make one with: ")[2]) == ["impose", "desk", "--new", str(tmp_path / "no desk")]


def test_status_for_a_person_names_what_matters(bed):
    bed.drop("left-chest/owl.png", png(1))
    bed.drop("moving.gif", b"GIF89a")
    bed.turns(8)
    text = "\n".join(read_status(bed.places, None, bed.time.wall).list_lines())
    assert "watched by process" in text
    assert "delivered: owl, number 1" in text
    assert "refused: moving.gif" in text


@pytest.mark.parametrize("there", ["nothing", "an empty folder", "a folder", "a file"])
@pytest.mark.parametrize("drops", [1, 2])
def test_originals_go_into_done_whatever_somebody_has_put_there(bed, there, drops):
    """Nothing of anybody's is replaced, and nothing waits for ever."""
    bed.start()
    for number in range(drops):
        bed.drop(f"left-chest/owl {number}.png", png(number))
    while not (begun := bed.look(lambda found: found.list_deliveries("made", "making", "delivered"))):
        bed.turns(0.5)
    target = bed.places.done / begun[0].done
    if there == "a file":
        target.write_text("mine")
    elif there != "nothing":
        target.mkdir()
        if there == "a folder":
            (target / "mine.txt").write_text("mine")
    bed.turns(12)
    found = sorted(path.name for path in bed.places.done.rglob("*.png"))
    assert found == [f"owl {number}.png" for number in range(drops)]
    assert bed.look(lambda found: found.list_deliveries("made", "making", "delivered")) == []
    mine = [path.read_text() for path in bed.places.done.rglob("*") if path.is_file() and path.suffix != ".png"]
    assert mine == (["mine"] if there in ("a folder", "a file") else [])


def test_what_is_gone_from_the_inbox_is_forgotten(bed):
    """A desk runs for months: what it remembers of a file goes with the file."""
    bed.start(patience_s=600.0)
    for number in range(3):
        bed.drop(f"club-{number}.csv", "art,width\nowl.png,5cm\n")
    bed.turns(8)
    intake = bed.watch._desk.intake
    assert len(intake._tables) == 3
    for number in (0, 2):
        (bed.places.inbox / f"club-{number}.csv").unlink()
    bed.turns(4)
    assert [path.name for path in intake._tables] == ["club-1.csv"]
    (bed.places.inbox / "club-1.csv").unlink()
    bed.turns(4)
    assert intake._tables == {}
