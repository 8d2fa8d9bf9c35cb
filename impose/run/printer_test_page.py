"""The page that measures a printer, printed the way the sheets will go; the way is remembered for its readings."""

from __future__ import annotations

from pathlib import Path

from impose.errors import Finding, Trouble
from impose.files import open_scratch_folder
from impose.ledger.print_jobs import KnownPrinter, PrintLedger
from impose.printing.batch_printer import BatchPrinter, Standing
from impose.printing.checks import find_printer_faults, refuse_findings
from impose.printing.ipp_client import parse_address
from impose.printing.printer_access import OpenPrinter
from impose.printing.sheet_runs import PrintBatch, SheetRun
from impose.remedies import Remedy
from impose.run.calibrate import MeasuredPath, write_calibration_page
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.print_session import Person, PrintWish, RunFollower, open_books
from impose.values import replace

ABOUT_TESTS = frozenset({"not-tested", "path-changed"})  # what the page itself is the remedy of


def print_test_page(
    printer: OpenPrinter, run: SheetRun, books: PrintLedger, options: Options, wish: PrintWish, person: Person
) -> OpenPrinter:
    """Print the page that measures the printer on the paper of a run; the printer with the way it went remembered."""
    empty = PrintBatch("TEST", f"test {printer.client.address}", (run,), (), "", (1.0, 1.0), False)
    press = BatchPrinter(empty, printer, books, person.make_stamp, options.accept, True, person.step)
    ticket = press.make_run_ticket(run)
    bare = replace(run, sheets=())  # the page measures the edges, and nothing of worth is cut off
    findings = find_printer_faults(printer.report, bare, ticket, press.find_path(ticket))
    for finding in refuse_findings((f for f in findings if f.kind not in ABOUT_TESTS), options.accept):
        person.say(f"{finding.severity}: {finding}")
    name = printer.named.profile.name if printer.named.profile else "printer"
    with open_scratch_folder() as folder:
        page = write_calibration_page(run.paper, name, folder / "test.pdf", options)
        test = replace(run, pdf=page, sheets=(replace(run.sheets[0], number=0, page=0),), whole=True)
        state = RunFollower(press, test, wish, person).follow_run()
    if state.standing is not Standing.PRINTED:
        raise Trouble(Finding(f"the test page: {state.words}", "Run the same again.", kind="printer"))
    known = _remember_path(printer, ticket.media_type, books, person.now().date().isoformat())
    if printer.named.profile is not None:
        person.say(str(Remedy("read-test-page", printer=name, paper=run.paper)))
    else:
        person.say(str(Remedy("copy-then-read-test-page", address=str(printer.named.address))))
    return replace(printer, known=known)


def _remember_path(printer: OpenPrinter, media_type: str, books: PrintLedger, day: str) -> KnownPrinter:
    """Under the printer's address, and under the queue's that was passed by, since a profile may name either."""
    for address in {str(printer.client.address), str(printer.named.address)}:
        known = replace(books.read_printer(address), media_type=media_type, path=printer.path, tested=day)
        books.remember_printer(known)
    return books.read_printer(str(printer.client.address))


def find_measured_path(printer_name: str, options: Options, ledger: Path) -> MeasuredPath | None:
    """How the last test page of a printer on file went to the paper; None where that is not known.

    A printer that has an address, and whose page no command here has printed, was measured through a print dialog.
    """
    folder = options.profiles_dir
    if folder is not None and not folder.exists():
        return None
    profile = load_profiles_in_force(options).printers.get(printer_name)
    if profile is None or not profile.address:
        return None
    if ledger.exists():
        with open_books(ledger) as books:
            known = books.read_printer(str(parse_address(profile.address)))
        if known.path:
            return MeasuredPath(known.path, known.media_type)
    return MeasuredPath("dialog")
