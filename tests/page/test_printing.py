"""Sheets printed from the page, at a printer of our own making: what is asked first, and that it is printed once."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from click.testing import CliRunner

from conftest import draw
from impose.page.print_handlers import complete_printer_address
from impose.page.remedies import WORDINGS
from impose.remedies import PLAIN
from page.conftest import Bed, Tab
from printing.made_up import MadeUpPrinter
from printing.test_print_door import SlowPrinter

FILE = "sheets-a4.pdf"


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One sheet of A4, made by the command."""
    from impose.cli import cli

    folder = tmp_path_factory.mktemp("made")
    draw("ellipse", 1800, 1800, 0).save(folder / "crest.png")
    words = ["sheets", str(folder / "crest.png"), "--width", "150 mm", "-p", "a4", "-o", str(folder / "sheets"), "-q"]
    done = CliRunner().invoke(cli, [*words, "--no-cache"])
    assert done.exit_code == 0, done.output
    return folder / "sheets"


@pytest.fixture
def printing(bed: Bed, sheets: Path, monkeypatch: pytest.MonkeyPatch) -> Bed:
    """A batch with sheets made; no spooler, and nobody listens to the network."""
    monkeypatch.setenv("CUPS_SERVER", "127.0.0.1:9")
    monkeypatch.setattr("impose.run.printer_listing.can_discover", lambda: False)
    shutil.copytree(sheets, bed.folder / "sheets")
    return bed


def ask(tab: Tab, step: str, status: int = 200, **more: object) -> dict:
    found: dict = tab.post(f"{tab.base}/made/{tab.made}/print/{step}", {"file": FILE, **more}, status)
    return found


def enter(bed: Bed, name: str) -> Tab:
    from impose.page.made_folders import list_made_folders

    tab = bed.tab(name)
    tab.made = list_made_folders(bed.folder)[0].id
    return tab


def test_checked_asked_sent_followed_and_printed_once_over_two_tabs(printing: Bed):
    with SlowPrinter() as printer:
        here, there = enter(printing, "here"), enter(printing, "there")
        refused = ask(here, "check", 422)["error"]
        assert (refused["code"], refused["remedy"]) == ("printer", "Name yours in Shop, under Printers.")
        assert here.post("/api/printers", {"printer": "Studio", "address": printer.address}) == {"printer": "studio"}
        (named,) = [entry for entry in here.get("/api/shop")["printers"] if entry["address"]]
        assert (named["printer"], named["chosen"]) == ("studio", True)
        assert {v["name"]: v["value"] for v in named["values"]}["left"] == "3 mm", "as the printer says"
        assert [found["source"] for found in here.get("/api/printers")["printers"]] == ["on file"]

        check = ask(here, "check")
        assert not check["ready"]
        assert [question["code"] for question in check["questions"]] == ["nozzle-check"]
        assert check["printer"]["loaded"] == ["210 × 297 mm"]
        assert not any("--" in finding["remedy"] for finding in check["findings"])
        no = ask(here, "check", answers={"nozzle-check": False})
        assert [f["severity"] for f in no["findings"] if "nozzle" in f["what"]] == ["stop"]
        agreed = [finding["kind"] for finding in check["findings"] if finding["severity"] == "warn"]
        wish = {"answers": {"nozzle-check": True}, "accept": agreed}
        checks = [ask(tab, "check", **wish) for tab in (here, there)]
        assert [(c["ready"], c["sheets"]) for c in checks] == [(True, [1])] * 2
        assert ask(here, "follow") | {"printer": ""} == {"printer": "", "runs": [], "ended": True}
        assert printer.jobs == {}, "a check sends nothing"

        with ThreadPoolExecutor(2) as both:  # two people click at once
            sent = both.map(
                lambda tab, c: ask(tab, "send", asked_after=c["asked_after"], **wish), (here, there), checks
            )
        assert [(s["runs"][0]["standing"], s["ended"]) for s in sent] == [("waiting", False)] * 2
        printing.call(lambda page: page.prints.kept.clear())  # as after a new start of the program
        assert ask(there, "follow")["runs"][0]["sent"]
        printer.finish_jobs()
        for tab in (here, there, here):
            assert [(r["standing"], r["sheets"]) for r in ask(tab, "follow")["runs"]] == [("printed", [1])]
        assert printer.documents == [(printing.folder / "sheets" / FILE).read_bytes()]
        (found,) = [f for f in ask(here, "check", **wish)["findings"] if f["severity"] == "stop"]
        assert (found["kind"], found["remedy"]) == ("printed-already", "Ask here to print them once more.")


def test_stopped_is_not_sent_again_until_a_new_click(printing: Bed):
    with SlowPrinter() as printer:
        tab = enter(printing, "tab")
        tab.post("/api/printers", {"printer": "studio", "address": printer.address})
        assert "nothing of these sheets" in ask(tab, "cancel", 422)["error"]["what"].casefold()
        warned = ask(tab, "check", answers={"nozzle-check": True})
        wish = {"accept": [f["kind"] for f in warned["findings"] if f["severity"] == "warn"]}
        ask(tab, "send", asked_after=warned["asked_after"], **wish)
        assert ask(tab, "cancel")["runs"][0]["standing"] == "failed"
        ask(tab, "follow")
        assert len(printer.jobs) == 1


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("192.168.1.20", "ipp://192.168.1.20/ipp/print"),
        ("studio.local:8631", "ipp://studio.local:8631/ipp/print"),
        ("ipps://192.168.1.20/ipp/print", "ipps://192.168.1.20/ipp/print"),
        ("Studio", "Studio"),
        ("http://192.0.2.1/", "http://192.0.2.1/"),
    ],
)
def test_an_address_may_be_written_as_the_printer_shows_it(written: str, meant: str):
    assert complete_printer_address(written) == meant


@pytest.mark.parametrize(
    ("wrong", "code"), [({"sheets": "9"}, "sheets"), ({"sheets": "one"}, "sheets"), ({"printer": "desk"}, "printer")]
)
def test_what_cannot_be_meant_is_refused_in_words(printing: Bed, wrong: dict, code: str):
    with MadeUpPrinter() as printer:
        tab = enter(printing, "tab")
        tab.post("/api/printers", {"printer": "studio", "address": printer.address})
        assert ask(tab, "check", 422, **wrong)["error"]["code"] == code
        assert tab.post("/api/printers", {"printer": "x", "address": "http://192.0.2.1/"}, 422)["error"]["remedy"]
        assert len(printer.requests) <= 2, "nothing is asked of it but what it is"


def test_nobody_at_the_page_is_told_to_run_something():
    said = {code: WORDINGS.get(code, words) for code, words in PLAIN.items()}
    wrong = ("run the same", "run it again", "run again", "in the column wearer", " --")
    assert [
        code for code, words in said.items() if isinstance(words, str) for bad in wrong if bad in words.lower()
    ] == []
