"""Paper left: right after any mixture of runs, replacements, returns, corrections and kills at every step."""

from __future__ import annotations

import json
import multiprocessing
import os
import shutil
import signal
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule

from impose import files
from impose.errors import Exit, Trouble
from impose.ledger import stock
from impose.ledger.stock import PaperTake
from impose.run.paper_stock import PaperStock, ReturnedSheets, list_replaced, record_hash
from laws import examples

PAPERS = ("iso_a4_210x297mm", "iso_a3_297x420mm")
UNCOUNTED = "na_letter_8.5x11in"
NOW = "2026-01-02T03:04:05+00:00"
IN_MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None  # hundreds of ledgers, each synced at every step
POINTS = ("begin:before", "begin:after", "is_open:before", "put:before", "put:after", "finish:after", "end:before")


def shelf_at(path: Path) -> PaperStock:
    return PaperStock(path, lambda: NOW)


def make(shelf: PaperStock, place: Path, batch: str, takes, replace=False, returning=()) -> None:
    """An output folder as `produce` makes it, its sheets left out."""
    with files.write_new_folder(place, replace, shelf.make_deliver_step(takes, place, batch, returning)) as folder:
        record = {"format": "impose-record/1", "batch": batch, "takes": [[t.sheet, t.paper, t.amount] for t in takes]}
        (folder / files.RECORD_NAME).write_text(json.dumps(record))


def killed_at(point: str, work) -> None:
    """Run `work` in a child that is killed, without any cleaning up, before or after the named step."""
    child = os.fork()
    if child == 0:
        try:
            _arm(point)
            work()
        except BaseException:
            os._exit(3)
        if point == "end:before":
            os.kill(os.getpid(), signal.SIGKILL)
        os._exit(0)
    os.waitpid(child, 0)


def _arm(point: str) -> None:
    name, when = point.split(":")
    if name == "end":
        return
    home, key = (files, "_put_in_place") if name == "put" else (stock, name)
    step = getattr(home, key)

    def armed(*arguments):
        if when == "before":
            os.kill(os.getpid(), signal.SIGKILL)
        result = step(*arguments)
        os.kill(os.getpid(), signal.SIGKILL)
        return result

    setattr(home, key, armed)


@dataclass
class Made:
    """What the model knows of one delivery: its sheets that could still come back, with their paper."""

    record: str
    place: Path
    back: dict[int, tuple[str, int]] = field(default_factory=dict)


TAKES = st.lists(st.tuples(st.sampled_from([*PAPERS, UNCOUNTED]), st.integers(1, 3)), min_size=1, max_size=4)


