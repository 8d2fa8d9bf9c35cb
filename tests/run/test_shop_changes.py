"""What a shop enters on the page is in its files as TOML 1.0 (read by the standard library) and in force afterwards."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from impose.errors import Trouble
from impose.run import Options
from impose.run.first_questions import answer_questions, list_questions
from impose.run.load_batch import load_profiles_in_force
from impose.run.price_values import list_price_values
from impose.run.shop_changes import change_shop
from impose.run.shop_values import (
    ShopValue,
    list_paper_values,
    list_placement_values,
    list_press_values,
    list_printer_values,
    list_setting_choices,
    list_setting_values,
)
from impose.run.stock_counts import CountedStock

SHIPPED = load_profiles_in_force(Options())


class Shop:
    """A folder of own profiles, changed as the page changes it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.options = Options(profiles_dir=folder)

    def change(self, *operations: dict[str, Any]) -> None:
        change_shop(operations, self.folder, Options())

    def file(self, name: str) -> dict[str, Any]:
        return tomllib.loads((self.folder / name).read_text("utf-8"))

    @property
    def profiles(self) -> Any:
        return load_profiles_in_force(self.options)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path / "own")


def shown(values: list[ShopValue]) -> dict[str, str]:
    return {value.name: value.value for value in values}


def own(values: list[ShopValue]) -> set[str]:
    return {value.name for value in values if value.origin == "yours"}


PRINTER = {
    "left": ("4", "4 mm"), "top": ("0.5 cm", "5 mm"), "right": ("6 mm", "6 mm"), "bottom": ("0.5 in", "12.7 mm"),
    "scale_x": ("1,002", "1.002"), "scale_y": ("0.998", "0.998"), "feed_width": ("330", "330 mm"),
    "ink_ml_per_m2": ("11.5", "11.5"), "ink_cost": ("0.12", "0.12"),
}  # fmt: skip
PRESS = {
    "platen_width": ("380 mm", "380 mm"), "platen_height": ("380", "380 mm"), "border": ("2 cm", "20 mm"),
    "temperature_c": ("200", "200"), "seconds": ("45", "45"), "pressure": ("firm", "firm"),
    "prepress_seconds": ("4", "4"), "rest_seconds": ("0", "0"), "handling_seconds": ("50", "50"),
    "turning_seconds": ("20", "20"), "setup_seconds": ("90", "90"), "scale_x": ("1.01", "1.01"),
    "scale_y": ("1.02", "1.02"),
}  # fmt: skip


def test_a_printer_of_the_shops_own_keeps_what_was_entered_and_the_usual_edges_else(shop: Shop) -> None:
    shop.change({"op": "printer", "printer": "Big Studio!", "values": {"left": "4 mm"}})
    told = shown(list_printer_values(shop.profiles, shop.profiles.find_printer("big-studio")))
    usual = shown(list_printer_values(SHIPPED, SHIPPED.find_printer(SHIPPED.settings.printer)))
    assert told == usual | {"left": "4 mm", "ink_ml_per_m2": "0", "ink_cost": "0"}, "what its ink costs nobody said"
    values = {name: typed for name, (typed, _) in PRINTER.items()}
    shop.change({"op": "printer", "printer": "big-studio", "values": values})
    told_now = list_printer_values(shop.profiles, shop.profiles.find_printer("big-studio"))
    assert shown(told_now) == {name: value for name, (_, value) in PRINTER.items()} | {"output_profile": ""}
    assert own(told_now) >= set(PRINTER)
    assert set(shop.file("printers.toml")) == {"big-studio"}
    assert {value.unit for value in told_now if value.kind == "money"} == {"EUR"}


def test_a_shipped_printer_is_changed_key_by_key(shop: Shop) -> None:
    shop.change({"op": "printer", "printer": "careful", "values": {"bottom": "20 mm"}})
    assert shop.file("printers.toml") == {"careful": {"bottom": "20 mm"}}
    told = list_printer_values(shop.profiles, shop.profiles.find_printer("careful"))
    assert own(told) == {"bottom"}


