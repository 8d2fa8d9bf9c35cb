"""Too little paper: what can be made now, what another paper costs, exit 4; and counts that change nothing else."""

from __future__ import annotations

import csv
import io
import json
from decimal import ROUND_CEILING, Decimal

import pytest

from conftest import draw

pytestmark = pytest.mark.usefixtures("sheets_alone")

ROWS = [
    "A,Ann,one.png,,,6,120mm,,,,",
    "B,Bo,two.png,,,2,150mm,,,,",
    "=C,Cy,one.png,,,1,60mm,,,,",
]
PICTURES = {"one.png": ("ellipse", 400, 500), "two.png": ("noise", 300, 400)}


@pytest.fixture
def source(batch):
    return batch(ROWS, PICTURES)


@pytest.fixture
def counted(tmp_path, run):
    ledger = tmp_path / "stock" / "ledger.db"

    def count(paper: str, amount: str) -> None:
        assert run("stock", paper, "--set", amount, "--ledger", ledger)[0] == 0

    def left() -> dict[str, int]:
        out = run("stock", "--json", "--ledger", ledger)[1]
        return {one["alias"]: one["left"] for one in json.loads(out)}

    return ledger, count, left


def test_sheets_draw_the_count_down_and_replacing_gives_back(source, run, counted, tmp_path):
    ledger, count, left = counted
    count("a4", "20")
    command = ("sheets", source, "-p", "a4", "-o", tmp_path / "out", "--ledger", ledger, "--no-cache")
    assert run(*command)[0] == 0
    made = len(json.loads((tmp_path / "out" / "batch.json").read_text())["sheets"])
    assert left() == {"a4": 20 - made}
    assert run(*command, "--replace")[0] == 0
    assert left() == {"a4": 20 - made}
    assert run(*command, "--replace", "--printed")[0] == 0
    assert left() == {"a4": 20 - 2 * made}


@pytest.mark.documents
def test_a_count_that_suffices_changes_no_byte(source, run, counted, tmp_path):
    ledger, count, _ = counted
    command = ("sheets", source, "-p", "a4", "-p", "a3", "--no-cache", "--ledger", ledger, "-o")
    assert run(*command, tmp_path / "free")[0] == 0
    count("a4", "50")
    count("a3", "50")
    assert run(*command, tmp_path / "counted")[0] == 0
    for path in (tmp_path / "free").rglob("*.*"):
        assert path.read_bytes() == (tmp_path / "counted" / path.relative_to(tmp_path / "free")).read_bytes()


def test_too_little_paper_says_what_can_be_made_and_what_another_costs(source, run, counted, tmp_path):
    ledger, count, left = counted
    count("a4", "4")
    own = tmp_path / "own"
    own.mkdir()
    command = ("sheets", source, "-p", "a4", "-o", tmp_path / "out", "--ledger", ledger, "--profiles", own)
    err = run(*command)[2]
    assert "no other paper in a papers.toml of the shop's own" in err, "nobody owns what only the shipped profiles know"
    (own / "papers.toml").write_text("[a3]\ncost = 0.9\n", "utf-8")
    (own / "printers.toml").write_text('[careful]\nfeed_width = "216 mm"\n', "utf-8")
    assert "-p a3" not in run(*command)[2], "297 mm are wider than the printer feeds"
    (own / "printers.toml").unlink()
    code, _, err = run(*command)
    assert code == 4
    assert not (tmp_path / "out").exists()
    assert "takes 8 sheets of a4, but only 4 sheets are left" in err
    assert "transfers now" in err
    assert "takes the whole batch" in err
    assert "EUR of paper" in err
    assert "-p " in err
    assert left() == {"a4": 4}


def test_what_is_left_of_one_paper_is_mixed_with_another(source, run, counted, tmp_path):
    ledger, count, left = counted
    count("a4", "4")
    command = ("sheets", source, "-p", "a4", "-p", "a3", "-o", tmp_path / "out", "--ledger", ledger)
    assert run(*command, "--sheet-handling", "0", "--paper-change", "0")[0] == 0
    record = json.loads((tmp_path / "out" / "batch.json").read_text())
    sheets = {paper["name"]: paper["sheets"] for paper in record["paper"]}
    assert sheets["iso_a4_210x297mm"] <= 4
    assert left() == {"a4": 4 - sheets["iso_a4_210x297mm"]}
    assert len([t for s in record["sheets"] for t in s["transfers"]]) == 9


