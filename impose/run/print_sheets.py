"""`print`: the sheets of an output folder to a printer, followed to the end; and what printers say of themselves."""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

from impose.errors import Exit, Finding, Trouble
from impose.printing.batch_printer import BatchPrinter, RunState, Standing, number_words, refuse_printed
from impose.printing.printer_access import PrintQuestion, find_named_printer, open_printer, refuse_unmarked
from impose.printing.sheet_runs import PrintBatch, SheetRun, read_batch
from impose.remedies import Remedy
from impose.run.load_batch import load_profiles_in_force
from impose.run.made_work import MadeWork
from impose.run.options import Options
from impose.run.print_session import Person, PrintedRun, PrintWish, RunFollower, open_books
from impose.run.printer_test_page import print_test_page
from impose.run.record_file import RecordFile, read_record
from impose.values import replace


def print_sheets(
    folder: Path, wish: PrintWish, options: Options, ledger: Path, person: Person | None = None
) -> list[PrintedRun]:
    """Print an output folder; what became of each of its papers, in order.

    Raises `Trouble`: printed already (wrong use), a refused record, paper not loaded or not known (no room), a printer
    that cannot be reached (system). What was sent by then is in the ledger, and the next call goes on from there.
    """
    person = person or Person()
    with open_batch(folder, wish, options, ledger, person) as press:
        if wish.cancel:
            return take_back_runs(press)
        press.printer = refuse_unmarked(press.printer, press.books, person.ask, person.say)
        if wish.test:
            press.printer = print_test_page(press.printer, press.batch.runs[0], press.books, options, wish, person)
            words = "Are its heavy words readable and its rulers true? Print the sheets now?"
            if not person.ask(PrintQuestion("page-true", words)):
                return []
        runs = settle_left(press, person)
        for finding in press.check_runs(runs):
            person.say(f"{finding.severity}: {finding}")
        ask_nozzles(press, person)
        done = _print_runs(press, runs, wish, person)
        if press.batch.held and all(run.state.standing is Standing.PRINTED for run in done):
            person.say("These are the first ones off: press them and look at them. Print again for the rest.")
        return done


@contextmanager
def open_batch(
    folder: Path, wish: PrintWish, options: Options, ledger: Path, person: Person, asked_after: int | None = None
) -> Iterator[BatchPrinter]:
    """An output folder at the printer that was named; nothing but questions has gone to it. Raises `Trouble`."""
    source, batch = _read_print_batch(folder, wish)
    profiles = load_profiles_in_force(options)
    if profiles.settings.keep_index:
        MadeWork(ledger).remember_record(source)
    named = find_named_printer(wish.printer or profiles.settings.printer, profiles, os.environ)
    with open_books(ledger) as books:
        if not wish.sheets:
            done = [job for job in books.list_jobs_of(batch.record) if job.state == "printed"]
            batch = batch.hold_rest({number for job in done for number in job.sheets})
        printer = open_printer(named, profiles, books, person.ask, person.say, wish.trust_again)
        now, accepted = person.make_stamp, options.accept
        yield BatchPrinter(batch, printer, books, now, accepted, wish.again, person.step, asked_after)


def take_back_runs(press: BatchPrinter) -> list[PrintedRun]:
    """Cancel what of the batch is on its way. Raises `Trouble` (wrong use) where nothing is."""
    found = [(run, press.take_back_run(run)) for run in press.batch.runs]
    done = [make_printed_run(run, state) for run, state in found if state is not None]
    if not done:
        what = "nothing of these sheets is on its way to the printer"
        raise Trouble(Finding(what, kind="printed-already", exit=Exit.USAGE))
    return done


def make_printed_run(run: SheetRun, state: RunState) -> PrintedRun:
    """What became of a run, by its paper and sheets."""
    return PrintedRun(run.paper, tuple(sheet.number for sheet in run.sheets), state)


def _read_print_batch(folder: Path, wish: PrintWish) -> tuple[RecordFile, PrintBatch]:
    try:
        source = read_record(folder)
    except Trouble as trouble:
        raise Trouble(replace(f, exit=max(f.exit, Exit.REFUSED)) for f in trouble.findings) from None
    batch = read_batch(source.path, source.path.read_bytes(), wish.sheets)
    if not batch.runs:
        raise Trouble(Finding("there is no sheet in it to be printed", kind="record", file=str(source.path)))
    return source, batch


def settle_left(press: BatchPrinter, person: Person) -> list[SheetRun]:
    """The runs less what is printed, when what was cut short is settled. Raises `Trouble` where nothing is left."""
    batch = press.batch
    press.settle_jobs()
    left = [(run, press.find_unprinted(run)) for run in batch.runs]
    runs = [rest for _, rest in left if rest is not None]
    if not runs:
        waiting = [run for run in batch.runs if _is_on_its_way(press, run)]
        if waiting:
            return waiting
        raise refuse_printed(press.books.list_jobs_of(batch.record))
    for run, rest in left:
        kept = {sheet.number for sheet in rest.sheets} if rest else set()
        done = [sheet.number for sheet in run.sheets if sheet.number not in kept]
        if done:
            person.say(f"note: printed already, or on its way: sheets {number_words(done)}")
    return runs


def _is_on_its_way(press: BatchPrinter, run: SheetRun) -> bool:
    """Whether the printer still has the run, so that it is followed and not sent."""
    numbers = {sheet.number for sheet in run.sheets}
    jobs = press.books.list_jobs_of(press.batch.record)
    return any(job.state == "sent" and numbers & set(job.sheets) for job in jobs)


def _print_runs(press: BatchPrinter, runs: Sequence[SheetRun], wish: PrintWish, person: Person) -> list[PrintedRun]:
    done = []
    for run in runs:
        state = RunFollower(press, run, wish, person).follow_run()
        person.say(state.words)
        done.append(make_printed_run(run, state))
        if state.standing is not Standing.PRINTED:
            break
    return done


def ask_nozzles(press: BatchPrinter, person: Person) -> None:
    """Once an evening: a missing nozzle is a stripe on every garment. The evening lasts till noon."""
    evening = (person.now() - timedelta(hours=12)).date().isoformat()
    books, known = press.books, press.printer.known
    if known.nozzles == evening:
        return
    answer = person.ask(PrintQuestion("nozzle-check", "Did this evening's nozzle check look right?"))
    if answer is None:
        person.say("note: print a nozzle check before the first sheets of an evening")
    elif answer:
        books.remember_printer(replace(books.read_printer(known.address), nozzles=evening))
    else:
        what = "the nozzle check did not look right"
        raise Trouble(Finding(what, Remedy("clean-head"), kind="printer"))
