# ruff: noqa: E501 - tables of what is asked
"""The page beside other programs: files changed and damaged elsewhere, a desk that asks, a printer that prints."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from answers.pictures import draw_disc
from answers.test_desk import Desk
from answers.told_page import Page, add, get, post
from approved_answers import Told
from impose.page.desk_page import ask_desk, list_desk_values, read_desk_proof
from impose.page.events import Listener
from impose.page.page_server import PageServer
from impose.page.refusal import Refusal
from page.conftest import ASLEEP
from printing.made_up import MadeUpPrinter

pytestmark = pytest.mark.usefixtures("sheets_alone")


def test_files_changed_elsewhere(told: Told, beds: Any) -> None:
    """Orders edited here and in another program: taken where nothing here is unsaved, else asked about, and answered."""
    page = Page(told, beds(ASLEEP))
    orders = page.bed.folder / "orders.csv"
    page.tab.change(add("a.png"))
    page.bed.until(orders.exists)
    page.bed.until(lambda: page.tab.get(page.tab.base)["saved"] == 2)
    orders.write_text("order,wearer,art\nOwls,Ana,b.png\nOwls,Bo,b.png\n")
    page.bed.until(lambda: len(page.tab.rows) == 2)
    page.try_each(get("~"), post("~/undo", {}))
    page.bed.until(lambda: page.tab.get(page.tab.base)["saved"] == 4)

    def change_both(text: str) -> None:
        """At once: a server that looked between the two would take the file as it is then."""
        ident = page.tab.rows[0]["id"]
        operation = {"op": "set", "id": ident, "column": "note", "value": text[-6:]}

        def work(server: PageServer) -> None:
            orders.write_text(text)
            server.open[page.tab.batch].change([operation], "")

        page.bed.call(work)
        page.bed.until(lambda: page.tab.get(page.tab.base)["elsewhere"])

    change_both("order,wearer,art\nBats,Cy,c.png\n")
    told.list_files("../bed/batch")
    page.try_each(
        get("~"), post("~/elsewhere", {"answer": "both"}), post("~/elsewhere", {"answer": "theirs"}), get("~")
    )
    told.list_files("../bed/batch")
    change_both("order,wearer,art\nBats,Di,d.png\n")
    page.try_each(post("~/elsewhere", {"answer": "mine"}))
    told.list_files("../bed/batch")
    told.show_file("../bed/batch/orders.csv")


def test_files_that_cannot_be_edited(told: Told, beds: Any) -> None:
    """A spreadsheet is read and copied; damaged orders, kits and choices are told, and left alone."""
    page = Page(told, beds(ASLEEP))
    home = told.folder / "batches"
    book = Workbook()
    sheet: Any = book.active
    for row in (("order", "wearer", "art"), ("Owls", "Ana", "a.png"), ("Owls", None, "b.png")):
        sheet.append(row)
    files: dict[str, dict[str, bytes]] = {
        "damaged": {"orders.csv": b'order,art\n1,"a.png\n'}, "kits": {"orders.csv": b"order,art\n1,a.png\n", "kits.csv": b"kit,kit\nx,y\n"},
        "choices": {"orders.csv": b"order,art\n1,a.png\n", "batch.toml": b"papers = [\n"}, "odd": {"orders.csv": b"order,art\n1,a.png\n", "batch.toml": b"wings = 2\n"},
        "empty": {"orders.csv": b""}, "book": {}, "broken": {"orders.xlsx": b"PK"},
    }  # fmt: skip
    for name, held in files.items():
        (home / name).mkdir(parents=True)
        for file, content in held.items():
            (home / name / file).write_bytes(content)
    book.save(home / "book" / "orders.xlsx")
    (home / "broken" / "orders.xlsx").write_bytes((home / "book" / "orders.xlsx").read_bytes()[:900])
    for name in files:
        ident = page.bed.call(lambda server, name=name: server.open_folder(home / name))
        told.call(ident, f"the batch {name}")
        at = f"/api/b/{ident}"
        page.get(at, "columns", "choices", "saved")
        page.try_each(
            post(f"{at}/changes", {"ops": [{"op": "add", "cells": {"order": "2"}}]}), post(f"{at}/undo", {}), ("PUT", f"{at}/art?name=a.png", b"x"),
            post(f"{at}/copy-to-csv", {}),
        )  # fmt: skip
    page.bed.close()
    told.list_files("batches")
    told.show_file("batches/book/orders.csv")
    told.show_file("batches/damaged/orders.csv")
    told.show_file("batches/choices/batch.toml")


def test_notices_of_the_page(told: Told, beds: Any) -> None:
    """What every open tab is told of while one of them changes, counts and agrees."""
    bed = beds(ASLEEP)
    page = Page(told, bed)
    listener, other = Listener(bed.batch), Listener("bzz")
    bed.call(lambda server: server.events.listeners.update((listener, other)))
    page.tab.change(add("a.png"))
    bed.until(lambda: page.tab.get(page.tab.base)["saved"] == 2)
    page.tab.post("/api/shop", {"ops": [{"op": "count", "paper": "a4", "how": "set", "amount": "5"}]})
    page.tab.post("/api/batches", {"name": "Bats"}, 201)

    def drain(server: PageServer, listened: Listener) -> list[str]:
        found = []
        while not listened.waiting.empty():
            found.append(str(listened.waiting.get_nowait()))
        return found

    for title, listened in (("of the batch", listener), ("of another", other)):
        told.show(f"told to a tab {title}", "".join(bed.call(lambda server, one=listened: drain(server, one))))


def test_desk_that_asks_on_the_page(told: Told) -> None:
    """A desk at work with a question: its warnings, its proof, each answer; then accepted, refused, stopped."""
    desk = Desk(told, ask=True, hold_s=20.0)
    root, bed = desk.bed.root, desk.bed

    def show() -> None:
        told.show("the desk", list_desk_values(root, bed.time.wall))

    def ask(kind: str, number: Any = None) -> None:
        try:
            told.show(f"{kind} {number}", ask_desk(root, kind, number, bed.time.wall))
        except Refusal as refusal:
            told.show(f"{kind} {number}", f"refused {refusal.__reduce__()[1]}")

    try:
        desk.drop("left-chest/clean.png", size=700)
        desk.drop("left-chest/cut.png", "cut-off")
        desk.bed.drop("knee/readme.pages", b"no picture")
        bed.turns(8)
        show()
        ask("make-now")
        bed.turns(12)
        show()
        told.show("the proof", f"{read_desk_proof(root, 1, bed.time.wall)[:60]!r}")
        ask("accept")
        ask("accept", 9)
        ask("accept", 1)
        show()
        bed.turns(6)
        show()
        ask("printed", 1)
        ask("print-again", 1)
        ask("stop")
        show()
        bed.turns(2)
        show()
        ask("stop")
        try:
            read_desk_proof(root, 1, bed.time.wall)
        except Refusal as refusal:
            told.show("the proof then", f"refused {refusal.__reduce__()[1]}")
    finally:
        desk.close()


def test_printing_on_the_page(told: Told, beds: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """A printer named and asked; what stands against printing; sent, followed, taken back, printed already."""
    monkeypatch.setenv("CUPS_SERVER", "127.0.0.1:9")
    monkeypatch.setattr("impose.run.printer_listing.can_discover", lambda: False)
    told.draw("owl.png", draw_disc(220))
    told.ask("sheets owl.png --placement left-chest --copies 3 -p a4 --steps 50 -q", shown=False)
    page = Page(told, beds(ASLEEP))
    shutil.copytree(told.folder / "owl-sheets", page.bed.folder / "sheets")
    shutil.copy(told.folder / "owl.png", page.bed.folder)
    page.bed.folder.joinpath("orders.csv").touch()
    from impose.page.made_folders import make_id

    at = f"~/made/{make_id(Path('sheets'))}/print"
    wish: dict[str, Any] = {"file": "sheets-a4.pdf", "printer": "studio"}
    with MadeUpPrinter() as printer:
        told.call(str(printer.address), "printer")
        told.call(printer.address.removeprefix("ipp://").partition("/")[0], "host")
        page.try_each(
            get("/api/printers"),
            post("/api/printers", {"printer": "Studio", "address": printer.address}),
            get("/api/printers"),
        )
        page.tell(
            "printers of the shop", [one for one in page.tab.get("/api/shop")["printers"] if one["address"]], "values"
        )
        page.try_each(
            post(f"{at}/check", wish),
            post(f"{at}/check", {**wish, "sheets": "1", "answers": {"nozzle-check": True, "paper-loaded": "yes"}}),
        )
        warned = page.tab.post(f"{at}/check".replace("~", page.tab.base), {**wish, "answers": {"nozzle-check": True}})
        agreed = {**wish, "answers": {question["code"]: True for question in warned["questions"]} | {"nozzle-check": True},
                  "accept": [found["kind"] for found in warned["findings"] if found["severity"] == "warn"], "asked_after": warned["asked_after"]}  # fmt: skip
        page.try_each(post(f"{at}/send", agreed), post(f"{at}/follow", wish))
        printer.finish_jobs() if hasattr(printer, "finish_jobs") else None
        page.try_each(
            post(f"{at}/follow", wish),
            post(f"{at}/check", wish),
            post(f"{at}/cancel", wish),
            post(f"{at}/check", {**agreed, "again": True}),
        )