@pytest.mark.parametrize("size", ["50 mm", "61.7 mm", "33.333 mm", "2 7/16 in", "5.1 cm"])
def test_what_a_piece_of_roll_costs_is_what_its_transfers_share(run, tmp_path, size):
    """Whoever cuts by the record's length and pays by the metre comes to the same, to the millionth, rounded up."""
    picture = tmp_path / "one.png"
    draw("ellipse", 317, 411).save(picture)
    out = tmp_path / "out"
    assert run("sheets", picture, "--width", size, "--copies", "3", "-p", "roll-24in", "-o", out)[0] == 0
    record = json.loads((out / "batch.json").read_text("utf-8"))
    shared = sum(Decimal(one["cost"]) for sheet in record["sheets"] for one in sheet["transfers"])
    assert shared == Decimal(record["cost"]) == Decimal(record["money"]["paper"]) == Decimal(record["paper"][0]["cost"])
    price = Decimal("1.90")  # a metre of roll-24in, as shipped
    lengths = [Decimal(str(sheet["height_mm"])) for sheet in record["sheets"]]
    by_hand = sum((price * mm / 1000).quantize(Decimal("0.000001"), ROUND_CEILING) for mm in lengths)
    assert shared == by_hand


def test_a_roll_is_drawn_by_length(source, run, counted, tmp_path):
    ledger, count, left = counted
    count("roll-24in", "3m")
    assert run("sheets", source, "-p", "roll-24in", "-o", tmp_path / "out", "--ledger", ledger)[0] == 0
    record = json.loads((tmp_path / "out" / "batch.json").read_text())
    long = sum(sheet["height_mm"] for sheet in record["sheets"])
    assert left() == {"roll-24in": pytest.approx(3_000_000 - long * 1000, abs=2)}


def test_stock_refuses_in_words(run, counted):
    ledger, count, _ = counted
    assert run("stock", "a4", "--add", "3", "--ledger", ledger)[0] == 2
    assert not ledger.exists()
    count("a4", "3")
    for wrong in (("--set", "-1"), ("--set", "1.5"), ("--add", "many"), ("--set", "3", "--add", "1")):
        code, _, err = run("stock", "a4", *wrong, "--ledger", ledger)
        assert code == 2
        assert "stop:" in err
    assert run("stock", "--set", "3", "--ledger", ledger)[0] == 2
    assert run("stock", "nothing-of-the-kind", "--set", "3", "--ledger", ledger)[0] == 2
    ledger.write_bytes(b"no ledger" * 1000)
    assert run("stock", "--ledger", ledger)[0] == 5
    assert run("stock", "a4", "--set", "3", "--ledger", ledger)[0] == 5


def test_a_quote_as_csv_is_read_back_whole_and_runs_nothing(source, run, counted):
    code, out, _ = run("quote", source, "-p", "a4", "-p", "a3", "--csv")
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out, newline="")))
    for papers in ("a4", "a3", "a4 + a3"):
        mine = [row for row in rows if row["papers"] == papers]
        whole = next(row for row in mine if row["level"] == "batch")
        for column in ("paper", "paper_used", "ink", "total", "ink_ml"):
            for level in ("order", "garment", "transfer"):
                parts = [Decimal(row[column]) for row in mine if row["level"] == level]
                assert sum(parts) == Decimal(whole[column]), (papers, column, level)
        assert Decimal(whole["alone_paper"]) >= Decimal(whole["paper"])
    # OWASP, CSV Injection: no cell begins with = + - @ tab or carriage return.
    assert any(row["order"] == "'=C" for row in rows)
    assert not [cell for row in rows for cell in row.values() if cell[:1] in tuple("=+-@\t\r")]


def test_a_quote_says_which_paper_does_not_last(source, run, counted):
    ledger, count, _ = counted
    count("a4", "1")
    code, out, _ = run("quote", source, "-p", "a4", "-p", "a3", "--ledger", ledger)
    assert code == 0
    assert "takes 8 sheets of a4, but only 1 sheet is left" in out
