"""What `print` says, asks and waits for, with a printer that is made up and clocks that are set by hand."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.errors import Exit, Finding, Trouble
from impose.ledger.print_jobs import KnownPrinter
from impose.printing.batch_printer import RunState, Standing, number_words
from impose.run import print_sheets
from impose.run.print_session import LOST_S, POLL_S, STILL_S, Person, PrintWish, RunFollower
from impose.run.print_sheets import ask_nozzles, settle_left, take_back_runs
from impose.values import replace

WAITING, PRINTED = RunState(Standing.WAITING, "printing", sent=True), RunState(Standing.PRINTED, "printed", sent=True)


def make_run(*numbers: int) -> Any:
    return SimpleNamespace(paper="a4", sheets=tuple(SimpleNamespace(number=number) for number in numbers))


def make_press(runs: list[Any], left: dict[int, Any] | None = None, jobs: tuple[Any, ...] = ()) -> Any:
    """A press of some runs: what is left of each by its place (all of it unless said), and the jobs in its books."""
    rest = {id(run): (left or {}).get(at, run) for at, run in enumerate(runs)}
    return SimpleNamespace(
        batch=SimpleNamespace(runs=tuple(runs), record="sha", held=False), settle_jobs=lambda: None,
        find_unprinted=lambda run: rest[id(run)], books=SimpleNamespace(list_jobs_of=lambda record: jobs),
        take_back_run=lambda run: rest[id(run)],
    )  # fmt: skip


def make_job(state: str, *sheets: int) -> Any:
    return SimpleNamespace(state=state, sheets=sheets, note="")


def test_what_is_printed_already_is_told_and_what_is_left_goes_on() -> None:
    said: list[str] = []
    whole, part, done = make_run(1, 2), make_run(3, 4, 5), make_run(6, 7)
    rest = make_run(4)
    press = make_press([whole, part, done], {1: rest, 2: None})
    assert settle_left(press, Person(say=said.append)) == [whole, rest]
    assert said == [
        "note: printed already, or on its way: sheets 3,5", "note: printed already, or on its way: sheets 6-7"
    ]  # fmt: skip
    said.clear()
    assert settle_left(make_press([whole]), Person(say=said.append)) == [whole]
    assert said == []


def test_where_nothing_is_left_what_is_on_its_way_is_followed_and_else_it_is_refused() -> None:
    runs = [make_run(1, 2), make_run(3)]
    on_its_way = make_press(runs, {0: None, 1: None}, (make_job("printed", 1, 2), make_job("sent", 3)))
    assert settle_left(on_its_way, Person()) == runs[1:]
    printed = make_press(runs, {0: None, 1: None}, (make_job("printed", 1, 2), make_job("printed", 3)))
    with pytest.raises(Trouble) as caught:
        settle_left(printed, Person())
    assert caught.value.exit is Exit.USAGE
    assert [number_words(numbers) for numbers in ([3, 1, 2], [1, 3, 5, 6], [7], [])] == ["1-3", "1,3,5-6", "7", ""]


def test_what_is_on_its_way_is_taken_back_and_nothing_is_wrong_use() -> None:
    run = make_run(4, 5)
    (done,) = take_back_runs(make_press([make_run(1), run], {0: None, 1: PRINTED}))
    assert (done.paper, done.sheets, done.state) == ("a4", (4, 5), PRINTED)
    with pytest.raises(Trouble, match="nothing of these sheets is on its way") as caught:
        take_back_runs(make_press([run], {0: None}))
    assert caught.value.exit is Exit.USAGE


@pytest.mark.parametrize(
    ("answer", "at", "known", "asked", "kept"),
    [
        (True, datetime(2026, 11, 28, 20), "", True, "2026-11-28"),
        (None, datetime(2026, 11, 28, 20), "2026-11-27", True, None),
        # The evening lasts till noon.
        (True, datetime(2026, 11, 29, 11, 59), "2026-11-28", False, None),
        (True, datetime(2026, 11, 29, 12), "2026-11-28", True, "2026-11-29"),
    ],
)
def test_the_nozzle_check_is_asked_for_once_an_evening(
    answer: bool | None, at: datetime, known: str, asked: bool, kept: str | None
) -> None:
    questions, told, said = [], [], []  # type: ignore[var-annotated]

    def ask(question: Any) -> bool | None:
        questions.append(question.code)
        return answer

    printer = KnownPrinter("ipp://x", nozzles=known)
    books = SimpleNamespace(remember_printer=told.append, read_printer=lambda _: printer)
    press = SimpleNamespace(books=books, printer=SimpleNamespace(known=printer))
    ask_nozzles(cast(Any, press), Person(say=said.append, ask=ask, now=lambda: at))
    assert questions == ["nozzle-check"] * asked
    assert told == ([replace(printer, nozzles=kept)] if kept else [])
    assert bool(said) == (asked and answer is None)


def test_a_nozzle_check_that_did_not_look_right_stops_the_printing() -> None:
    press = SimpleNamespace(books=None, printer=SimpleNamespace(known=KnownPrinter("ipp://x")))
    with pytest.raises(Trouble, match="the nozzle check did not look right"):
        ask_nozzles(cast(Any, press), Person(ask=lambda _: False))


def follow(states: list[Any], wait_s: float | None, said: list[str] | None = None) -> tuple[Any, float]:
    """Follow a run through states, one a poll, the last for ever; what came, and how long it took in seconds."""
    clock, told = [0.0], iter(states)
    last: list[Any] = []

    def advance(_: Any) -> Any:
        state = next(told, last[-1] if last else None)
        last.append(state)
        if isinstance(state, Trouble):
            raise state
        return state

    def sleep(seconds: float) -> None:
        clock[0] += seconds
        assert clock[0] < 3 * STILL_S, "it waits for ever"

    person = Person(say=(said if said is not None else []).append, clock=lambda: clock[0], sleep=sleep)
    press = cast(Any, SimpleNamespace(advance_run=advance))
    try:
        return RunFollower(press, cast(Any, make_run(1)), PrintWish(wait_s=wait_s), person).follow_run(), clock[0]
    except Trouble as trouble:
        return trouble, clock[0]


def test_a_run_is_followed_to_its_end_and_each_change_is_said_once() -> None:
    said: list[str] = []
    busy = RunState(Standing.WAITING, "the printer is busy")
    found, took = follow([busy, busy, WAITING, WAITING, PRINTED], 0.0, said)
    assert found is PRINTED
    assert said == ["the printer is busy", "printing"]
    assert took == 4 * POLL_S


def test_paper_is_waited_for_as_long_as_was_said() -> None:
    stop = Finding("load a3", kind="paper-not-loaded", exit=Exit.NO_ROOM)
    other = RunState(Standing.WAITING, "load a3", loads=stop)
    for wait_s in (0.0, 5.0, 120.0):
        found, took = follow([other], wait_s)
        assert isinstance(found, Trouble)
        assert found.findings == (stop,)
        assert took == pytest.approx(wait_s, abs=POLL_S)
    found, took = follow([other] * 400 + [PRINTED], None)
    assert found is PRINTED, "without end"


def test_a_printer_that_does_not_take_the_job_has_a_minute_or_what_was_said() -> None:
    busy = RunState(Standing.WAITING, "the printer is busy")
    for wait_s, least in ((0.0, LOST_S), (200.0, 200.0)):
        found, took = follow([busy], wait_s)
        assert "does not take the job: the printer is busy" in str(found)
        assert (found.exit, took) == (Exit.SYSTEM, pytest.approx(least, abs=POLL_S))


def test_a_job_that_does_not_move_is_given_ten_minutes() -> None:
    found, took = follow([WAITING], 0.0)
    assert "nothing has changed for 10 minutes: printing" in str(found)
    assert took == pytest.approx(STILL_S, abs=2 * POLL_S)
    moved = replace(WAITING, words="page 2")
    found, took = follow([WAITING] * 1000 + [moved], 0.0)
    assert took == pytest.approx(1000 * POLL_S + STILL_S, abs=2 * POLL_S), "each change begins it anew"


def test_a_printer_that_has_the_job_may_be_silent_for_a_minute_and_no_longer() -> None:
    gone = Trouble(Finding("it does not answer", exit=Exit.SYSTEM))
    assert follow([gone], 0.0) == (gone, 0.0), "before that the person is told at once"
    assert follow([WAITING] + [gone] * 100 + [PRINTED], 0.0)[0] is PRINTED
    found, took = follow([WAITING, gone], 0.0)
    assert found is gone
    assert took == pytest.approx(LOST_S, abs=2 * POLL_S)
    refused = Trouble(Finding("no", exit=Exit.REFUSED))
    assert follow([WAITING, refused], 0.0)[0] is refused


def test_after_a_run_that_did_not_come_out_no_other_is_sent(monkeypatch: pytest.MonkeyPatch) -> None:
    said: list[str] = []
    failed = RunState(Standing.ASKS, "it jammed")
    ends = iter([PRINTED, failed, PRINTED])
    monkeypatch.setattr(print_sheets, "RunFollower", lambda *_: SimpleNamespace(follow_run=lambda: next(ends)))
    runs = [make_run(1), make_run(2), make_run(3)]
    done = print_sheets._print_runs(cast(Any, None), runs, PrintWish(), Person(say=said.append))
    assert [(run.sheets, run.state) for run in done] == [((1,), PRINTED), ((2,), failed)]
    assert said == ["printed", "it jammed"]


def test_the_ledgers_time_is_that_of_the_clock_to_the_second() -> None:
    at = datetime(2026, 11, 28, 20, 15, 7, 999)
    assert Person(now=lambda: at).make_stamp() == "2026-11-28T20:15:07"
    assert (at - timedelta(hours=12)).date().isoformat() == "2026-11-28"


def test_a_folder_without_a_sheet_is_nothing_to_print(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "batch.json").write_text("{}")
    source = SimpleNamespace(path=tmp_path / "batch.json")
    monkeypatch.setattr(print_sheets, "read_record", lambda folder: source)
    monkeypatch.setattr(print_sheets, "read_batch", lambda *_: SimpleNamespace(runs=()))
    with pytest.raises(Trouble, match="there is no sheet in it to be printed"):
        print_sheets._read_print_batch(tmp_path, PrintWish())

    def refuse(_: Path) -> None:
        raise Trouble([Finding("a", exit=Exit.USAGE), Finding("b", exit=Exit.SYSTEM)])

    monkeypatch.setattr(print_sheets, "read_record", refuse)
    with pytest.raises(Trouble) as caught:
        print_sheets._read_print_batch(tmp_path, PrintWish())
    assert [finding.exit for finding in caught.value.findings] == [Exit.REFUSED, Exit.SYSTEM]
