"""What is said of a printer, asked of it and told while it prints: a made-up one, in a network of the test's own."""

from __future__ import annotations

import pytest

from answers.pictures import draw_disc
from approved_answers import Told
from impose.printing.ipp_encoding import Tag, make_attribute
from printing.conftest import loopback  # noqa: F401 - a fixture
from printing.made_up import MadeUpPrinter, size

pytestmark = pytest.mark.usefixtures("sheets_alone", "loopback")


def make_sheets(told: Told) -> None:
    told.draw("owl.png", draw_disc(220))
    told.ask("sheets owl.png --placement left-chest --copies 5 -p a4 --steps 50 -q", shown=False)


def test_printing(told: Told) -> None:
    make_sheets(told)
    with MadeUpPrinter() as printer:
        told.call(str(printer.address), "printer")
        told.call(printer.address.removeprefix("ipp://").partition("/")[0], "host")
        told.ask(f"printers {printer.address} --ledger shop.db")
        told.ask(f"printers {printer.address} --ledger shop.db --json")
        told.ask(f"printers {printer.address} -p a4 --copy-to mine --ledger shop.db")
        told.show_file("mine/printers.toml")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --wait 0")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --wait 0 --accept straight-edge")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --again --sheets 1 --json")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --sheets 9")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --cancel")
        told.ask("find owl --ledger shop.db")
        told.show_tables("shop.db", "print_job", "print_printer")
        told.show("jobs", str(sorted((number, job[1:3]) for number, job in printer.jobs.items())))


def test_printers_that_cannot(told: Told) -> None:
    make_sheets(told)
    fit = make_attribute("print-scaling-supported", Tag.KEYWORD, "fit")
    letter = make_attribute("media-col-ready", Tag.COLLECTION, size(21590, 27940))
    with MadeUpPrinter({"print-scaling-supported": fit, "media-col-ready": letter}) as printer:
        told.call(str(printer.address), "printer")
        told.call(printer.address.removeprefix("ipp://").partition("/")[0], "host")
        told.ask(f"printers {printer.address} --ledger shop.db")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --wait 0")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --wait 0 --accept print-scaling")
        told.ask(f"print owl-sheets --printer {printer.address} --ledger shop.db --cancel")
    told.ask("print owl-sheets --printer ipp://127.0.0.1:9/ipp/print --ledger shop.db")
    told.ask("print owl-sheets --printer nobody --ledger shop.db")
    told.ask("print owl-sheets --ledger shop.db")
    told.ask("print nowhere --printer ipp://127.0.0.1:9/ipp/print --ledger shop.db")
