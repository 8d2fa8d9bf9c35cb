"""Every figure of a profile at its edges, and every refusal of a profile, by the smallest file that earns it.

A figure is taken at both ends of what the reference says, or the fault that it gets, and refused just beyond.
"""

from __future__ import annotations

import itertools
from decimal import Decimal
from pathlib import Path
from typing import NamedTuple

import pytest

from impose import files
from impose.errors import Exit, Trouble
from impose.profiles.profiles import Profiles, load_profiles
from impose.profiles.settings import Settings
from impose.values import replace


class Edges(NamedTuple):
    """A key of a table, its least and most with what lies just beyond each (as TOML has them), and the fault."""

    file: str
    table: str
    key: str
    least: str
    below: str
    most: str
    above: str
    fault: str


def _whole(file: str, table: str, key: str, least: int, most: int) -> Edges:
    fault = f"has to be a number from {least} to {most}"
    return Edges(file, table, key, str(least), str(least - 1), str(most), str(most + 1), fault)


def _number(file: str, table: str, key: str, least: str, most: str, step: str = "0.0001") -> Edges:
    below, above = Decimal(least) - Decimal(step), Decimal(most) + Decimal(step)
    fault = f"has to be a number from {least} to {most}"
    return Edges(file, table, key, least, str(below), most, str(above), fault)


# The scales of a printer are in the reference; all others are those that the fault names. 5080 mm are 14,400 units of
# 1/72 in, the longest side of a page (ISO 32000-1, Annex C).
FIGURES = (
    *(_whole("settings", "", key, 1, 10_000) for key in ("ppi_serious", "ppi_warn", "ppi_note")),
    _whole("settings", "", "pixel_limit", 1_000_000, 4_000_000_000),
    _number("settings", "", "tint", "0.001", "0.5"),
    *(_number("settings", "", key, "0", "100000", "0.01") for key in ("sheet_handling", "paper_change")),
    _number("papers", "a4", "cost", "0", "100000", "0.01"),
    _whole("papers", "a4", "temperature_c", 100, 250),
    _whole("papers", "a4", "seconds", 1, 600),
    _whole("papers", "a4", "rest_seconds", 0, 600),
    *(_number("printers", "careful", key, "0.95", "1.06") for key in ("scale_x", "scale_y")),
    _number("printers", "careful", "ink_ml_per_m2", "0", "100"),
    _number("printers", "careful", "ink_cost", "0", "100000", "0.01"),
    _whole("presses", "16x20", "temperature_c", 100, 250),
    _whole("presses", "16x20", "seconds", 1, 600),
    _whole("presses", "16x20", "prepress_seconds", 0, 120),
    _whole("presses", "16x20", "rest_seconds", 0, 600),
    *(_whole("presses", "16x20", f"{what}_seconds", 0, 3600) for what in ("handling", "turning", "setup")),
    *(_number("presses", "16x20", key, "0.9", "1.12") for key in ("scale_x", "scale_y")),
    *(_number("garments", "kinds.hoodie", key, "0.9", "1.12") for key in ("scale_x", "scale_y")),
    _number("lettering", "plain", "outline_width", "0.005", "0.5"),
    _whole("lettering", "plain", "arc", -180, 180),
    *(_number("prices", "", key, "0", "100000", "0.01") for key in ("press_rate", "power_cost")),
    _number("prices", "", "power_kw", "0", "100"),
    _number("prices", "", "spoilage", "0", "1"),
    _number("prices", "", "markup", "0", "10"),
    _number("prices", "", "tax", "0", "1"),
    _number("prices", "steps", "12", "0", "1"),
)

LENGTHS = (
    ("settings", "", "tear", "100 mm", "100.1 mm", "a tear margin over 100 mm"),
    ("settings", "", "tear", "5 mm", "4.9 mm", "a tear margin under 5 mm"),
    ("settings", "", "panel_overlap", "20 mm", "20.1 mm", "over 20 mm"),
    *(("printers", "careful", side, "100 mm", "100.1 mm", "an unprintable edge of over 100 mm")
      for side in ("left", "top", "right", "bottom")),
    *(("pads", "5x5", side, "1000 mm", "1000.1 mm", "a pad of over a metre") for side in ("width", "height")),
    ("placements", "left-chest", "least_side", "14 mm", "14.1 mm", "more than the normal tear margin of 14 mm"),
    ("papers", "roll-24", "max_length", "5080 mm", "5080.1 mm", "over 5080 mm, the longest PDF page"),
)  # fmt: skip
ROLL = '[roll-24]\nname = "roll_mine_24x0in"\ncost = 1\n'