class StockMachine(RuleBasedStateMachine):
    """A plain model of the pile of paper beside the program's ledger."""

    @initialize()
    def begin(self):
        self.root = Path(tempfile.mkdtemp(dir=IN_MEMORY))
        self.shelf = shelf_at(self.root / "ledger.db")
        self.left: dict[str, int] = {}
        self.made: list[Made] = []
        self.serial = 0
        for paper in PAPERS:
            self.count(paper, 30)

    def teardown(self):
        if hasattr(self, "root"):
            shutil.rmtree(self.root)

    @rule(paper=st.sampled_from(PAPERS), count=st.integers(0, 30))
    def recount(self, paper, count):
        self.count(paper, count)

    def count(self, paper, count):
        self.shelf.change_counts(lambda db, at: stock.set_count(db, paper, count, at, "counted"), first=True)
        self.left[paper] = count
        for one in self.made:  # the pile that was counted held what was never printed
            one.back = {sheet: taken for sheet, taken in one.back.items() if taken[0] != paper}

    @rule(paper=st.sampled_from(PAPERS), change=st.integers(-3, 9))
    def correct(self, paper, change):
        def work(db, at):
            stock.change_count(db, paper, change, at, "add" if change > 0 else "waste", "because")

        if paper in self.left:
            self.shelf.change_counts(work)
            self.left[paper] += change
        else:
            with pytest.raises(KeyError):
                self.shelf.change_counts(work)

    @rule(papers=TAKES, point=st.sampled_from([None, *POINTS]), again=st.booleans(), batch=st.integers(0, 1))
    def run(self, papers, point, again, batch):
        """A new folder, or with `again` the replacement of one; killed at a point, or not."""
        place = self.made[-1].place if again and self.made else self.root / f"out-{self.serial}"
        self.serial += 1
        old = self.newest(record_hash(place), place) if place.exists() else None
        self.deliver(place, f"batch {batch}", papers, point, list_replaced(place), old, None, replace=place.exists())

    @rule(
        papers=TAKES, point=st.sampled_from([None, *POINTS]), of=st.integers(0, 20), sheets=st.sets(st.integers(1, 4))
    )
    def reprint(self, papers, point, of, sheets):
        """A new folder while some sheets of an older record come back as unprinted."""
        could = [one for one in self.made if one.back] or self.made
        if not could:
            return
        record = could[of % len(could)].record
        place = self.root / f"out-{self.serial}"
        self.serial += 1
        returning = [ReturnedSheets(record, None, frozenset(sheets))]
        self.deliver(
            place, f"batch r{self.serial}", papers, point, returning, self.newest(record, None, sheets), sheets
        )

    def newest(self, record, place=None, sheets=None):
        for one in reversed(self.made):
            if (
                one.record == record
                and place in (None, one.place)
                and any(sheets is None or s in sheets for s in one.back)
            ):
                return one
        return None

    def deliver(self, place, batch, papers, point, returning, old, sheets, replace=False):
        takes = [PaperTake(sheet, paper, amount) for sheet, (paper, amount) in enumerate(papers, 1)]
        coming = {} if old is None else {s: t for s, t in old.back.items() if sheets is None or s in sheets}
        drawn = {take.sheet: (take.paper, take.amount) for take in takes if take.paper in self.left}
        after = dict(self.left)
        for paper, amount in coming.values():
            after[paper] += amount
        wanted = {p: sum(a for q, a in drawn.values() if q == p) for p, _ in drawn.values()}
        short = any(after[paper] < amount for paper, amount in wanted.items())
        before = (record_hash(place), place.stat().st_ino if place.exists() else 0)

        def work():
            make(self.shelf, place, batch, takes, replace, returning)

        if point is not None:
            killed_at(point, work)
        elif short:
            with pytest.raises(Trouble) as caught:
                work()
            assert caught.value.exit is Exit.NO_ROOM
        else:
            work()
        arrived = place.exists() and (record_hash(place), place.stat().st_ino) != before
        assert not (short and arrived)
        assert point is not None or short or arrived
        if arrived:
            if old is not None:
                for sheet in coming:
                    del old.back[sheet]
            for paper, amount in wanted.items():
                after[paper] -= amount
            self.left = after
            self.made.append(Made(record_hash(place), place, drawn if self.left else {}))

    @invariant()
    def ledger_is_as_the_pile(self):
        if hasattr(self, "shelf"):
            assert self.shelf.read_left(below_nothing=True) == self.left


TestStock = StockMachine.TestCase
TestStock.settings = settings(
    max_examples=examples(1 / 3),
    stateful_step_count=12,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestStock = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")(TestStock)


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork and SIGKILL")
@pytest.mark.parametrize("point", POINTS)
def test_a_kill_at_every_step_leaves_count_and_folder_in_agreement(tmp_path, point):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 10, at, ""), first=True)
    place = tmp_path / "out"
    killed_at(point, lambda: make(shelf, place, "one", [PaperTake(1, PAPERS[0], 1), PaperTake(2, PAPERS[0], 1)]))
    assert shelf.read_left() == {PAPERS[0]: 8 if place.exists() else 10}
    if not place.exists():
        make(shelf, place, "one", [PaperTake(1, PAPERS[0], 1), PaperTake(2, PAPERS[0], 1)])
    assert shelf.read_left() == {PAPERS[0]: 8}
    assert shelf.read_left() == {PAPERS[0]: 8}


def test_no_file_is_made_before_the_first_count(tmp_path):
    shelf = shelf_at(tmp_path / "deep" / "ledger.db")
    assert shelf.read_left() == {}
    assert shelf.list_movements() == []
    make(shelf, tmp_path / "out", "one", [PaperTake(1, PAPERS[0], 1)])
    assert not (tmp_path / "deep").exists()


def test_a_paper_never_counted_is_not_limited(tmp_path):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 1, at, ""), first=True)
    make(shelf, tmp_path / "out", "one", [PaperTake(sheet, UNCOUNTED, 1) for sheet in range(1, 40)])
    assert shelf.read_left() == {PAPERS[0]: 1}


