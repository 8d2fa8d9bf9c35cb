"""Printing for a page or another program: printers listed, sheets checked, sent, followed and taken back.

Nothing here waits: each call does what can be done now and says where every paper stands. Call `send_sheets` again,
once a second or so, until every run has ended, with the `asked_after` of the check the person saw. A sheet is sent
once, whatever crashes or calls in between. What only a person can answer is handed back as a `PrintQuestion`; give the
answer in `PrintWish.answers` by its code.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from impose.errors import Finding, Severity, Trouble
from impose.printing.batch_printer import BatchPrinter, RunState, Standing
from impose.printing.checks import is_accepted
from impose.printing.printer_access import PrintQuestion, refuse_unmarked
from impose.printing.sheet_runs import SheetRun
from impose.run.options import Options
from impose.run.print_session import Person, PrintedRun, PrintWish, open_books
from impose.run.print_sheets import ask_nozzles, make_printed_run, open_batch, settle_left, take_back_runs
from impose.run.printer_listing import ListedPrinter, describe_printer, list_values
from impose.run.printer_listing import list_printers as list_and_listen
from impose.values import FrozenStruct

__all__ = [
    "PrintCheck", "PrintQuestion", "PrintWish", "PrintedRun", "RunState", "Standing",
    "cancel_sheets", "check_sheets", "describe_named_printer", "follow_sheets", "list_printers", "send_sheets",
]  # fmt: skip


class PrintCheck(FrozenStruct):
    """What stands against printing now. `printer` is what it says of itself, empty where it could not be asked.

    A finding of severity warn is agreed to by its kind in `Options.accept`; a stop must be mended. `left` are the
    sheets that would be printed, by paper; `asked_after` is for `send_sheets`, when the person says yes to this.
    """

    printer: Mapping[str, Any]
    left: tuple[tuple[str, tuple[int, ...]], ...]
    findings: tuple[Finding, ...]
    questions: tuple[PrintQuestion, ...]
    asked_after: int

    @property
    def is_clear(self) -> bool:
        """Whether `send_sheets` would send."""
        return not any(finding.severity is not Severity.NOTE for finding in self.findings)


def list_printers(options: Options) -> list[ListedPrinter]:
    """Every printer there is to name: on file, queues, those announced nearby. None of them is asked anything."""
    return list_and_listen(options)[0]


def describe_named_printer(name: str, options: Options, ledger: Path, wish: PrintWish | None = None) -> dict[str, Any]:
    """What a named printer says of itself: paper loaded, ink, edges, state in words. Raises `Trouble`."""
    wish = wish or PrintWish()
    with open_books(ledger) as books:
        person = _make_person(wish, [])
        return describe_printer(name, options, books, person.ask, person.say, wish.trust_again)


def check_sheets(folder: Path, wish: PrintWish, options: Options, ledger: Path) -> PrintCheck:
    """Everything that stands against printing a folder, with nothing sent. Raises nothing that a person could mend."""
    questions: list[PrintQuestion] = []
    person = _make_person(wish, questions)
    printer: dict[str, Any] = {}
    runs: list[SheetRun] = []
    findings: list[Finding] = []
    asked_after = 0
    try:
        with open_batch(folder, wish, options, ledger, person) as press:
            asked_after = press.asked_after
            printer = list_values(press.printer, options)
            findings += _gather_troubles(press, person, runs)
    except Trouble as trouble:
        findings += trouble.findings
    left = tuple((run.paper, tuple(sheet.number for sheet in run.sheets)) for run in runs)
    agreed = [finding for finding in findings if is_accepted(finding, options.accept)]
    return PrintCheck(printer, left, tuple(f for f in findings if f not in agreed), tuple(questions), asked_after)


def _gather_troubles(press: BatchPrinter, person: Person, runs: list[SheetRun]) -> list[Finding]:
    """What stands against the runs that are left, which are put into `runs`; questions are asked of `person`."""
    found: list[Finding] = []
    try:
        refuse_unmarked(press.printer, press.books, person.ask, person.say)
    except Trouble as trouble:
        found += trouble.findings
    runs += settle_left(press, person)
    found += press.list_findings(runs)
    found += [stop for run in runs if (stop := press.find_not_loaded(run)) is not None]
    try:
        ask_nozzles(press, person)
    except Trouble as trouble:
        found += trouble.findings
    return found


def send_sheets(folder: Path, wish: PrintWish, options: Options, ledger: Path, asked_after: int) -> list[PrintedRun]:
    """Do for each paper what can be done now: send, or look how far it is; a paper waits for the one before it.

    Raises `Trouble`: what `check_sheets` finds and nobody has agreed to, a printer that refuses or cannot be reached.
    """
    person = _make_person(wish, [])
    with open_batch(folder, wish, options, ledger, person, asked_after) as press:
        press.printer = refuse_unmarked(press.printer, press.books, person.ask, person.say)
        press.settle_jobs()
        press.check_runs([left for run in press.batch.runs if (left := press.find_unprinted(run)) is not None])
        ask_nozzles(press, person)
        done: list[PrintedRun] = []
        for run in press.batch.runs:
            done.append(make_printed_run(run, press.advance_run(press.find_unprinted(run) or run)))
            if done[-1].state.standing is not Standing.PRINTED:
                break
        return done


def follow_sheets(folder: Path, wish: PrintWish, options: Options, ledger: Path) -> list[PrintedRun]:
    """Where each paper that was begun stands; nothing is sent. Raises `Trouble` where the printer cannot be reached."""
    with open_batch(folder, wish, options, ledger, _make_person(wish, [])) as press:
        found = [(run, press.describe_run(run)) for run in press.batch.runs]
        return [make_printed_run(run, state) for run, state in found if state is not None]


def cancel_sheets(folder: Path, wish: PrintWish, options: Options, ledger: Path) -> list[PrintedRun]:
    """Take back what is on its way and say what became of it. Raises `Trouble` (wrong use) where nothing is."""
    with open_batch(folder, wish, options, ledger, _make_person(wish, [])) as press:
        return take_back_runs(press)


def _make_person(wish: PrintWish, questions: list[PrintQuestion]) -> Person:
    """Answers as the wish does; what it does not answer is noted."""

    def ask(question: PrintQuestion) -> bool | None:
        answer = wish.answers.get(question.code)
        if answer is None:
            questions.append(question)
        return answer

    return Person(ask=ask)