def test_an_address_is_written_as_it_is_read_and_ink_is_said_by_a_plain_yes(shop: Shop) -> None:
    values = {"address": " ipp://printer.local/ipp/print ", "sublimation_ink": "true"}
    shop.change({"op": "printer", "printer": "studio", "values": values})
    assert shop.file("printers.toml")["studio"]["address"] == "ipp://printer.local:631/ipp/print"
    assert shop.file("printers.toml")["studio"]["sublimation_ink"] is True
    shop.change({"op": "printer", "printer": "studio", "values": {"address": " ", "sublimation_ink": "yes"}})
    assert shop.file("printers.toml")["studio"]["address"] == ""
    assert shop.file("printers.toml")["studio"]["sublimation_ink"] is False


def test_a_press_of_the_shops_own_keeps_what_was_entered_and_what_is_usual_else(shop: Shop) -> None:
    shop.change({"op": "press", "press": "Big Press", "values": {"seconds": "55"}})
    press, usual = shop.profiles.find_press("big-press"), SHIPPED.find_press(SHIPPED.settings.press)
    assert press.title == "Big Press"
    assert shown(list_press_values(shop.profiles, press)) == shown(list_press_values(SHIPPED, usual)) | {
        "seconds": "55"
    }
    assert press.cover == usual.cover
    values = {name: typed for name, (typed, _) in PRESS.items()}
    shop.change({"op": "press", "press": "big-press", "values": values | {"title": "Ours", "note": "on the left"}})
    press = shop.profiles.find_press("big-press")
    told = list_press_values(shop.profiles, press)
    assert shown(told) == {name: value for name, (_, value) in PRESS.items()}
    assert own(told) == set(PRESS)
    assert (press.title, press.note) == ("Ours", "on the left")
    shop.change({"op": "press", "press": "9x12", "values": {"temperature_c": "190"}})
    assert shop.file("presses.toml")["9x12"] == {"temperature_c": 190}


def test_a_paper_has_its_cost_and_its_own_setting_of_the_press(shop: Shop) -> None:
    values = {"temperature_c": "205", "seconds": "35", "pressure": "light", "rest_seconds": "15"}
    shop.change({"op": "paper", "paper": "a4", "cost": "0.11", "values": values})
    told = list_paper_values(shop.profiles, "a4", shop.profiles.papers["a4"])
    assert shown(told) == values | {"cost": "0.11"}
    assert own(told) == set(values) | {"cost"}
    assert told[0].unit == "EUR a sheet"
    shop.change({"op": "paper", "paper": "a4", "cost": "", "values": {"seconds": "40"}})
    assert shop.file("papers.toml")["a4"]["cost"] == pytest.approx(0.11)
    assert shop.file("papers.toml")["a4"]["seconds"] == 40
    roll = next(key for key, paper in SHIPPED.papers.items() if paper.is_roll)
    assert list_paper_values(SHIPPED, roll, SHIPPED.papers[roll])[0].unit == "EUR a metre"


def test_a_new_paper_has_a_name_of_its_own_or_that_of_its_size(shop: Shop) -> None:
    shop.change({"op": "paper", "new": "300x400mm", "title": "Thick & white", "cost": "0.5"})
    made = shop.profiles.papers["thick-white"]
    assert (made.width_mm, made.height_mm, made.cost) == (300, 400, Decimal("0.5"))
    shop.change({"op": "paper", "paper": "310x410mm", "cost": "0.6"})
    assert any((paper.width_mm, paper.height_mm) == (310, 410) for paper in shop.profiles.papers.values())
    before = (shop.folder / "papers.toml").read_bytes()
    for title in ("Thick white", "A4", "a4"):
        with pytest.raises(Trouble, match="paper of that name already"):
            shop.change({"op": "paper", "new": "320x420mm", "title": title})
    assert (shop.folder / "papers.toml").read_bytes() == before