def _lay_files(own: Path, said: list[tuple[str, str, str, str]]) -> None:
    """Files with one value for each key: `said` are file, table, key and value."""
    told: dict[str, dict[str, dict[str, str]]] = {}
    for file, table, key, value in said:
        told.setdefault(file, {}).setdefault(table, {})[key] = value
    for file, tables in told.items():
        lines = [] if "" not in tables else [f"{key} = {value}" for key, value in tables.pop("").items()]
        for table, values in tables.items():
            lines += [f"[{table}]", *(f"{key} = {value}" for key, value in values.items())]
        if file == "lettering":
            lines.append('outline = "#FFFFFF"')
        if file == "papers" and "roll-24" in tables:
            lines += ROLL.splitlines()[1:]
        (own / f"{file}.toml").write_text("\n".join(lines) + "\n", "utf-8")


def _list_faults(shipped: Path, own: Path) -> list[str]:
    with pytest.raises(Trouble) as caught:
        load_profiles(shipped, own)
    assert caught.value.exit is Exit.USAGE
    assert all(finding.remedy and finding.file.startswith(str(own)) for finding in caught.value.findings)
    return [finding.what for finding in caught.value.findings]


def _place(table: str, key: str) -> str:
    return f"table [{table}], key {key}: " if table else f"top level, key {key}: "


@pytest.mark.parametrize("end", ["least", "most"])
def test_every_figure_is_taken_at_its_edge_and_refused_beyond_it(shipped: Path, own: Path, end: str) -> None:
    inside = [(each.file, each.table, each.key, getattr(each, end)) for each in FIGURES]
    _lay_files(own, inside)
    assert load_profiles(shipped, own).settings.ppi_note == (1 if end == "least" else 10_000)
    beyond = "below" if end == "least" else "above"
    _lay_files(own, [(each.file, each.table, each.key, getattr(each, beyond)) for each in FIGURES])
    found = _list_faults(shipped, own)
    assert sorted(found) == sorted(_place(each.table, each.key) + each.fault for each in FIGURES)


def test_every_length_is_taken_at_its_edge_and_refused_beyond_it(shipped: Path, own: Path) -> None:
    for some in (LENGTHS[:1], LENGTHS[1:]):
        _lay_files(own, [(file, table, key, f'"{inside}"') for file, table, key, inside, _, _ in some])
        load_profiles(shipped, own)
        _lay_files(own, [(file, table, key, f'"{beyond}"') for file, table, key, _, beyond, _ in some])
        found = _list_faults(shipped, own)
        assert sorted(found) == sorted(_place(table, key) + fault for _, table, key, _, _, fault in some)


