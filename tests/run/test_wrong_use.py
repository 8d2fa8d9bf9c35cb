"""Wrong use of commands: refused with what is wrong and how to mend it, before anything is written or asked."""

from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from each_case import try_each
from impose.errors import Exit, Trouble
from impose.run.own_profiles import spell_number

READ = ("--read", "across=199.6 along=199.2 left=3 top=3 right=3 bottom=14")
WRONG = [
    (("calibrate", "-p", "a4", "--printer", "studio", *READ, "-o", "x.pdf"), "--read writes a profile, not a page"),
    (("calibrate", "-p", "a4", "--printer", "My Studio", *READ), "not a name for a printer"),
    (("check", "shop", "--order", "R-1"), "--order and --on go with --agreed NAME"),
    (("find", "", " "), "nothing is named that is looked for"),
    (("open", "owl.png"), "is a file, and a batch is a folder"),
    (("printers", "--copy-to", "mine"), "--copy-to needs a printer"),
    (("print", "shop", "--sheets", "two"), "--sheets: numbers are wanted"),
    (("print", "shop", "--sheets", "3,4-x"), "--sheets: numbers are wanted"),
    (("print", "shop", "--sheets", "4-2"), "--sheets: no such range"),
    (("print", "shop", "--sheets", "0"), "--sheets: no such range"),
    (("profiles", "--pack", "a.zip", "--unpack", "b.zip"), "--pack and --unpack are both given"),
    (("quote", "orders.csv", "--csv", "--json"), "--csv and --json are both given"),
    (("quote", "orders.csv", "--csv", "--blanks"), "--csv and --blanks are both given"),
    (("quote", "orders.csv", "-p", "iso_a4_100x100mm"), "A4 measures 210 x 297 mm (ISO 216)"),
    (("quote", "orders.csv", "-p", "not_a_paper"), "not a paper name of PWG 5101.1"),
    (("sheets", "owl.png", "--width", "80mm", "--columns", "map.toml"), "a column map is given, but no batch file"),
    (("guide", "--placement", "left-chest", "--garment", "hoodie adult M", "-p", "90x130mm"), "too small for a guide"),
    (("guide", "--placement", "left-chest", "--garment", "hoodie adult M", "-p", "roll-24in"), "and this is a roll"),
]


@try_each("words, says", WRONG)
def test_wrong_use_is_refused_and_nothing_is_written(words, says, run, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "shop").mkdir(exist_ok=True)
    Image.new("RGBA", (300, 300), (20, 90, 120, 255)).save(tmp_path / "owl.png")
    (tmp_path / "orders.csv").write_text("art,width\nowl.png,80mm\n", "utf-8")
    (tmp_path / "map.toml").write_text('[columns]\nart = "art"\n', "utf-8")
    before = sorted(tmp_path.rglob("*"))
    code, out, err = run(*words)
    assert code == Exit.USAGE, err
    assert says in err, err
    assert "Traceback" not in out + err
    assert sorted(tmp_path.rglob("*")) == before


@try_each("text", ["", "x", "1.2.3", "-1", "1e3", "0x10", "1234567890", "0.1234567", "½", "٣"])
def test_a_number_of_a_shop_is_digits_with_a_point_or_comma(text: str) -> None:
    assert [spell_number(text, "cost") for text in ("0.45", "0,45", " 12 ", "007")] == ["0.45", "0.45", "12", "7"]
    with pytest.raises(Trouble, match="cost is no number"):
        spell_number(text, "cost")
