# ruff: noqa: E501 - tables of texts
"""Where reading ends: rosters that leave something open, code pages in doubt, profiles and ledgers of every damage."""

from __future__ import annotations

import sqlite3

import pytest

from answers.test_programs import try_work
from approved_answers import Told
from impose.orders.code_pages import read_page
from impose.orders.roster_paste import read_roster
from impose.profiles.toml_limits import parse_toml
from impose.run import Options
from impose.run.load_batch import load_profiles_in_force

pytestmark = pytest.mark.usefixtures("sheets_alone")

ROSTERS: dict[str, tuple[str, dict[str, object]]] = {
    "two numbers": ("Ada 7 12 adult M\nBo 8 adult L", {}),
    "two numbers, answered": ("Ada 7 12 adult M\nBo 8 9 adult L", {"answers": {"number@1": "12", "number": "9"}}),
    "sizes without a group": ("Ada M 7\nBo L 8\nCy XL", {}),
    "sizes of a hoodie": ("Ada M 7\nBo YL 8\nCy 2T", {"garment": "hoodie"}),
    "sizes, answered": ("Ada M 7\nBo L 8", {"answers": {"size-group": "youth", "size-group@2": "adult"}}),
    "what is needed": ("Ada adult M\n7 adult L\nBo 8", {"needed": ("name", "number")}),
    "two columns alike": ("Ada\tBell\t7\nBo\tCrane\t8", {}),
    "two columns, answered": ("Ada\tBell\t7\nBo\tCrane\t8", {"answers": {"column-1": "name", "column-2": "wearer"}}),
    "a size in the name": ("Ada (M);7\nBo (L);8", {}),
    "beyond the last column": ("Name;No\nAda;7;left\nBo;8", {}),
    "names twice": ("Ada 7 adult M\nAda 8 adult M\nADA 9 adult L\nBo 7 adult M", {}),
    "headings alone": ("Name;Number;Size", {}),
}  # fmt: skip
PAGES = {
    "western": ("Zoë, José, Søren", "cp1252"), "central": ("Łukasz, Dvořák, Żółć", "cp1250"), "both": ("Müller, Weiß", "cp1252"),
    "in doubt": ("Håkan, Ågren", "cp1252"), "signs": ("5 € – “so”", "cp1252"), "sign in a word": ("a¼b", "cp1252"),
    "mixed": ("Łukasz und José", "cp1250"), "plain": ("Ada", "ascii"), "hard": ("Čšř Ñandú", "cp1250"),
}  # fmt: skip
TOMLS = {
    "deep": "a = " + "[" * 40 + "]" * 40, "dots": ".".join("a" * 40) + " = 1", "long": "a" * 300 + " = 1",
    "number": "a = " + "9" * 40, "exponent": "a = 1e999999999999999999", "nan": "a = nan\nb = inf",
    "dates": "a = 2026-01-02\nb = 10:20:30", "twice": "a = 1\na = 2", "open": 'a = """never', "right": "a = 1.50\n[b]\nc = true",
    "list": "a = [[1], [2, [3]]]", "comment": "# " + "x" * 400 + "\na = 1", "tables": "[[a]]\nb = 1\n[[a]]\nb = 2",
}  # fmt: skip


def test_rosters_that_leave_something_open(told: Told) -> None:
    wardrobe = load_profiles_in_force(Options()).wardrobe
    for title, (text, more) in ROSTERS.items():
        roster = read_roster(text, wardrobe, **more)  # type: ignore[arg-type]
        lines = [f"columns {roster.columns} heading {roster.heading} cut {roster.cut}"]
        lines += [f"asks {ask}" for ask in roster.asks]
        lines += [f"{line.line}: {dict(line.cells)} odd {line.odd}" for line in roster.lines]
        told.show(title, "\n".join(lines))


def test_code_pages_in_doubt(told: Told) -> None:
    for title, (text, page) in PAGES.items():
        told.show(title, str(read_page(text.encode(page, "replace"))))


def test_files_of_settings(told: Told) -> None:
    for title, text in TOMLS.items():
        data, faults = parse_toml(text.encode(), "own.toml")
        told.show(title, f"{data}\n" + "\n".join(str(fault) for fault in faults))
    told.show("not UTF-8", str(parse_toml(b"a = 1\nb = '\xff'", "own.toml")[1]))
    told.show("too large", str(parse_toml(b"#" * ((1 << 20) + 1), "own.toml")[1]))


def test_ledgers_of_every_damage(told: Told) -> None:
    told.ask("stock a4 --set 5 --ledger shop.db")
    content = (told.folder / "shop.db").read_bytes()
    told.write("text.db", "not a ledger at all, but long enough to be looked into by whoever opens it")
    (told.folder / "empty.db").write_bytes(b"")
    (told.folder / "cut.db").write_bytes(content[: len(content) // 2])
    (told.folder / "folder.db").mkdir()
    (told.folder / "spoiled.db").write_bytes(content[:4096] + bytes(len(content) - 4096))
    with sqlite3.connect(told.folder / "foreign.db") as db:
        db.execute("CREATE TABLE t (a)")
    db.close()
    (told.folder / "newer.db").write_bytes(content)
    with sqlite3.connect(told.folder / "newer.db") as db:
        db.execute("UPDATE part SET version = 99")
    db.close()
    for name in ("text", "empty", "cut", "folder", "spoiled", "foreign", "newer"):
        told.ask(f"stock a4 --set 7 --ledger {name}.db")
    told.ask("stock a4 --set 7 --ledger text.db/shop.db")
    told.ask("spoilage --ledger newer.db")
    told.ask("find ada --ledger none.db")
    told.list_files()
    try_work(
        told, "settings that stop", lambda: load_profiles_in_force(Options(settings={"tint": "5", "stops": ["x"]}))
    )