SETTINGS: list[tuple[str, Any, str, Any]] = [
    ("currency", "USD", "USD", "USD"), ("units", "mm", "mm", "mm"), ("papers", ["a4", "a3"], "a4, a3", ["a4", "a3"]),
    ("printer", "measured", "measured", "measured"),
    ("press", "15x15", "15x15", "15x15"), ("tear", "tight", "10 mm", "tight"), ("tint", "0,03", "0.03", 0.03),
    ("ppi_serious", "90", "90", 90), ("ppi_warn", "110", "110", 110), ("ppi_note", 140, "140", 140),
    ("pixel_limit", "1000000", "1000000", 1000000), ("swatches", "yes", "true", True),
    ("orientation", "apply", "apply", "apply"), ("keep_specks", True, "true", True),
    ("clean_haze", "true", "true", True), ("drop_specks", "true", "true", True),
    ("keep_upright", "true", "true", True), ("straight_cuts", "true", "true", True),
    ("intent", "perceptual", "perceptual", "perceptual"), ("black_point", "false", "false", False),
    ("press_order", "sleeve, back, chest, hood", "sleeve, back, chest, hood", ["sleeve", "back", "chest", "hood"]),
    ("ticket_grouping", "platen", "platen", "platen"), ("ticket_paper", "letter", "letter", "letter"),
    ("smallest_decides", "true", "true", True), ("sheet_handling", "0.25", "0.25", "0.25"),
    ("paper_change", "2.50", "2.50", "2.50"), ("panel_overlap", "4 mm", "4 mm", "4 mm"),
    ("keep_index", "false", "false", False), ("care_notes", "order", "order", "order"),
    ("blank_spares", "1 a size", "1 a size", "1 a size"),
]  # fmt: skip


def test_settings_are_shown_as_entered_and_said_to_be_the_shops_own(shop: Shop) -> None:
    shop.change(*({"op": "setting", "name": name, "value": entered} for name, entered, _, _ in SETTINGS))
    assert shop.file("settings.toml") == {name: written for name, _, _, written in SETTINGS}
    values = list_setting_values(shop.profiles)
    assert {name: shown(values)[name] for name, *_ in SETTINGS} == {name: told for name, _, told, _ in SETTINGS}
    assert own(values) == {name for name, *_ in SETTINGS}
    assert set(shown(values)) - own(values) == {"stops", "output_profile"}


def test_a_setting_leaves_the_others_as_they_came(shop: Shop) -> None:
    for papers in ("a5; a4", "a5,a4", " a5  a4"):
        shop.change({"op": "setting", "name": "papers", "value": papers})
        assert shop.file("settings.toml") == {"papers": ["a5", "a4"]}
    shop.change({"op": "setting", "name": "swatches", "value": "yes"})
    assert shop.file("settings.toml") == {"papers": ["a5", "a4"], "swatches": True}
    values = list_setting_values(shop.profiles)
    assert shown(values) == shown(list_setting_values(SHIPPED)) | {"papers": "a5, a4", "swatches": "true"}
    assert own(values) == {"papers", "swatches"}
    assert {value.origin for value in values} == {"yours", "shipped"}
    given = load_profiles_in_force(Options(settings={"intent": "saturation"}))
    assert [value.name for value in list_setting_values(given) if value.origin == "set for this run"] == ["intent"]


def test_what_may_be_chosen_is_what_there_is(shop: Shop) -> None:
    """A list has everything on file by its own name, and each of a fixed list is taken."""
    for name, on_file in (("printer", SHIPPED.printers), ("press", SHIPPED.presses), ("placement", SHIPPED.placements)):
        assert [value for value, _ in list_setting_choices(SHIPPED, name)] == list(on_file)
    assert [value for value, _ in list_setting_choices(SHIPPED, "papers")] == [p.alias for p in SHIPPED.papers.values()]
    assert list_setting_choices(SHIPPED, "currency") == ()
    lists = {
        n: list_setting_choices(SHIPPED, n)
        for n in ("units", "orientation", "ticket_grouping", "ticket_paper", "intent")
    }
    assert all(title for choices in lists.values() for _, title in choices)
    for at in range(max(map(len, lists.values()))):
        chosen = {name: choices[at % len(choices)][0] for name, choices in lists.items()}
        shop.change(*({"op": "setting", "name": name, "value": value} for name, value in chosen.items()))
        assert shop.file("settings.toml") == chosen


