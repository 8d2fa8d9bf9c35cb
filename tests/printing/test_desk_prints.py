"""The desk at a printer: each delivery on paper once, and what needs a person is shown and answered."""

from __future__ import annotations

import json
import os
import signal
from pathlib import Path

import pytest

from desk.fake import make_inline
from impose.printing.ipp_encoding import Tag, make_attribute
from printing.conftest import fork_child, frame_art
from printing.made_up import A4, MadeUpPrinter, size
from waiting import LONGEST_S, wait_until

GET_JOB_ATTRIBUTES = 0x0009
"""RFC 8011, 5.4.15, operations-supported."""

pytestmark = pytest.mark.usefixtures("loopback", "sheets_alone")


@pytest.fixture
def watch(run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Watch a desk once, with one picture dropped the first time."""
    make_inline(monkeypatch)
    monkeypatch.setattr("impose.desk.printer_sink.LOOK_S", 0.05)
    desk = tmp_path / "desk"
    (desk / "in" / "left-chest").mkdir(parents=True)
    frame_art(desk / "in" / "left-chest" / "crest.png", 400, 560)

    def command(printer: MadeUpPrinter) -> tuple[int, str, str]:
        words = ["watch", desk, "--once", "--settle", "0.02", "-p", "a4", "--print-to", printer.address, "--no-cache"]
        return run(*words, "--accept", "low-resolution", "--accept", "straight-edge")

    return desk, command


def test_a_delivery_is_printed_once(watch):
    desk, command = watch
    with MadeUpPrinter() as printer:
        code, _, err = command(printer)
        assert code == 0, err
        (folder,) = (desk / "sheets").iterdir()
        assert printer.documents == [(folder / "sheets-a4.pdf").read_bytes()]
        assert command(printer)[0] == 0
        assert len(printer.documents) == 1


def test_another_paper_waits_and_is_shown_then_prints(watch, run):
    desk, command = watch
    with MadeUpPrinter(
        {"media-col-ready": make_attribute("media-col-ready", Tag.COLLECTION, size(21590, 27940))}
    ) as printer:
        code, _, err = command(printer)
        assert (code, printer.documents) == (5, []), err
        _, out, _ = run("desk", desk)
        assert "210 x 297 mm is not loaded" in out
        ready = make_attribute("media-col-ready", Tag.COLLECTION, A4)
        printer.attributes = tuple(ready if one.name == "media-col-ready" else one for one in printer.attributes)
        assert command(printer)[0] == 0
        assert len(printer.documents) == 1


@pytest.mark.parametrize(("answer", "documents"), [("--printed", 1), ("--print-again", 2)])
def test_a_job_cancelled_at_the_printer_is_asked_about_and_answered(watch, run, answer, documents):
    desk, command = watch

    class Cancels(MadeUpPrinter):
        cancel = True

        def job_group(self, number):
            if self.cancel and self.jobs[number][3]:
                self.jobs[number][1:3] = [7, "job-canceled-at-device"]
            return super().job_group(number)

    with Cancels() as printer:
        assert command(printer)[0] == 5
        _, out, _ = run("desk", desk, "--json")
        (asked,) = json.loads(out)["unprinted"]
        assert "was cancelled" in asked
        assert "--print-again 1" in asked
        assert command(printer)[0] == 5
        assert len(printer.documents) == 1, "never sent again by itself"
        printer.cancel = False
        assert run("desk", desk, answer, "1")[0] == 0
        assert command(printer)[0] == 0
        assert len(printer.documents) == documents


@pytest.mark.parametrize("asked_file", ["sheets-a4.pdf", ""])
def test_a_paper_that_was_not_asked_about_stays_to_be_printed(shop, tmp_path, asked_file):
    """A delivery on two papers: one job may have come out, the other was never sent. “Printed” is of the first."""
    from types import SimpleNamespace

    from impose.desk.printer_sink import PrinterSink

    prints = [SimpleNamespace(file=name) for name in ("sheets-a4.pdf", "sheets-letter.pdf")]
    marked: list[str] = []
    drops = SimpleNamespace(
        ledger=None,
        read_delivery=lambda number: SimpleNamespace(name="a4"),
        list_prints=lambda number: prints,
        set_print=lambda pdf, state: marked.append(pdf.file),
    )
    sink = PrinterSink("studio", tmp_path, None, drops, (), print, print)  # type: ignore[arg-type]
    unsure = [SimpleNamespace(file=asked_file, state="unsure")] if asked_file else []
    sink._books = SimpleNamespace(list_jobs_of=lambda record: unsure, move_job=lambda *words: None)  # type: ignore[assignment]
    sink.answer_print(1, shop, printed=True)
    assert marked == (["sheets-a4.pdf"] if asked_file else ["sheets-a4.pdf", "sheets-letter.pdf"])


def test_a_printer_that_is_away_is_waited_for_and_the_delivery_printed_when_it_is_back(watch, run):
    desk, command = watch
    with MadeUpPrinter() as printer:
        honest, printer.override = printer.override, lambda *_: b""
        assert command(printer)[0] == 5
        assert "cannot be reached" in run("desk", desk)[1]
        printer.override = honest
        assert command(printer)[0] == 0
        assert len(printer.documents) == 1


@pytest.mark.parametrize("told", ["--stop", "SIGTERM"])
def test_a_job_that_does_not_end_is_waited_for_until_told_and_followed_by_the_next_run(watch, run, told):
    """`--once` ends when all is made and on paper; `--stop` and SIGTERM end it before (design/desk.md, Seeing it)."""
    desk, command = watch

    class Prints(MadeUpPrinter):
        at_work = True

        def job_group(self, number):
            if self.at_work and self.jobs[number][3]:
                self.jobs[number][1:3] = [5, "job-printing"]
            return super().job_group(number)

    def count_looks(printer: MadeUpPrinter) -> int:
        return sum(message.code == GET_JOB_ATTRIBUTES for message in list(printer.requests))

    with Prints() as printer:
        child = fork_child(lambda: command(printer)[0])
        try:
            wait_until(lambda: count_looks(printer) > 4, "it looks at the job again and again")
            assert os.waitpid(child, os.WNOHANG) == (0, 0), "it does not end by itself"
            code, shown, err = run("desk", desk)
            assert code == 0, err
            assert "to be printed: crest, number 1, on a4: sheet 1: the job prints" in shown
            assert "TROUBLE" not in shown, "a job at work is no trouble"
            if told == "--stop":
                assert run("desk", desk, "--stop")[0] == 0
            else:
                os.kill(child, signal.SIGTERM)
            _, status = wait_until(lambda: (found := os.waitpid(child, os.WNOHANG))[0] and found, "it ends when told")
            child = 0
        finally:
            if child:
                os.kill(child, signal.SIGKILL)
                os.waitpid(child, 0)
        assert os.waitstatus_to_exitcode(status) == 0
        printer.at_work = False
        printer.jobs[next(iter(printer.jobs))][1:3] = [9, "job-completed-successfully"]
        assert command(printer)[0] == 0
        assert len(printer.documents) == 1, "the next run follows the job, and sends no other"


@pytest.mark.parametrize("point", ["job:answered", "job:sending", "job:received"])
def test_a_desk_killed_while_it_prints_prints_once(watch, point):
    """Before the job's number is known, before its pages go, and when the printer has them and the ledger not."""
    desk, command = watch

    def killed() -> int:
        from impose.desk import printer_sink

        def step(name: str) -> None:
            if name == point:
                os.kill(os.getpid(), signal.SIGKILL)

        real = printer_sink.BatchPrinter
        printer_sink.BatchPrinter = lambda *words, **named: real(*words, **(named | {"step": step}))
        return command(printer)[0]

    with MadeUpPrinter() as printer:
        assert os.waitstatus_to_exitcode(os.waitpid(fork_child(killed), 0)[1]) == -signal.SIGKILL
        assert command(printer)[0] == 0
        (folder,) = (desk / "sheets").iterdir()
        assert printer.documents == [(folder / "sheets-a4.pdf").read_bytes()]


def test_a_silent_printer_holds_the_desk_up_no_longer_than_a_moment(tmp_path, monkeypatch):
    import threading

    from impose.desk.printer_sink import PrinterSink
    from impose.ledger.drops import DROPS, DropLedger, PrintJob
    from impose.ledger.print_jobs import PRINT_JOBS
    from impose.ledger.store import open_ledger
    from impose.printing.batch_printer import RunState, Standing

    heard, answered = threading.Event(), []
    pdf = tmp_path / "sheets-a4.pdf"
    pdf.touch()

    def advance(*asked: object) -> RunState:
        heard.wait(LONGEST_S)
        answered.append(True)
        return RunState(Standing.PRINTED, "")

    with open_ledger(tmp_path / "ledger", [DROPS, PRINT_JOBS]) as ledger:
        sink = PrinterSink("studio", tmp_path, None, DropLedger(ledger), (), print, print)  # type: ignore[arg-type]
        monkeypatch.setattr(sink, "_advance_job", advance)
        steps = sink.drop_pdf(PrintJob(1, "sheets-a4.pdf", "a4", "owl.pdf", "due"), pdf)
        for _ in range(20):
            next(steps)  # each is a chance for the desk to hear a signal, a reply or a drop
        assert answered == [], "none of them waited for the printer's answer"
        heard.set()
        assert all(step is None for step in steps), "and it comes to its end"
