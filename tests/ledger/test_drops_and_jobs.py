"""What is written down of drops, printers and made records, as their docstrings promise: each a few lines in memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from impose.ledger import made_records
from impose.ledger.drop_rows import DROPS, HeldFile, PrintJob, WantedDrop
from impose.ledger.drops import DropLedger
from impose.ledger.made_records import MADE_RECORDS, MadeAgain, MadePrint, MadeRecord, NewBlank
from impose.ledger.print_jobs import NEVER_SENT, PRINT_JOBS, KnownPrinter, PrinterJob, PrintLedger, find_printed_sheets
from impose.ledger.store import open_ledger
from impose.values import replace


@pytest.fixture
def ledger(tmp_path: Path):
    with open_ledger(tmp_path / "l.db", [DROPS, PRINT_JOBS, MADE_RECORDS]) as opened:
        yield opened


@pytest.fixture
def desk(ledger) -> DropLedger:
    return DropLedger(ledger)


def claim(desk: DropLedger, *names: str) -> list[int]:
    wanted = [WantedDrop(name, "art", (HeldFile(name, name),), {"width": 60}) for name in names]
    numbers = desk.begin_claims(wanted, 1.0)
    desk.close_claims({number: (f"hash of {name}", "same") for number, name in zip(numbers, names, strict=True)})
    return numbers


def test_a_drop_goes_from_claiming_over_waiting_and_making_to_delivered(desk):
    numbers = claim(desk, "a.png", "b.png")
    assert len(set(numbers)) == 2
    assert [drop.path for drop in desk.list_drops("waiting")] == ["a.png", "b.png"]
    delivery = desk.begin_delivery(numbers, "out", "done", 2.0)
    assert [drop.id for drop in desk.list_delivery_drops(delivery)] == numbers
    assert desk.count_drops("making") == 2
    prints = [PrintJob(delivery, "sheets.pdf", "a4", "sheets.pdf", "due")]
    # Not before it lies whole in the work folder.
    desk.record_delivered(delivery, prints, True, 3.0)
    assert desk.count_drops("delivered") == 0
    desk.record_made(delivery, {"transfers": 2}, asking=False)
    asked: list[object] = []
    desk.record_delivered(delivery, prints, True, 4.0, asked.append)
    assert desk.count_drops("delivered") == 2
    assert len(asked) == 1
    (kept,) = desk.list_deliveries("delivered")
    assert (kept.id, kept.delivered_at, kept.made) == (delivery, 4.0, {"transfers": 2})
    # Said twice, it is done once.
    desk.record_delivered(delivery, prints, True, 9.0, asked.append)
    assert len(asked) == 1
    desk.close_delivery(delivery)
    assert [kept.id for kept in desk.list_deliveries("closed")] == [delivery]


def test_a_delivery_with_warnings_waits_for_a_person(desk):
    (number,) = claim(desk, "a.png")
    delivery = desk.begin_delivery([number], "out", "done", 2.0)
    desk.record_made(delivery, {}, asking=True)
    assert not desk.accept_warnings(delivery + 1)
    assert desk.accept_warnings(delivery)
    assert not desk.accept_warnings(delivery)
    assert [kept.accepted for kept in desk.list_deliveries("made")] == [True]


def test_a_delivery_that_will_not_be_leaves_its_drops_waiting(desk):
    numbers = claim(desk, "a.png", "b.png")
    delivery = desk.begin_delivery(numbers, "out", "done", 2.0)
    desk.release_delivery(delivery)
    assert [(drop.id, drop.delivery) for drop in desk.list_drops("waiting")] == [(number, None) for number in numbers]
    assert desk.read_delivery(delivery) is None


def test_what_was_closed_before_a_time_is_forgotten_and_nothing_else(desk):
    """Before: what was closed at that very time stays, and so does what is still open."""
    old, then, new, waiting = claim(desk, "old.png", "then.png", "new.png", "waiting.png")
    for number, at in ((old, 9.0), (then, 10.0), (new, 11.0)):
        desk.begin_refusal(number, "no picture", "x")
        desk.close_refusal(number, at)
    desk.forget_closed(10.0)
    assert [desk.has_drop(number) for number in (old, then, new, waiting)] == [False, True, True, True]


def test_a_delivery_is_forgotten_with_its_last_drop_once_it_is_closed(desk):
    numbers = claim(desk, "a.png", "b.png")
    closed, called = (desk.begin_delivery([number], "out", "done", 2.0) for number in numbers)
    for delivery, call in ((closed, False), (called, True)):
        desk.record_made(delivery, {}, asking=False)
        desk.record_delivered(delivery, (), call, 3.0)
        desk.close_delivery(delivery)
    desk.forget_closed(5.0)
    assert desk.list_drops("delivered") == []
    assert desk.read_delivery(closed) is None
    assert desk.read_delivery(called) is not None, "its command has not been called yet"


JOB = PrinterJob(0, "sha", "sheets.pdf", (1, 2), "ipp://p", "AB12", None, "begun", "")


def test_a_printers_facts_are_remembered_and_replaced(ledger):
    jobs = PrintLedger(ledger)
    assert jobs.read_printer("ipp://p") == KnownPrinter("ipp://p")
    known = KnownPrinter("ipp://p", "cert", True, "stationery-inkjet", "straight", "2026-11-29", "evening")
    jobs.remember_printer(known)
    assert jobs.read_printer("ipp://p") == known
    jobs.remember_printer(replace(known, nozzles=""))
    assert jobs.read_printer("ipp://p") == replace(known, nozzles="")
    assert jobs.read_printer("ipp://other") == KnownPrinter("ipp://other")


def test_no_two_jobs_have_one_name_and_a_sheet_counts_as_printed_unless_its_job_failed(ledger):
    jobs = PrintLedger(ledger)
    first, second = jobs.begin_job(JOB, "now"), jobs.begin_job(replace(JOB, sheets=(2, 3)), "now")
    assert first.name != second.name
    jobs.move_job(first, "failed", "out of paper", "later")
    assert [job.state for job in jobs.list_jobs_of("sha")] == ["failed", "begun"]
    printed = find_printed_sheets(jobs.list_jobs_of("sha"))
    assert {sheet: job.number for sheet, job in printed.items()} == {2: second.number, 3: second.number}


@pytest.mark.parametrize(
    ("state", "job", "note", "there"),
    [
        ("failed", 7, "cancelled", True),
        ("failed", None, "", False),  # the printer never had it
        ("failed", 7, NEVER_SENT, False),
        ("printed", 7, "", False),
        ("unsure", 7, "", False),
    ],
)
def test_given_up_at_the_printer_is_what_it_had_and_failed(state, job, note, there):
    assert replace(JOB, state=state, job=job, note=note).given_up_there is there


MADE = MadeRecord("sha", "/out", "AB12", "evening", "", "p", 2, 1, "2026-11-29")
PRINT = MadePrint(2, 0, "R-1", "Ilka", "T-shirt", "left chest", "owl.png", 60, 60, "a4", ("T001",), "ilka owl")


def _begin(db, made: MadeRecord) -> int:
    again, blanks = [MadeAgain("sha", "T001", "left chest", "scorched")], [NewBlank("sha", "T-shirt", "Ilka", "torn")]
    return made_records.begin_record(db, made, [PRINT], again, blanks)


def test_a_folder_that_never_got_to_its_place_leaves_nothing(ledger):
    with ledger.begin_change() as db:
        number = _begin(db, MADE)
        assert made_records.find_prints(db, ["ilka"]) == [], "not before the folder is there"
        made_records.remove_open(db, number)
        assert made_records.list_records(db) == []
        for table in ("made_print", "made_again", "made_blank"):
            assert db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] == 0


def test_what_was_made_stays_whatever_is_taken_back(ledger):
    with ledger.begin_change() as db:
        number = _begin(db, MADE)
        made_records.finish_record(db, number)
        assert _begin(db, MADE) == number, "the same record at the same place"
        made_records.remove_open(db, number)
        assert [(made.number, found.wearer) for made, found in made_records.find_prints(db, ["ilka"])] == [
            (number, "Ilka")
        ]
        assert [tuple(vars_of(found)) for found in made_records.count_spoiled(db)] == [("left chest", "scorched", 1)]
        assert made_records.count_blanks(db) == [("T-shirt", "torn", 1)]
        assert made_records.sum_made(db, "2026-11-29") == (2, 1)
        assert made_records.sum_made(db, "2026-11-30") == (0, 0)
        other = _begin(db, replace(MADE, record="other"))
        made_records.finish_record(db, other)
        assert {made.number: made.state for made in made_records.list_records(db)} == {
            number: "replaced", other: "made"
        }  # fmt: skip


def vars_of(found: made_records.SpoiledCount) -> tuple[str, str, int]:
    return found.placement, found.because, found.prints