def test_a_figure_that_was_measured_goes_before_the_shipped_one(shop: Shop) -> None:
    entry = {"op": "figure", "placement": "left-chest", "garment": "hoodie adult"}
    shop.change(entry | {"what": "width", "length": "95"}, entry | {"what": "drop", "length": "200 mm"})
    held = dict[tuple[str, str], ShopValue]()
    for garment, value in list_placement_values(shop.profiles, shop.profiles.placements["left-chest"]):
        held[garment, value.name] = value
    assert held["hoodie adult", "width"].value == "95 mm"
    assert held["hoodie adult", "width"].origin == "yours"
    assert held["hoodie adult", "drop"].value == "200 mm"
    assert held["hoodie adult", "drop"].values()["from"] == "Measured by you"
    shipped = dict[tuple[str, str], str]()
    for garment, value in list_placement_values(SHIPPED, SHIPPED.placements["left-chest"]):
        shipped[garment, value.name] = value.value
    # 3.5 inches for adults and 4 at most in height: the shipped figures, as README and the docs have them.
    assert (shipped["adult", "width"], shipped["adult", "height"]) == ("88.9 mm", "101.6 mm")
    assert {key: value.value for key, value in held.items() if key[0] != "hoodie adult"} == {
        key: value for key, value in shipped.items() if key[0] != "hoodie adult"
    }


RATES: dict[str, tuple[str, Any]] = {
    "press_rate": ("18", 18), "markup": ("60 %", 0.6), "tax": ("23", 0.23), "spoilage": ("2,5", 0.025),
    "power_kw": ("1.8", 1.8), "power_cost": ("0.3", 0.3), "round_to": ("0.50", 0.5),
    "shop": ('Low "Bridge" \\ Prints', 'Low "Bridge" \\ Prints'),
    "terms": ("Half now,\nrest later", "Half now,\nrest later"),
}  # fmt: skip
SHOWN_RATES = {name: entered for name, (entered, _) in RATES.items()} | {"markup": "60", "spoilage": "2.5"}


def test_prices_are_written_as_shares_and_shown_in_per_cent(shop: Shop) -> None:
    nothing = list_price_values(SHIPPED)
    came = [value["name"] for value in nothing["values"] if value["from"] != "Not entered yet"]
    assert came == ["spoilage"], "a usual share, until the shop has counted its own"
    assert all((value["value"] == "") is (value["name"] != "spoilage") for value in nothing["values"])
    assert not nothing["own"]
    shop.change(*({"op": "price", "name": name, "value": entered} for name, (entered, _) in RATES.items()))
    assert shop.file("prices.toml") == pytest.approx({name: kept for name, (_, kept) in RATES.items()})
    told = list_price_values(shop.profiles)
    assert {value["name"]: value["value"] for value in told["values"]} == SHOWN_RATES
    assert {value["from"] for value in told["values"]} == {"Your own"}
    assert told["own"]
    assert {value["name"]: value["unit"] for value in told["values"] if value["unit"]} == {
        "press_rate": "EUR", "markup": "%", "tax": "%", "spoilage": "%", "power_cost": "EUR", "round_to": "EUR",
    }  # fmt: skip
    shop.change({"op": "price", "name": "tax", "value": " "}, {"op": "price", "name": "terms", "value": None})
    assert set(RATES) - set(shop.file("prices.toml")) == {"tax", "terms"}


