"""Work has a price beside the paper: settings, quote, record and summary, by sums that a clerk does by hand."""

from __future__ import annotations

import csv
import io
import json

import pytest

from conftest import draw
from impose.nest import Rectangle, Stock, nest
from impose.run import Options
from impose.run.handling_choice import HandlingRates, nest_with_handling
from impose.values import replace

pytestmark = pytest.mark.usefixtures("sheets_alone")

# A4 0.15 and 13 x 19 in 0.52 as shipped. 28 prints, with 14 mm of margin on every side: 15 fill a sheet of 13 x 19 in
# each; 13 of 150 x 270 mm fill an A4 each (two are 300 mm across), or lie three to a sheet of 13 x 19 in.
PAPER_ALONE = {"sheets": {"13x19": 15, "a4": 13}, "cost": "9.75"}  # 15 * 0.52 + 13 * 0.15
ONE_PAPER = {"13x19": 20}  # 15 + 13 / 3 rounded up; 10.40


@pytest.fixture
def evening(tmp_path):
    draw("noise", 122, 242).save(tmp_path / "tall.png", compress_level=1)
    draw("noise", 280, 420).save(tmp_path / "back.png", compress_level=1)
    path = tmp_path / "evening.csv"
    path.write_text("order,art,width,copies\nA,tall.png,122 mm,13\nB,back.png,280 mm,15\n", "utf-8")
    return path


PAPERS = ("-p", "13x19", "-p", "a4", "--steps", "300")