def test_a_failed_delivery_takes_nothing(tmp_path, monkeypatch):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 5, at, ""), first=True)

    def refused(*_):
        raise PermissionError(13, "Permission denied", "out")

    monkeypatch.setattr(files, "_put_in_place", refused)
    with pytest.raises(PermissionError):
        make(shelf, tmp_path / "out", "one", [PaperTake(1, PAPERS[0], 1)])
    assert shelf.read_left() == {PAPERS[0]: 5}
    assert [path.name for path in tmp_path.iterdir()] == ["ledger.db"]


def _many(root: str, number: int) -> None:
    shelf = shelf_at(Path(root) / "ledger.db")
    for turn in range(5):
        make(shelf, Path(root) / f"out-{number}-{turn}", f"{number} {turn}", [PaperTake(1, PAPERS[0], 1)])


def test_processes_at_once_draw_every_sheet_once(tmp_path):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 100, at, ""), first=True)
    context = multiprocessing.get_context("spawn")
    workers = [context.Process(target=_many, args=(str(tmp_path), number)) for number in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert [worker.exitcode for worker in workers] == [0, 0, 0]
    assert shelf.read_left() == {PAPERS[0]: 85}


def test_the_history_tells_every_movement(tmp_path):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 5, at, "shelf"), first=True)
    make(shelf, tmp_path / "out", "one", [PaperTake(1, PAPERS[0], 1), PaperTake(2, PAPERS[0], 1)])
    make(shelf, tmp_path / "out", "two", [PaperTake(1, PAPERS[0], 1)], True, list_replaced(tmp_path / "out"))
    told = [(one.kind, one.change, one.left) for one in shelf.list_movements()]
    assert told == [("set", 5, 5), ("made", -2, 3), ("returned", 1, 4), ("returned", 1, 5), ("made", -1, 4)]


def test_sheets_that_lay_in_a_counted_pile_do_not_come_back_again(tmp_path):
    shelf = shelf_at(tmp_path / "ledger.db")
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 5, at, ""), first=True)
    make(shelf, tmp_path / "out", "one", [PaperTake(1, PAPERS[0], 1), PaperTake(2, PAPERS[0], 1)])
    shelf.change_counts(lambda db, at: stock.set_count(db, PAPERS[0], 5, at, "none was printed, and five lie here"))
    make(shelf, tmp_path / "out", "two", [PaperTake(1, PAPERS[0], 1)], True, list_replaced(tmp_path / "out"))
    assert shelf.read_left() == {PAPERS[0]: 4}


def test_of_two_that_replace_one_folder_the_later_gives_back_the_paper_of_the_earlier(tmp_path):
    """Both looked at the first folder; the second to come exchanges what the other has put there."""
    shelf, place, (a4, _) = shelf_at(tmp_path / "ledger"), tmp_path / "sheets", PAPERS
    shelf.change_counts(lambda db, at: stock.set_count(db, a4, 100, at, ""), first=True)
    make(shelf, place, "one", [PaperTake(1, a4, 5)])
    coming = list_replaced(place)
    make(shelf, place, "two", [PaperTake(1, a4, 7)], True, coming)
    make(shelf, place, "three", [PaperTake(1, a4, 2)], True, coming)
    assert shelf.read_left() == {a4: 98}


def test_what_lies_at_the_place_is_asked_when_it_is_exchanged(tmp_path, monkeypatch):
    """Another program, with a ledger of its own, exchanges the folder between the drawing down and the exchange."""
    from impose.run import paper_stock as books

    shelf, place, (a4, _) = shelf_at(tmp_path / "ledger"), tmp_path / "sheets", PAPERS
    shelf.change_counts(lambda db, at: stock.set_count(db, a4, 100, at, ""), first=True)
    make(shelf, place, "one", [PaperTake(1, a4, 5)])
    coming, begun, others = list_replaced(place), books._begin_delivery, ["foreign"]

    def overtaken(*arguments):
        answer = begun(*arguments)
        while others:
            make(shelf_at(tmp_path / "none"), place, others.pop(), [], True)
        return answer

    monkeypatch.setattr(books, "_begin_delivery", overtaken)
    make(shelf, place, "two", [PaperTake(1, a4, 7)], True, coming)
    assert shelf.read_left() == {a4: 88}  # the five went with the foreign exchange and may be printed