def test_blanks_and_steps_are_entered_changed_and_taken_away(shop: Shop) -> None:
    shop.change(
        {"op": "price", "blank": " hoodie  adult ", "cost": "16"}, {"op": "price", "blank": "t-shirt", "cost": "4.20"},
        {"op": "price", "from": " 030 ", "off": "10"}, {"op": "price", "from": 7, "off": "2.5 %"},
    )  # fmt: skip
    told = list_price_values(shop.profiles)
    assert {blank["name"]: Decimal(blank["cost"]) for blank in told["blanks"]} == {
        "hoodie adult": 16,
        "t-shirt": Decimal("4.2"),
    }
    assert told["steps"] == [{"from": 7, "off": "2.5"}, {"from": 30, "off": "10"}]
    assert shop.file("prices.toml")["steps"] == pytest.approx({"7": 0.025, "30": 0.1})
    shop.change({"op": "price", "from": "30", "off": ""}, {"op": "price", "blank": "t-shirt", "cost": ""})
    assert list_price_values(shop.profiles)["steps"] == [{"from": 7, "off": "2.5"}]
    assert [blank["name"] for blank in list_price_values(shop.profiles)["blanks"]] == ["hoodie adult"]


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ({"op": "wish"}, "not a change"), ({}, "not a change"), ({"op": "setting", "name": "colour"}, "not a setting"),
        ({"op": "setting", "name": "ppi_warn", "value": "many"}, "is no number"),
        ({"op": "setting", "name": "tint", "value": "-1"}, "is no number"),
        ({"op": "setting", "name": "currency", "value": "euro"}, "currency"),
        ({"op": "printer", "printer": "!"}, "a printer needs a name"), ({"op": "press"}, "a press needs a name"),
        ({"op": "printer", "printer": "careful", "values": {"left": "wide"}}, "left: "),
        ({"op": "printer", "printer": "careful", "values": {"colour": "1"}}, "not a value that can be entered"),
        ({"op": "printer", "printer": "careful", "values": {"scale_x": "2"}}, "scale"),
        ({"op": "press", "press": "9x12", "values": {"seconds": "soon"}}, "seconds is no number"),
        ({"op": "press", "press": "9x12", "values": {"feed_width": "1"}}, ""),
        ({"op": "figure", "placement": "left-chest", "garment": "adult", "what": "depth", "length": "1 mm"}, "figure"),
        ({"op": "figure", "placement": "left-chest", "garment": "", "what": "drop", "length": "1 mm"}, "not a garment"),
        ({"op": "price", "name": "discount", "value": "1"}, "not a price"),
        ({"op": "price", "name": "tax", "value": "a fifth"}, "is no number"),
        ({"op": "price", "blank": "  ", "cost": "1"}, "no blank is named"),
        ({"op": "price", "from": "0", "off": "1"}, "not a number of garments"),
        ({"op": "price", "from": "100000", "off": "1"}, "not a number of garments"),
        ({"op": "price", "from": "-5", "off": "1"}, "not a number of garments"),
    ],
)  # fmt: skip
def test_what_cannot_be_entered_is_refused_and_nothing_of_the_rest_is_written(
    shop: Shop, entry: dict[str, Any], says: str
) -> None:
    with pytest.raises(Trouble) as refused:
        shop.change({"op": "setting", "name": "intent", "value": "perceptual"}, entry)
    assert says in str(refused.value)
    assert not shop.folder.exists()


def test_whatever_else_stands_in_a_file_stays(shop: Shop) -> None:
    shop.folder.mkdir()
    before = '# mine\nintent = "perceptual" # for photos\n\n# sizes\ntint = 0.03\n'
    (shop.folder / "settings.toml").write_text(before, "utf-8")
    shop.change({"op": "setting", "name": "tint", "value": "0.04"})
    assert (shop.folder / "settings.toml").read_text("utf-8") == before.replace("0.03", "0.04")
    (shop.folder / "prices.toml").write_text('tax = 0.2\n\n[blanks] # bought\n"t-shirt" = 4\n', "utf-8")
    shop.change({"op": "price", "name": "markup", "value": "50"}, {"op": "price", "blank": "hoodie", "cost": "15"})
    text = (shop.folder / "prices.toml").read_text("utf-8")
    assert tomllib.loads(text) == {"tax": 0.2, "markup": 0.5, "blanks": {"t-shirt": 4, "hoodie": 15}}
    assert "[blanks] # bought\n" in text
    (shop.folder / "settings.toml").write_text("tint = \n", "utf-8")
    with pytest.raises(Trouble):
        shop.change({"op": "setting", "name": "tint", "value": "0.04"})
    assert (shop.folder / "settings.toml").read_text("utf-8") == "tint = \n"


# --- first questions ---