REFUSED = (
    ("settings", 'press_order = ["back", "front"]', "key press_order: names no set-up"),
    ("settings", 'press_order = ["back", "chest", "back"]', "key press_order: names a set-up twice"),
    ("settings", "papers = []", "key papers: names no paper"),
    ("settings", 'papers = ["a9"]', "key papers: names a paper that is not on file"),
    ("settings", 'printer = "none"', "key printer: names nothing that is on file"),
    ("settings", 'press = "none"', "key press: names nothing that is on file"),
    ("settings", 'stops = ["haze", "hazy"]', "key stops: “hazy” is not a kind of warning or note"),
    ("settings", 'currency = "eur"', "key currency: not a currency code"),
    ("settings", 'currency = "EURO"', "key currency: not a currency code"),
    ("settings", "sheet_handling = 0.1234567", "key sheet_handling: finer than millionths"),
    ("settings", "ppi_warn = 119.5", "key ppi_warn: has to be a whole number"),
    ("settings", 'blank_spares = "some"', "key blank_spares: no number of spares"),
    ("settings", 'blank_spares = "101 %"', "key blank_spares: no number of spares"),
    ("settings", 'tear = "wide"', "key tear: "),
    ("settings", 'keep_upright = "yes"', "key keep_upright: has to be true or false"),
    ("garments", '[shades]\nwhite = ["chalk"]\ndark = ["night", "chalk"]',
     "table [shades], key dark: holds a word that white holds too"),
    ("garments", 'default_kind = "bib"', "key default_kind: names nothing that is on file"),
    ("garments", 'default_group = "all"', "key default_group: names nothing that is on file"),
    ("garments", '[kinds.hoodie]\nlike = "jumper"', "table [kinds.hoodie], key like: names nothing that is on file"),
    ("garments", '[groups.plus]\notherwise = "grown"',
     "table [groups.plus], key otherwise: names nothing that is on file"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.sizes.adult]\nsource = "ours"',
     "table [mine.sizes.adult], key width: missing, and so is height"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.sizes.adult]\nwidth = "3 in"\nmost = "2.9 in"\nsource = "ours"',
     "table [mine.sizes.adult], key width: outside least and most"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.sizes.adult]\nwidth = "3 in"\nleast = "3.1 in"\nsource = "ours"',
     "table [mine.sizes.adult], key width: outside least and most"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.sizes.adult]\nheight = "3 in"\nleast = "4 in"\nmost = "3 in"\n'
     'source = "ours"', "table [mine.sizes.adult], key width: outside least and most"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.offsets.adult]\nfrom = "collar"\nto = "top of print"\n'
     'usual = "3 in"\nleast = "3.1 in"\nsource = "ours"',
     "table [mine.offsets.adult], key usual: outside least and most"),
    ("placements", '[mine]\ntitle = "mine"\n[mine.across.adult]\nfrom = "centre line"\nto = "centre of print"\n'
     'usual = "3 in"\nmost = "2.9 in"\nsource = "ours"',
     "table [mine.across.adult], key usual: outside least and most"),
    ("placements", '[left-chest]\nway = "by-eye"', "table [left-chest], key way: not one of the choices"),
    ("placements", '[mine]\ntitle = "mine"\naliases = ["Left  Chest"]', "answers to the same name as"),
    ("lettering", '[plain]\noutline_width = 0.1', "table [plain], key outline_width: there is no outline"),
    ("lettering", '[plain]\ncolour = "red"', "table [plain], key colour: “red” is not a colour"),
    ("lettering", '[plain]\noutline = "#12345"', "table [plain], key outline: “#12345” is not a colour"),
    ("prices", "press_rate = 0.0000001", "key press_rate: finer than millionths"),
    ("prices", "round_to = 0", "key round_to: prices cannot be rounded to nothing"),
    ("prices", "[steps]\n1 = 0.05", "table [steps], key 1: not a number of garments from 2 to 100000"),
    ("prices", "[steps]\n100001 = 0.05", "table [steps], key 100001: not a number of garments from 2 to 100000"),
    ("prices", "[steps]\n12 = 0.05\n012 = 0.1", "table [steps], key 012: a number of garments that stands there twice"),
    ("prices", '[blanks]\n"hoodie polo" = 3', "table [blanks], key hoodie polo: two kinds are named"),
    ("prices", '[blanks]\n"hoodie adult youth" = 3', "table [blanks], key hoodie adult youth: two groups are named"),
    ("prices", '[blanks]\n"navy" = 3', "table [blanks], key navy: names no kind of garment"),
    ("prices", '[blanks]\n"hoodie navy" = 3\n"Hoodie  NAVY" = 4', "names the same blank as “hoodie navy”"),
    ("texts", '[custom]\nlanguage = "german"', "table [custom], key language: no tag of a language"),
    ("texts", '[custom]\nmonths = ["Jan", "Feb"]', "table [custom], key months: has 2 names"),
    ("texts", '[custom]\ndecimal = ""', "table [custom], key decimal: no mark in a number"),
    ("texts", '[custom]\nthousands = "x"', "table [custom], key thousands: no mark in a number"),
    ("texts", '[custom]\ndecimal = ","', "the same sign before decimals and between thousands"),
    ("texts", '[custom]\ndigits = "0123456798"', "table [custom], key digits: not ten digits from nought to nine"),
    ("texts", '[custom]\ndate = "{dd}.{mm}"', "table [custom], key date: a date without its day, month or year"),
    ("texts", '[custom]\ndate = "{mm}/{year}"', "table [custom], key date: a date without its day, month or year"),
    ("texts", '[custom]\ndate = "{day} {year}"', "table [custom], key date: a date without its day, month or year"),
    ("texts", '[custom]\ndate = "{day} {month} {yaer}"', "table [custom], key date: "),
    ("texts", '[custom]\nmm = "mm"', "table [custom], key mm: "),
    ("texts", '[places]\nleft-chset = "x"', "table [places], key left-chset: not a key that is known here"),
    ("papers", '[a4]\npressure = "hard"', "table [a4], key pressure: not one of the choices"),
    ("printers", '[careful]\npath = "post"', "table [careful], key path: not one of the choices"),
    ("printers", '[careful]\nintent = "vivid"', "table [careful], key intent: not one of the choices"),
    ("presses", '["16x20"]\npressure = "hard"', "table [16x20], key pressure: not one of the choices"),
)  # fmt: skip


