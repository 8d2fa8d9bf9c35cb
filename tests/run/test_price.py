"""What is charged: sums worked out anew in exact fractions, unknown costs named, offers that tell no cost."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pypdfium2
import pytest

from each_case import try_each
from impose.cli.output import encode_json
from impose.profiles.currencies import count_minor_digits, find_minor_unit, format_minor
from impose.run.price import COUNTED_FROM
from impose.sheet.charges import round_half_up

pytestmark = pytest.mark.usefixtures("sheets_alone")

PRICES = """
press_rate = 17.77
power_kw = 1.9
power_cost = 0.313
markup = 0.6137
tax = 0.23
spoilage = 0.05
round_to = 0.05
shop = "Low Bridge Prints"
[blanks]
"t-shirt" = 4.19
"t-shirt youth" = 3.71
"hoodie adult navy" = 21.03
"hoodie adult" = 15.97
[steps]
3 = 0.05
6 = 0.10
"""
PICTURES = {"owl.png": ("ellipse", 200, 200)}
CREW = "A-1,crew,owl.png,left-chest,T-shirt adult M,{count},60mm,,,,"


@pytest.fixture
def shop(tmp_path) -> Path:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "prices.toml").write_text(PRICES)
    return folder


@pytest.fixture
def made(batch, run, tmp_path):
    """Make sheets of some rows; returns the output folder."""

    def make(*rows: str, name: str = "out", more: tuple[str, ...] = (), heading: str | None = None) -> Path:
        source = batch(list(rows), PICTURES, heading)
        code, _, err = run("sheets", source, "-o", tmp_path / name, "--steps", 20, *more)
        assert code == 0, err
        return tmp_path / name

    return make


def price(run, folder: Path, shop: Path, *more: Any) -> dict[str, Any]:
    code, out, err = run("price", folder, "--profiles", shop, "--json", "--no-offers", *more)
    assert code == 0, err
    return json.loads(out)


def test_an_order_is_priced_as_worked_out_by_hand(made, run, shop):
    """Two T-shirts alike. By hand, by the rules of the money page: every cost exact, then one rounding.

    Press: presses.toml has 40 s closed, 10 s rest, 5 s before; 60 s of handling and 30 s of turning: 145 s a garment.
    """
    folder = made(CREW.format(count=2))
    record = json.loads((folder / "batch.json").read_text())
    prints = [transfer for sheet in record["sheets"] for transfer in sheet["transfers"]]
    paper = sum(Fraction(t["cost"]) for t in prints)
    ink = sum(Fraction(t["ink_cost"]) for t in prints)
    handling = Fraction(record["handling"]["cost"])
    seconds = 2 * 145
    work = Fraction("17.77") * seconds / 3600
    power = Fraction("1.9") * Fraction("0.313") * seconds / 3600
    blanks = 2 * Fraction("4.19")

    def up(amount: Fraction) -> Fraction:
        """Rounded up to a whole millionth, once for the batch."""
        return Fraction(-(-amount * 1_000_000 // 1), 1_000_000)

    before = blanks + paper + ink + handling + up(work) + up(power)
    spoilage = up(before / 20)
    unit = (before + spoilage) / 2 * (1 + Fraction("0.6137"))
    unit = (unit / Fraction("0.05") + Fraction(1, 2)) // 1 * Fraction("0.05")
    tax = Fraction((2 * unit * Fraction("0.23") * 100 + Fraction(1, 2)) // 1, 100)

    told = price(run, folder, shop)
    (order,) = told["orders"]
    (line,) = order["lines"]
    assert Fraction(line["unit"]) == unit
    assert Fraction(order["net"]) == 2 * unit
    assert Fraction(order["tax"]) == tax
    assert Fraction(order["total"]) == 2 * unit + tax
    assert Fraction(order["costs"]["total"]) == before + spoilage
    assert order["seconds"] == seconds


def test_costs_add_up_exactly_from_garment_to_batch(made, run, shop):
    rows = [
        "A-1,Ann,owl.png,left-chest,T-shirt youth M,,40mm,,,,",
        "A-1,Bo,owl.png,full-front,T-shirt adult M,,71mm,,,,",
        "B-2,,owl.png,left-chest,hoodie adult L,7,33mm,,,,",
        ",Cy,owl.png,left-chest,T-shirt adult S,,50mm,,,,",
    ]
    told = price(run, made(*rows), shop)
    parts = [name for name in told["costs"] if name != "total"]
    assert set(parts) == {"blank", "paper", "ink", "handling", "press", "power", "spoilage"}
    for name in [*parts, "total"]:
        of_orders = [Decimal(order["costs"][name]) for order in told["orders"]]
        assert sum(of_orders) == Decimal(told["costs"][name])
        for order in told["orders"]:
            garments = [garment for line in order["lines"] for garment in line["garments"]]
            assert sum(Decimal(garment["costs"][name]) for garment in garments) == Decimal(order["costs"][name])
    assert [(order["order"], order["garments"]) for order in told["orders"]] == [("A-1", 2), ("B-2", 7), ("", 1)]
    assert sum(Decimal(told["costs"][name]) for name in parts) == Decimal(told["costs"]["total"])


@pytest.mark.parametrize(("count", "off"), [(2, "0"), (3, "0.05"), (5, "0.05"), (6, "0.1")])
def test_a_step_holds_from_its_number_on(made, run, shop, count, off):
    told = price(run, made(CREW.format(count=count)), shop)
    (order,) = told["orders"]
    assert Decimal(order["share_off"]) == Decimal(off)
    steps = {int(key): Decimal(value) for key, value in order["lines"][0]["steps"].items()}
    if count >= 3:
        assert Decimal(order["lines"][0]["unit"]) == steps[6 if count >= 6 else 3]


def test_the_blank_is_that_of_the_entry_that_says_most(made, run, shop):
    heading = "order,wearer,art,garment,width,cloth_colour,accept"
    rows = [
        "A-1,Ann,owl.png,T-shirt adult M,40mm,,",
        "A-1,Bo,owl.png,T-shirt youth M,40mm,,",
        "A-1,Cy,owl.png,hoodie adult M,40mm,Navy,dark-cloth",
        "A-1,Di,owl.png,hoodie adult M,40mm,white,",
    ]
    told = price(run, made(*rows, heading=heading), shop)
    garments = [garment for line in told["orders"][0]["lines"] for garment in line["garments"]]
    blanks = {garment["wearer"]: garment["costs"]["blank"] for garment in garments}
    assert blanks == {"Ann": "4.19", "Bo": "3.71", "Cy": "21.03", "Di": "15.97"}


def test_what_is_unknown_is_named_and_nothing_is_priced(made, run, tmp_path):
    folder = made(CREW.format(count=2), "A-1,Zoe,owl.png,left-chest,polo adult L,,60mm,,,,")
    code, out, err = run("price", folder)
    assert code == 2
    for what in ("press_rate", "power_kw", "power_cost", "markup", "tax", '"t-shirt adult M"', '"polo adult L"'):
        assert what in err
    assert "to charge" not in out
    assert "no price" in out
    assert not (folder / "offers").exists()
    told = json.loads(run("price", folder, "--json")[1])
    assert told["orders"][0]["total"] is None
    assert "blank" not in told["costs"]
    assert len(told["missing"]) == 7


def test_a_cost_of_nothing_is_not_an_unknown_one(made, run, tmp_path):
    mine = tmp_path / "free"
    mine.mkdir()
    keys = ("press_rate", "power_kw", "power_cost", "markup", "tax", "spoilage")
    (mine / "prices.toml").write_text("\n".join(f"{key} = 0" for key in keys) + '\n[blanks]\n"t-shirt" = 0\n')
    told = price(run, made(CREW.format(count=2)), mine)
    costs = told["costs"]
    assert costs["press"] == costs["power"] == costs["blank"] == costs["spoilage"] == "0.00"
    assert Decimal(costs["total"]) == sum(Decimal(costs[name]) for name in ("paper", "ink", "handling"))
    assert Decimal(told["orders"][0]["tax"]) == 0


def test_paper_and_ink_without_a_price_are_unknown(made, run, shop):
    (shop / "papers.toml").write_text("[a4]\ncost = 0\n")
    (shop / "printers.toml").write_text("[careful]\nink_cost = 0\n")
    folder = made(CREW.format(count=1), more=("--profiles", str(shop)))
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "paper of this batch had no cost" in err
    assert "handling" in err


def test_amounts_of_two_currencies_are_not_added_up(made, run, shop):
    folder = made(CREW.format(count=1))
    (shop / "settings.toml").write_text('currency = "GBP"\n')
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "EUR" in err
    assert "GBP" in err


def test_prices_that_cannot_be_meant_are_refused_with_their_place(made, run, tmp_path):
    mine = tmp_path / "bad"
    mine.mkdir()
    (mine / "prices.toml").write_text(
        'tax = 23\nmarkup = -1\nround_to = 0\nmarkupp = 1\n[blanks]\n"hoody adlt" = 3\n"navy" = 2\n'
        '"tee" = 4\n"t-shirt" = 5\n[steps]\n1 = 0.1\n012 = 0.2\n'
    )
    code, _, err = run("price", made(CREW.format(count=1)), "--profiles", mine)
    assert code == 2
    for key in ("tax", "markup", "round_to", "markupp", "navy", "key 1"):
        assert f"{key}" in err
    assert "names the same blank" in err


# ISO 4217:2015, list one (SIX, "Current currency and funds code list"): the column "minor unit". From memory.
MINOR_UNITS = {"EUR": 2, "USD": 2, "GBP": 2, "CHF": 2, "JPY": 0, "KRW": 0, "ISK": 0, "VND": 0, "XAF": 0, "CLP": 0,
               "KWD": 3, "BHD": 3, "TND": 3, "OMR": 3, "JOD": 3, "HUF": 2, "CZK": 2, "CLF": 4}  # fmt: skip


@try_each("code, digits", MINOR_UNITS.items())
def test_minor_units_are_those_of_the_standard(code, digits):
    assert count_minor_digits(code) == digits
    assert find_minor_unit(code) * 10**digits == 1_000_000


def test_halves_are_rounded_up_and_shown_in_the_minor_unit():
    assert [round_half_up(Fraction(n, 2), 1) for n in (0, 1, 2, 3, 5)] == [0, 1, 1, 2, 3]
    assert round_half_up(Fraction(1_025_000), 50_000) == 1_050_000
    assert [format_minor(1_234_500, code) for code in ("JPY", "EUR", "KWD")] == ["1", "1.23", "1.235"]


def test_prices_in_a_currency_without_minor_units(made, run, shop):
    text = PRICES.replace("round_to = 0.05\n", "")
    (shop / "prices.toml").write_text(text)
    (shop / "settings.toml").write_text('currency = "JPY"\n')
    folder = made(CREW.format(count=3), more=("--profiles", str(shop)))
    (order,) = price(run, folder, shop)["orders"]
    for amount in (order["lines"][0]["unit"], order["net"], order["tax"], order["total"]):
        assert Decimal(amount) == int(Decimal(amount))
    (shop / "prices.toml").write_text(text + "\n", "utf-8")
    (shop / "prices.toml").write_text(f"round_to = 0.5\n{text}")
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "smallest coin of JPY" in err


def read_offer(path: Path) -> str:
    """All that an offer says: of a PDF its text by pdfium, and its bytes as they are."""
    if path.suffix == ".html":
        return path.read_text("utf-8")
    with pypdfium2.PdfDocument(path) as document:
        pages = [page.get_textpage().get_text_bounded() for page in document]
    return "\n".join(pages) + path.read_bytes().decode("latin-1")


def test_an_offer_shows_prices_and_never_a_cost_or_the_mark_up(made, run, shop):
    folder = made(CREW.format(count=4), "A-1,Zoe,owl.png,full-front,hoodie adult L,,70mm,,,,")
    told = price(run, folder, shop)
    code, out, err = run("price", folder, "--profiles", shop)
    assert code == 0, err
    (order,) = told["orders"]
    secrets = {"17.77", "1777", "0.6137", "61.37", "6137", "0.313", "4.19", "15.97", order["costs"]["total"]}
    secrets |= {f"{Decimal(amount):.2f}" for amount in order["costs"].values()}
    secrets |= {f"{Decimal(g['costs']['total']):.2f}" for line in order["lines"] for g in line["garments"]}
    shown = {f"{Decimal(order[key]):.2f}" for key in ("net", "tax", "total")}
    shown |= {f"{Decimal(line[key]):.2f}" for line in order["lines"] for key in ("unit", "amount")}
    for name in ("a-1.html", "a-1.pdf"):
        text = read_offer(folder / "offers" / name)
        words = re.sub(r"data:[^\"]*|<style>.*?</style>|%PDF.*", "", text, flags=re.S)
        numbers = set(re.findall(r"[0-9]+(?:\.[0-9]+)?", words))
        assert shown <= numbers, name
        assert not secrets - shown & numbers, name
        for word in ("markup", "mark-up", "cost", "spoil", "power"):
            assert word not in words.casefold().replace("no costs", ""), (name, word)
        assert "Low Bridge Prints" in words
    with pypdfium2.PdfDocument(folder / "offers" / "a-1.pdf") as document:
        assert len(document) == 1
    assert str(folder / "offers" / "a-1.pdf") in out


def test_an_offer_has_the_reference_of_the_page_for_approval_and_the_customers_own_custom(made, run, shop):
    folder = made(CREW.format(count=4))
    approval = (folder / "approval" / "a-1.html").read_text("utf-8")
    (reference,) = set(re.findall(r"reference ([0-9A-Z]{4}-[0-9A-Z]{4})", approval))
    (shop / "texts.toml").write_text(
        '[custom]\nlanguage = "de"\ndecimal = ","\nthousands = "."\n[offer]\ntotal = "Zu zahlen"\n'
    )
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 0, err
    (order,) = price(run, folder, shop)["orders"]
    for name in ("a-1.html", "a-1.pdf"):
        text = read_offer(folder / "offers" / name)
        assert reference in text
        assert "Zu zahlen" in text
        assert f"{Decimal(order['total']):.2f}".replace(".", ",") in text


def test_offers_are_the_same_bytes_again_and_are_not_overwritten_unasked(made, run, shop):
    folder = made(CREW.format(count=2))
    assert run("price", folder, "--profiles", shop)[0] == 0
    offers = {path.name: path.read_bytes() for path in (folder / "offers").iterdir()}
    assert set(offers) == {"a-1.html", "a-1.pdf"}
    assert run("price", folder, "--profiles", shop)[0] == 0
    (shop / "prices.toml").write_text(PRICES.replace("markup = 0.6137", "markup = 0.9"))
    code, out, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "to charge" in out
    assert "say something else" in err
    assert {path.name: path.read_bytes() for path in (folder / "offers").iterdir()} == offers
    assert run("price", folder, "--profiles", shop, "--replace")[0] == 0
    assert (folder / "offers" / "a-1.html").read_bytes() != offers["a-1.html"]


def test_offers_outlive_a_delivery_that_is_replaced(made, run, shop, tmp_path):
    folder = made(CREW.format(count=2))
    assert run("price", folder, "--profiles", shop)[0] == 0
    before = (folder / "offers" / "a-1.pdf").read_bytes()
    made(CREW.format(count=3), more=("--replace",))
    assert (folder / "offers" / "a-1.pdf").read_bytes() == before
    record = json.loads((folder / "batch.json").read_text())
    assert not [name for name in record["files"] if name.startswith("offers")]


def test_names_of_any_script_or_malice_are_only_text(made, run, shop):
    heading = "order,wearer,art,garment,width"
    rows = [
        '"<script>alert(1)</script> & Söhne",Дарина,owl.png,T-shirt adult M,40mm',
        '"../../etc/=cmd",مريم,owl.png,T-shirt adult M,40mm',
    ]
    folder = made(*rows, heading=heading)
    (shop / "prices.toml").write_text(PRICES.replace('"Low Bridge Prints"', '"<b>مطبعة</b> & co"'))
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 0, err
    assert {path.parent for path in (folder / "offers").rglob("*")} == {folder / "offers"}
    for page in (folder / "offers").glob("*.html"):
        text = page.read_text("utf-8")
        assert "<script" not in text
        assert "<b>" not in text
        assert "default-src &#39;none&#39;" in text


def test_artwork_that_is_gone_or_another_makes_no_offer(made, run, shop, tmp_path):
    folder = made(CREW.format(count=1))
    owl = tmp_path / "owl.png"
    kept = owl.read_bytes()
    owl.unlink()
    code, out, err = run("price", folder, "--profiles", shop)
    assert code == 3
    assert "to charge" in out
    assert "not found" in err
    from conftest import draw

    draw("noise", 200, 200).save(owl)
    code, _, err = run("price", folder, "--profiles", shop, "--no-cache")
    assert code == 3
    assert "has changed" in err
    owl.write_bytes(kept)
    assert run("price", folder, "--profiles", shop)[0] == 0


def test_prints_made_again_are_charged_nothing(made, run, shop, tmp_path):
    folder = made(CREW.format(count=2))
    assert run("reprint", folder, "--only", "T001", "-o", tmp_path / "one", "--steps", 20)[0] == 0
    assert run("reprint", folder, "--garment", "T002", "-o", tmp_path / "two", "--steps", 20)[0] == 0
    single, whole = price(run, tmp_path / "one", shop), price(run, tmp_path / "two", shop)
    for told in (single, whole):
        assert told["charged"] is False
        assert told["orders"][0]["total"] is None
        assert told["costs"]["spoilage"] == "0.00"
    assert single["costs"]["blank"] == "0.00"
    assert whole["costs"]["blank"] == "4.19"
    code, out, _ = run("price", tmp_path / "two", "--profiles", shop)
    assert code == 0
    assert "Nothing is charged" in out
    assert not (tmp_path / "two" / "offers").exists()


def test_records_that_are_none_or_were_edited_are_refused(made, run, shop, tmp_path):
    folder = made(CREW.format(count=1))
    record = json.loads((folder / "batch.json").read_text())
    record["sheets"][0]["transfers"][0]["cost"] = "a lot"
    (folder / "batch.json").write_text(encode_json(record))
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "damaged" in err
    assert run("price", tmp_path / "nowhere", "--profiles", shop)[0] == 5


def test_a_record_of_an_earlier_version_is_priced_or_says_what_it_lacks(made, run, shop):
    folder = made(CREW.format(count=1))
    record = json.loads((folder / "batch.json").read_text())
    del record["handling"]
    for transfer in record["sheets"][0]["transfers"]:
        del transfer["ink_cost"], transfer["measured"]
    (folder / "batch.json").write_text(encode_json(record))
    code, _, err = run("price", folder, "--profiles", shop)
    assert code == 2
    assert "handling" in err
    assert "ink" in err


def test_fifty_prints_made_again_are_what_spoilage_begins_with():
    assert COUNTED_FROM == 50