def test_a_quote_shows_the_cheapest_paper_and_the_best_with_its_handling(run, evening):
    """9.75 + 28 * 0.10 + 1.00 is 13.55; 10.40 + 20 * 0.10 is 12.40."""
    code, out, _ = run("quote", evening, *PAPERS, "--json")
    assert code == 0
    told = json.loads(out)
    assert told["least_paper"] == {**PAPER_ALONE, "handling": "3.80"}
    (best,) = (offer for offer in told["offers"] if offer["best"])
    assert ({name: n for name, n in best["sheets"].items() if n}, best["cost"]) == (ONE_PAPER, "10.40")
    assert best["handling"]["cost"] == "2.00"
    code, out, _ = run("quote", evening, *PAPERS, "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    whole = {row["papers"]: row["handling"] for row in rows if row["level"] == "batch" and row["best"] == "yes"}
    assert list(whole.values()) == ["2.00"]
    assert {row["handling"] for row in rows if row["level"] != "batch"} == {""}
    code, out, _ = run("quote", evening, *PAPERS)
    assert "cheapest paper alone: 15 13x19, 13 a4; paper 9.75, handling 3.80, together 13.55 EUR" in sorted_papers(out)
    assert "best with handling: 20 13x19; paper 10.40, handling 2.00, together 12.40 EUR" in out


def sorted_papers(text):
    """The order in which papers are named is the nesting's affair."""
    return text.replace("13 a4, 15 13x19", "15 13x19, 13 a4")


@pytest.mark.parametrize(
    ("said", "cost", "handling", "sheets"),
    [
        (("--sheet-handling", "0", "--paper-change", "0"), "9.75", "0.00", 28),
        (("--sheet-handling", "0.01", "--paper-change", "0.05"), "9.75", "0.33", 28),  # 10.40 + 0.20 is dearer
        (("--sheet-handling", "0.01"), "10.40", "0.20", 20),  # 9.75 + 0.28 + 1.00
        ((), "10.40", "2.00", 20),
    ],
)
def test_what_is_made_costs_least_with_its_handling(run, tmp_path, evening, said, cost, handling, sheets):
    code, out, _ = run("sheets", evening, *PAPERS, *said, "-o", tmp_path / "made")
    assert code == 0
    record = json.loads((tmp_path / "made" / "batch.json").read_text("utf-8"))
    assert (record["cost"], record["handling"]["cost"], len(record["sheets"])) == (cost, handling, sheets)
    assert (f"handling: {handling} EUR" in out) is (handling != "0.00")
    other = record["handling"]["least_paper"]
    assert (other is not None) is (cost != "9.75")
    if other is not None:
        assert other["cost"] == "9.75"
        assert "cheapest paper alone: 28 sheets of 2 papers, 9.75 EUR" in out


@pytest.mark.parametrize("dearer", [0, 10**9])
def test_sheets_that_are_only_counted_are_not_tidied(monkeypatch, dearer):
    """The evening above. Were what is made for less work dearer, the cheapest paper would be made, and tidied."""
    asked = []

    def watch_nest(*given, **said):
        asked.append(said["tidy"])
        found = nest(*given, **said)
        return replace(found, handling=found.handling + dearer) if len(asked) == 1 else found

    monkeypatch.setattr("impose.run.handling_choice.nest", watch_nest)
    small, large = Stock("a4", 204_000, 291_000, 150_000), Stock("13x19", 324_000, 477_000, 520_000)
    stocks = [replace(stock, handling=100_000) for stock in (small, large)]
    tall = [Rectangle(f"a{n}", 150_000, 270_000, together=f"g{n}") for n in range(13)]
    pieces = tall + [Rectangle(f"b{n}", 308_000, 448_000, together=f"g{n}") for n in range(15)]
    rates = HandlingRates(100_000, 1_000_000)
    made, told = nest_with_handling(pieces, stocks, rates, False, Options(steps=300))
    if dearer:
        assert (asked, told, made.cost) == ([True, False, True], None, 9_750_000)
        assert made.sheets == nest(pieces, [small, large], steps=300).sheets
    else:
        assert (asked, told.cost, made.cost) == ([True, False], 9_750_000, 10_400_000)


def test_a_reprint_weighs_work_as_its_record_did(run, tmp_path, evening):
    free = ("--sheet-handling", "0", "--paper-change", "0")
    assert run("sheets", evening, *PAPERS, *free, "-o", tmp_path / "made", "-q")[0] == 0
    options = json.loads((tmp_path / "made" / "batch.json").read_text("utf-8"))["options"]
    assert (options["sheet_handling"], options["paper_change"]) == ("0", "0")
    code, _, _ = run("reprint", tmp_path / "made", "--order", "A", "--steps", "50", "-o", tmp_path / "again", "-q")
    assert code == 0
    again = json.loads((tmp_path / "again" / "batch.json").read_text("utf-8"))
    assert (again["options"]["sheet_handling"], again["cost"], again["handling"]["cost"]) == ("0", "1.95", "0.00")


def test_settings_of_the_shop_and_the_environment_are_heard(run, tmp_path, evening, monkeypatch):
    own = tmp_path / "own"
    own.mkdir()
    (own / "settings.toml").write_text("sheet_handling = 0\npaper_change = 0\n", "utf-8")
    code, out, _ = run("quote", evening, *PAPERS, "--profiles", own, "--json")
    assert (code, json.loads(out)["least_paper"]) == (0, None)
    monkeypatch.setenv("IMPOSE_PAPER_CHANGE", "30")
    code, out, _ = run("quote", evening, *PAPERS, "--profiles", own, "--json")
    assert json.loads(out)["least_paper"]["handling"] == "30.00"
    code, _, err = run("quote", evening, *PAPERS, "--sheet-handling", "dear")
    assert code == 2
    assert "has to be a number" in err


def test_work_on_paper_without_a_price_decides_nothing(run, tmp_path, evening):
    """By area: twelve tall prints on four large sheets and one on an A4 take less than five large ones."""
    code, out, _ = run("quote", evening, "-p", "330x482mm", "-p", "a4", "--steps", "300", "--json")
    assert code == 0
    mix = json.loads(out)["offers"][-1]
    assert sorted(mix["sheets"].values()) == [1, 19]
    assert mix["handling"]["cost"] == "0.00"


def test_visits_are_counted_from_the_record(run, tmp_path):
    """Two hoodies of three prints: each garment and sheet that belong together is one visit."""
    draw("noise", 90, 90).save(tmp_path / "owl.png")
    rows = [f"A,W{n},owl.png,{w} mm,T-shirt adult L" for n in range(2) for w in (90, 120, 160)]
    (tmp_path / "evening.csv").write_text("\n".join(["order,wearer,art,width,garment", *rows]) + "\n", "utf-8")
    code, out, _ = run("sheets", tmp_path / "evening.csv", "-p", "a4", "-o", tmp_path / "made", "--steps", "200")
    assert code == 0
    record = json.loads((tmp_path / "made" / "batch.json").read_text("utf-8"))
    seen = {(one["wearer"], sheet["sheet"]) for sheet in record["sheets"] for one in sheet["transfers"]}
    assert (record["handling"]["garments"], record["handling"]["visits"]) == (2, len(seen))
    assert f"2 garments with several prints find them in {len(seen)} visits" in out