def test_every_refusal_names_its_table_and_key(shipped: Path, own: Path) -> None:
    by_file = [[row for row in REFUSED if row[0] == file] for file in dict.fromkeys(file for file, _, _ in REFUSED)]
    for together in itertools.zip_longest(*by_file):
        rows = [row for row in together if row]
        for file, content, _ in rows:
            (own / f"{file}.toml").write_text(content + "\n", "utf-8")
        found = _list_faults(shipped, own)
        assert len(found) == len(rows), (rows, found)
        for _, content, fault in rows:
            assert any(fault in what for what in found), (content, found)
        for path in own.iterdir():
            path.unlink()


def test_what_a_press_and_a_style_leave_out(shipped: Path, own: Path) -> None:
    """The times are those of the reference's example of a press, the figures of a style those of its page."""
    (own / "presses.toml").write_text(
        '[mine]\ntitle = "mine"\nplaten_width = "16 in"\nplaten_height = "20 in"\nborder = "1 in"\n'
        'temperature_c = 196\nseconds = 40\npressure = "medium"\nprepress_seconds = 5\ncover = "paper"\n'
        'source = "ours"\n'
    )
    (own / "printers.toml").write_text('[mine]\nleft = "3 mm"\ntop = "3 mm"\nright = "3 mm"\nbottom = "3 mm"\n')
    (own / "papers.toml").write_text(ROLL)
    (own / "lettering.toml").write_text('[mine]\noutline = "#FFFFFF"\n')
    (own / "pads.toml").write_text('[mine]\ntitle = "mine"\nwidth = "4 in"\nheight = "14 in"\nsource = "ours"\n')
    mine = load_profiles(shipped, own)
    press = mine.find_press("mine")
    times = press.rest_seconds, press.handling_seconds, press.turning_seconds, press.setup_seconds
    assert times == (10, 60, 30, 30)
    assert (press.scale_x, press.scale_y, press.cool_down, press.note) == (1, 1, "", "")
    printer = mine.find_printer("mine")
    assert (printer.scale_x, printer.scale_y) == (1, 1)
    assert printer.ink_ml_per_m2 == printer.ink_cost == 0
    assert (printer.feed_width_mm, printer.sublimation_ink, printer.path) == (None, False, "")
    assert mine.find_paper("roll-24").max_length_mm == 5000
    style = mine.lettering["mine"]
    assert (style.arc, style.letter_height_mm, style.outline_width) == (0, 40, 0.05)
    pad = mine.pads["mine"]
    assert (pad.card, pad.owned) == (False, True)
    assert mine.require_placement("left-chest").least_side_mm == 5


def test_what_every_value_is_told_as(profiles: Profiles) -> None:
    """In words of the reference: yes and no, lengths with their unit, lists with commas."""
    settings: Settings = replace(profiles.settings, keep_upright=True)
    shown = {name: value for name, value, _ in settings.list_shown()}
    assert (shown["keep_upright"], shown["straight_cuts"]) == ("yes", "no")
    assert shown["panel_overlap"].startswith("3 mm")
    assert shown["tear"].startswith("14 mm")
    assert shown["press_order"] == "back, chest, sleeve, hood"
    assert (shown["tint"], shown["ppi_warn"], shown["sheet_handling"]) == ("0.02", "120", "0.10")


def test_a_percentage_is_told_as_the_number_that_is_meant(tmp_path):
    (tmp_path / "prices.toml").write_text('markup = "60 %"\ntax = "7.5%"\n', "utf-8")
    with pytest.raises(Trouble) as trouble:
        load_profiles(files.find_shipped_profiles(), tmp_path)
    told = {str(finding.column or finding.what): str(finding.remedy) for finding in trouble.value.findings}
    assert sorted(told.values()) == ["Write 0.075, without a sign.", "Write 0.6, without a sign."]