def test_the_first_questions_offer_what_there_is_from_narrow_to_wide() -> None:
    questions = {question.name: question for question in list_questions(Options())}
    assert list(questions) == ["printer", "papers", "press", "units"]
    papers = [SHIPPED.find_paper(alias) for alias, _ in questions["papers"].choices]
    sheets, rolls = [p.width_mm for p in papers if not p.is_roll], [p for p in papers if p.is_roll]
    assert sheets == sorted(sheets)
    assert papers[len(sheets) :] == rolls
    titles = dict(questions["papers"].choices)
    assert titles["a4"].endswith(", 210 mm × 297 mm")  # ISO 216
    assert "×" not in titles[rolls[0].alias]
    assert [name for name, _ in questions["press"].choices] == list(SHIPPED.presses)
    found = [("studio", "Studio printer")]
    assert list_questions(Options(), found)[0].choices == tuple(found)
    assert questions["printer"].choices == questions["papers"].choices


def test_answers_are_in_force_and_paper_is_counted(shop: Shop, tmp_path: Path) -> None:
    answers = {
        "units": "in", "currency": "USD", "press": {"name": "15x15"},
        "printer": {"name": "Big one!", "widest": "a3", "address": "ipp://big.local/ipp/print"},
        "papers": [{"paper": "a4", "cost": "0.11", "left": "40"}, {"paper": "a3", "left": " "}, {"left": "9"}, "a5"],
    }  # fmt: skip
    assert answer_questions(answers, shop.folder, Options(), tmp_path / "ledger.db") == "big-one"
    settings = shop.profiles.settings
    assert (settings.units, settings.currency, settings.press, settings.printer) == ("in", "USD", "15x15", "big-one")
    assert shop.file("settings.toml")["papers"] == ["a4", "a3"]
    assert shop.file("printers.toml")["big-one"]["feed_width"] == "297 mm"  # A3 is 297 mm wide
    assert shop.file("printers.toml")["big-one"]["sublimation_ink"] is True
    assert shop.profiles.papers["a4"].cost == Decimal("0.11")
    assert "a3" not in shop.file("papers.toml")
    counted = {row.alias: row.amount for row in CountedStock(tmp_path / "ledger.db", shop.options).list_counts()}
    assert counted == {"a4": 40}


@pytest.mark.parametrize(
    ("width", "height", "press"),
    [("15 in", "15 in", "15x15"), ("383 mm", "379 mm", "15x15"), ("384.1 mm", "381 mm", "own-press"),
     ("381 mm", "384.1 mm", "own-press"), ("381 mm", "300 mm", "own-press"), ("229 mm", "305 mm", "9x12")],
)  # fmt: skip
def test_a_press_within_three_millimetres_of_one_on_file_is_that_one(
    shop: Shop, tmp_path: Path, width: str, height: str, press: str
) -> None:
    """15 by 15 inches are 381 mm square, 9 by 12 are 229 by 305."""
    answer_questions({"press": {"width": width, "height": height}}, shop.folder, Options(), tmp_path / "l.db")
    assert shop.profiles.settings.press == press
    assert (shop.folder / "presses.toml").exists() is (press == "own-press")


@pytest.mark.parametrize("answers", [
    {}, {"press": {"width": "15 in"}}, {"press": {"height": "15 in"}}, {"press": "big"}, {"printer": {}},
    {"printer": 5}, {"papers": None}, {"units": ""},
])  # fmt: skip
def test_what_is_left_open_changes_nothing(shop: Shop, tmp_path: Path, answers: dict[str, Any]) -> None:
    assert answer_questions(answers, shop.folder, Options(), tmp_path / "l.db") == ""
    assert not shop.folder.exists()


def test_a_printer_without_a_name_gets_one(shop: Shop, tmp_path: Path) -> None:
    for name in ("", "№", "own printer"):
        printer = {"name": name, "widest": "a4"}
        slug = answer_questions({"printer": printer}, shop.folder, Options(), tmp_path / "l.db")
        assert slug == "own-printer"
    assert "address" not in shop.file("printers.toml")["own-printer"]
    assert "sublimation_ink" not in shop.file("printers.toml")["own-printer"]
