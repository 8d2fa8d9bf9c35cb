"""The figures that the desk's pages and docstrings promise, each at its very edge: so long, so large, so many.

They are the program's own rules, told to whoever uses it; where a word such as "longer" or "at most" decides what
happens at the figure itself, that is held too.
"""

from __future__ import annotations

import json
import threading
from types import SimpleNamespace

import pytest

from desk.fake import png
from impose.desk import environment, inbox_rules, monitor, recover
from impose.desk.batch import BatchChooser
from impose.desk.monitor import BEAT_S, leave_request, read_status
from impose.desk.time_slices import finish_steps
from impose.desk.watch_options import WatchOptions
from impose.files import write_new_file
from impose.ledger import stock


def turn(bed) -> None:
    """One look of the watcher, half a second after the last."""
    bed.turns(0.5)


# -- in the inbox ---------------------------------------------------------------------------------------------------


def test_a_file_is_taken_at_the_settle_time_and_not_before(bed):
    bed.start(settle_s=3.0, hold_s=60.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(3.0)
    assert bed.inbox
    turn(bed)
    assert bed.inbox == []


@pytest.mark.parametrize(
    ("files", "seconds"),
    [
        ({"left-chest/half.png": png(1, 200)[:120]}, 30.0),  # ten times the settle time
        ({"half/half (80 mm).png": png(1, 200)[:120]}, 30.0),
        ({"owl.png": png(1)}, 45.0),  # the patience
        ({"left-chest/evening.csv": "art,width\nowl.png,80mm\n"}, 45.0),
        ({"club/evening.csv": "art,width\nowl.png,80mm\n"}, 45.0),
        ({"club/owl.png": png(1)}, 45.0),
        ({"kits.csv": "kit,art\n"}, 45.0),
    ],
)
def test_what_cannot_be_used_is_told_when_it_is_refused_and_is_refused_then(bed, files, seconds):
    bed.start(settle_s=3.0, patience_s=45.0)
    for name, content in files.items():
        bed.drop(name, content)
    bed.turns(seconds - 10.0)
    turn(bed)
    (waiting,) = bed.watch._desk.intake.last.waiting
    assert waiting.within_s == 10.0
    bed.turns(9.5)
    assert bed.refused == []
    turn(bed)
    assert len(bed.refused) == 1
    assert bed.inbox == []


@pytest.mark.parametrize(
    ("settle_s", "once", "seconds"), [(2.0, False, 60), (9.0, False, 90), (2.0, True, 20), (0.5, True, 10)]
)
def test_the_patience_is_a_minute_and_with_once_as_short_as_an_incomplete_file_has(settle_s, once, seconds):
    assert WatchOptions(settle_s=settle_s, once=once).drop_rules().patience_s == seconds


@pytest.mark.parametrize("name", ["left-chest/owl.png", "club/owl (80 mm).png", "evening.csv", "club/evening.csv"])
@pytest.mark.parametrize("over", [False, True])
def test_a_file_of_the_largest_size_is_taken_and_one_byte_more_is_not(bed, monkeypatch, name, over):
    content = b"art,width\nowl.png,80mm\n" + b"\n" * 100 if name.endswith(".csv") else png(1)
    for module in ("sort", "file_integrity"):
        monkeypatch.setattr(f"impose.desk.{module}.LARGEST", len(content) - over)
    bed.drop(name, content)
    if name.endswith(".csv"):
        bed.drop(name.replace("evening.csv", "owl.png"), png(2, 4))
    bed.turns(35)
    assert len(bed.refused) == over
    assert len(bed.sheets) == (not over)


@pytest.mark.parametrize("over", [0, 1])
def test_a_folder_holds_at_most_so_many_files_so_deep(bed, monkeypatch, over):
    """In the documents: 5,000 files; folders one in the other as deep as the system's walk is kept, 32."""
    monkeypatch.setattr("impose.desk.scan.MOST_IN_FOLDER", 3)
    for number in range(3 + over):
        bed.drop(f"many/{number} (80 mm).png", png(number))
    deep = "/".join(["d"] * (31 + over))
    bed.drop(f"deep/{deep}/note.txt", "x")
    bed.drop("deep/owl (80 mm).png", png(9))
    bed.turns(8)
    assert bed.refused == (["deep", "many"] if over else [])
    assert bed.sheets == ([] if over else ["deep", "many"])


def test_a_desk_toml_of_4_kilobytes_is_read_and_no_larger_one(bed):
    for name, size in (("fits", 4096), ("over", 4097)):
        said = 'placement = "left-chest"\n#'
        bed.drop(f"{name}/desk.toml", said + "x" * (size - len(said)))
        bed.drop(f"{name}/{name}.png", png(size))
    bed.turns(8)
    assert bed.sheets == ["fits"]
    assert bed.refused == ["over.png"]
    assert "larger than 4 KB" in bed.why("over.png")


@pytest.mark.parametrize(
    ("said", "seconds"),
    [("90", 90), ("90s", 90), ("45 sec", 45), ("30m", 1800), ("1.5 min", 90), ("2h", 7200), ("7D", 604800)],
)
def test_a_time_is_read_as_it_is_written(said, seconds):
    """Seconds of a minute, minutes of an hour, hours of a day: ISO 80000-3, tables of units beside the SI."""
    assert inbox_rules.parse_span(said, seconds) == seconds
    with pytest.raises(ValueError, match="longer than"):
        inbox_rules.parse_span(said, seconds - 1)
    with pytest.raises(ValueError, match="longer than 3660 days"):
        inbox_rules.parse_span("3661d")
    assert inbox_rules.parse_span("3660d") == 3660 * 86400


@pytest.mark.parametrize(("said", "share"), [("85%", 0.85), ("0.85", 0.85), ("100%", 1.0), ("1", 1.0), (" 1 %", 0.01)])
def test_a_share_is_read_as_it_is_written(said, share):
    assert inbox_rules.parse_share(said) == share
    for wrong in ("0", "0%", "101%", "1.01", "-1", "much"):
        with pytest.raises(ValueError, match="not a share"):
            inbox_rules.parse_share(wrong)


def test_a_size_on_disk_is_read_in_powers_of_a_thousand():
    """IEC 80000-13: the prefixes M, G and T are powers of ten."""
    read = inbox_rules.parse_size
    assert [read("500MB"), read("20 gb"), read("1.5TB")] == [500_000_000, 20_000_000_000, 1_500_000_000_000]
    with pytest.raises(ValueError, match="not a size"):
        read("20")


def test_a_folders_name_has_at_most_80_bytes_and_is_never_empty():
    assert inbox_rules.make_safe_name("a" * 81) == "a" * 80
    assert inbox_rules.make_safe_name("é" * 41) == "é" * 40
    assert inbox_rules.make_safe_name(" ..") == "prints"
    assert inbox_rules.make_safe_name("a/b<c>. ") == "a-b-c-"


# -- making -----------------------------------------------------------------------------------------------------------


def test_what_is_held_goes_when_the_oldest_has_waited_the_hold_and_not_before(bed):
    bed.start(hold_s=60.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(2.5)  # taken
    bed.drop("left-chest/fox.png", png(2))
    bed.turns(59.5)
    assert not bed.maker.open_count
    turn(bed)
    assert bed.watch._desk.bench.making is not None
    turn(bed)
    turn(bed)
    assert len(bed.maker.made[0].parcels) == 2


@pytest.mark.parametrize(("yields", "goes"), [(0.85, True), (0.849, False)])
def test_a_sheet_as_full_as_was_told_is_full(bed, yields, goes):
    bed.start(hold_s=3600.0, fill=0.85)
    bed.maker.yields = yields
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(10)
    assert bed.sheets == (["owl"] if goes else [])


def _choose(count: int, unsure: set[str], waited_s: float, hold_s: float = 0.0) -> int:
    drops = [
        SimpleNamespace(id=n, path=f"a/{n}.png", kind="png", alone=False, grouping="g", claimed_at=0.0,
                        wish={"hold_s": hold_s})
        for n in range(count)
    ]  # fmt: skip
    chooser = BatchChooser(2.0, 1.0, 100, lambda mates, then: None)
    chooser.note_waiting(drops, waited_s, waited_s)  # type: ignore[arg-type]
    return len(chooser.choose_drops(drops, unsure, waited_s))  # type: ignore[arg-type]


def test_a_delivery_has_at_most_a_hundred_drops_and_waits_for_no_more():
    assert _choose(101, set(), 0.0) == 100
    assert _choose(99, {"a"}, 0.0) == 0, "more is arriving beside them"
    assert _choose(100, {"a"}, 0.0) == 100
    assert _choose(99, {"b"}, 0.0) == 99
    assert _choose(99, set(), 0.0, 60.0) == 0, "held"
    assert _choose(100, set(), 0.0, 60.0) == 100


def test_those_that_came_together_wait_for_more_at_most_five_times_the_settle_time():
    assert _choose(2, {"a"}, 9.9) == 0
    assert _choose(2, {"a"}, 10.0) == 2


def test_what_fails_is_tried_again_after_waits_that_double_up_to_five_minutes(bed):
    bed.maker.trouble = "No space left on device"
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(1300, 2.5)
    waits = [line.partition(" in ")[2].partition(" s:")[0] for line in bed.said if "is tried again" in line]
    assert waits[:8] == ["5", "10", "20", "40", "80", "160", "300", "300"]
    assert bed.look(lambda drops: drops.list_drops("waiting"))[0].tries == 0, "it is no fault of the file"


def test_a_delivery_that_takes_exactly_what_is_left_is_made(bed):
    bed.start()
    with bed.watch._desk.ledger.begin_change() as db:
        stock.set_count(db, "iso_a4_210x297mm", 3, "now", "counted")
    real = bed.maker._make

    def make(request):
        reply = real(request)
        reply.facts["takes"] = [[1, "iso_a4_210x297mm", 2], [2, "iso_a4_210x297mm", 1]]
        return reply

    bed.maker._make = make
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(6)
    assert bed.sheets == ["owl"]
    assert read_status(bed.places, None, bed.time.wall).values["paper"][0]["left"] == 0


@pytest.mark.parametrize(("state", "soon"), [("held", False), ("held and making", True), ("not held", True)])
def test_only_what_is_held_and_not_begun_keeps_no_run_waiting(bed, state, soon):
    bed.start(hold_s=0.0 if state == "not held" else 60.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(2.0)
    assert not bed.watch._desk.bench.has_work_soon()
    if state != "not held":
        turn(bed)
    else:  # taken, and not begun in the same turn
        bed.maker.queue_request(None, None)
        turn(bed)
        bed.maker.forget_requests()
    if state == "held and making":
        leave_request(bed.places, "make-now")
        turn(bed)
        assert bed.watch._desk.bench.making is not None
    assert bed.watch._desk.bench.has_work_soon() is soon


# -- keeping and seeing -----------------------------------------------------------------------------------------------


class _Facts(dict[str, str]):
    def read_fact(self, name: str) -> str | None:
        return self.get(name)

    def write_fact(self, name: str, value: str) -> None:
        self[name] = value


def test_age_counts_once_the_clock_has_gone_for_an_hour_without_a_jump_of_more_than_a_day():
    clock, hour, day = recover.SteadyClock(_Facts()), 3600.0, 86400.0  # type: ignore[arg-type]
    wall = 1e9
    assert not clock.is_steady(wall)
    assert not clock.is_steady(wall + hour - 1)
    assert clock.is_steady(wall + hour)
    clock.compare_clocks(0.0, wall)
    clock.compare_clocks(10.0, wall + 10.0 + day)
    assert clock.is_steady(wall + hour + 10.0), "a day is no jump"
    clock.compare_clocks(20.0, wall + 20.0 - 1.0)
    assert not clock.is_steady(wall + hour + 20.0), "a day and a second is, and counts from then"
    assert not clock.is_steady(wall + 2 * hour + 19.0)
    assert clock.is_steady(wall + 2 * hour + 20.0)


@pytest.mark.parametrize(("pause_d", "steady"), [(2.0, True), (2.001, False), (-1.0, True), (-1.001, False)])
def test_between_two_runs_the_clock_may_go_on_by_two_days_and_back_by_one(pause_d, steady):
    facts = _Facts(clock=f"{1e9 - 3 * 86400.0} 1000000000.0")
    assert recover.SteadyClock(facts).is_steady(1e9 + pause_d * 86400.0) is steady  # type: ignore[arg-type]


@pytest.mark.parametrize(("age_s", "kept"), [(0.0, 1), (-1.0, 0)])
def test_an_original_as_old_as_was_told_is_kept_and_an_older_one_is_not(tmp_path, age_s, kept):
    (tmp_path / "done" / "a").mkdir(parents=True)
    wall = (tmp_path / "done" / "a").stat().st_ctime + 90.0
    finish_steps(recover.prune_done(tmp_path / "done", wall, 90.0 + age_s, None, lambda name: False, lambda text: None))
    assert len(list((tmp_path / "done").iterdir())) == kept


def test_the_heartbeat_is_written_every_five_seconds_and_says_that_nobody_watches_after_a_minute(bed):
    bed.start()
    assert BEAT_S == 5.0, "as the design notes say"
    beats = []
    for _ in range(25):
        turn(bed)
        beats.append(json.loads(bed.places.heartbeat.read_text("utf-8"))["at"])
    assert sorted(set(beats)) == [beats[0], beats[0] + 5.0, beats[0] + 10.0]
    wall = beats[-1]
    seen = [read_status(bed.places, None, wall + s).values["watcher"]["state"] for s in (60.0, 60.5, -60.0, -60.5)]
    assert seen == ["watching", "silent", "watching", "silent"]


def test_done_is_looked_through_every_ten_minutes(bed, monkeypatch):
    looked: list[float] = []
    monkeypatch.setattr("impose.desk.watch.prune_done", lambda *given: looked.append(bed.time.now) or iter(()))
    bed.start(keep_done_bytes=10**9)
    bed.turns(1810.0, 10.0)
    assert [now - looked[0] for now in looked] == [0.0, 600.0, 1200.0, 1800.0]


def test_the_status_shows_20_of_each_and_how_many_more(bed):
    bed.start(hold_s=3600.0)
    for number in range(23):
        bed.drop(f"left-chest/{number:02}.png", png(number))
    bed.turns(4.0)
    status = read_status(bed.places, None, bed.time.wall)
    assert [one["path"] for one in status.values["waiting"]] == [f"left-chest/{n:02}.png" for n in range(20)]
    assert status.values["counts"]["waiting"] == 23
    assert "waiting: 3 more" in status.list_lines()


def test_a_request_left_half_written_is_none(bed):
    bed.start(hold_s=3600.0)
    bed.drop("left-chest/owl.png", png(1))
    bed.turns(4.0)
    bed.places.requests.mkdir(exist_ok=True)
    (bed.places.requests / ".make-now-0.abcd.part").write_bytes(b"")
    bed.turns(4.0)
    assert bed.sheets == []
    with write_new_file(bed.places.requests / "make-now-0") as part:
        part.write_bytes(b"")
    bed.turns(4.0)
    assert bed.sheets == ["owl"]
    assert not (bed.places.requests / "make-now-0").exists(), "it is done once"


def test_whoever_waits_for_a_drop_holds_up_no_end_of_the_program(tmp_path, monkeypatch):
    """A thread that is no daemon is waited for when the interpreter ends (Python's documents: threading)."""
    seen: list[bool] = []
    over = threading.Event()

    def follow(folder, wake, stop) -> None:
        seen.append(threading.current_thread().daemon)
        over.set()

    monkeypatch.setattr(environment, "follow_changes", follow)
    environment.WakeableSleep(tmp_path)
    assert over.wait(60)
    assert seen == [True]


def test_while_the_desks_disk_is_away_the_log_holds_nothing_open_there_and_says_all_the_same(bed):
    heard: list[str] = []
    log = monitor.WatchLog(bed.places, heard.append)
    log("first")
    log("first")
    assert log._handler.stream is not None
    away = bed.root.with_name("away")
    bed.root.rename(away)
    log("second")
    assert log._handler.stream is None
    assert not bed.root.exists()
    away.rename(bed.root)
    log("third")
    log.close()
    assert heard == ["first", "second", "third"]
    written = (bed.places.work / "watch.log").read_text("utf-8").splitlines()
    assert [line.rpartition(" ")[2] for line in written] == ["first", "third"]
