"""An evening at the shop: looked over, compared, made, charged, counted, spoiled, made again, found a year later."""

from __future__ import annotations

from importlib import resources

import pytest

from answers.pictures import PICTURES, draw_disc
from approved_answers import Told

pytestmark = pytest.mark.usefixtures("sheets_alone")

ORDERS = """
    order,wearer,art,words,font,placement,garment,copies,width,height,tear,centre,may_turn,note,cloth,cloth_colour
    OW-1 Stewards,Inge,art/owl.png,,,full-back,hoodie adult M,,200 mm,,,,,,polyester,white
    OW-1 Stewards,Inge,art/crest.png,,,left-chest,hoodie adult M,,,,,,,By the seam,polyester,white
    OW-1 Stewards,Inge,,INGE,"outlined, letters 30 mm",upper-back,T-shirt adult M,,,,,,,,,
    OW-1 Stewards,Pip,art/owl.png,,,full-back,hoodie youth M,,170 mm,,,,no,,80% polyester 20% cotton,white
    OW-2 Rowers,,art/crest.png,,,left-chest,long-sleeved T-shirt adult L,5,3.5 in,,tight,,,,,cream
    OW-2 Rowers,,art/band.png,,,right-long-sleeve,long-sleeved T-shirt adult L,5,9 in,,tight,mass,,,,cream
"""
PRICES = """
    press_rate = 18.00
    power_kw = 1.8
    power_cost = 0.30
    spoilage = 0.05
    markup = 0.60
    tax = 0.20
    round_to = 0.50
    shop = "Low Bridge Prints, 4 Quay Lane"
    terms = "Half is due with the order."
    [blanks]
    "hoodie" = 16.00
    "hoodie youth" = 13.50
    "t-shirt" = 4.20
    "long-sleeve adult L cream" = 7.10
    [steps]
    3 = 0.05
    12 = 0.10
"""


def lay_evening(told: Told, orders: str = ORDERS) -> None:
    told.draw("art/owl.png", draw_disc(150).resize((150, 190)))
    told.draw("art/crest.png", draw_disc(110, colour=(20, 60, 120, 255)))
    told.draw("art/band.png", PICTURES["wide"]())
    told.write("orders.csv", orders)


def test_evening(told: Told) -> None:
    lay_evening(told)
    told.ask("check orders.csv -p 13x19")
    told.ask("quote orders.csv -p a4 -p 13x19 --steps 50")
    told.ask("sheets orders.csv -p a4 -p 13x19 --steps 50 -v --ledger shop.db")
    told.list_files("orders-sheets")
    told.show_file("orders-sheets/batch.json", "warnings")
    told.show_file("orders-sheets/reprint.csv")
    told.show_file("orders-sheets/blanks.csv")
    told.ask("sheets orders.csv -p a4 -p 13x19 --steps 50 --ledger shop.db")
    told.ask("sheets orders.csv -p a4 -p 13x19 --steps 50 --ledger shop.db --replace -q")
    told.ask("check orders-sheets --agreed Inge --on 2026-11-28")
    told.ask("check orders-sheets --agreed Inge --order 'OW-1 Stewards' --on 2026-11-28")
    told.write("orders.csv", ORDERS.replace("200 mm", "210 mm"))
    told.ask("check orders.csv -p 13x19 -v")


def test_quote_as_data(told: Told) -> None:
    lay_evening(told)
    told.ask("quote orders.csv -p a4 -p 13x19 --steps 50 --json")
    told.ask("quote orders.csv -p a4 -p 13x19 --steps 50 --csv")
    told.ask("quote orders.csv -p 13x19 --blanks --units in")
    told.ask("quote orders.csv -p a4 -p a3 -p letter --steps 50 --straight-cuts --keep-upright --oversize panels")
    told.ask("quote orders.csv -p a4 --steps 50 --oversize shrink --sheet-handling 0 --paper-change 0 --swatches")
    told.ask("quote orders.csv -p 330x483mm -p nothing --steps 50")
    told.ask("quote orders.csv -p 330x483mm --steps 50 --units in")


def test_price(told: Told) -> None:
    lay_evening(told)
    told.ask("sheets orders.csv -p 13x19 --steps 50 -q --ledger shop.db")
    told.ask("price orders-sheets --ledger shop.db")
    told.write("mine/prices.toml", PRICES)
    told.ask("price orders-sheets --ledger shop.db --profiles mine --no-offers")
    told.ask("price orders-sheets --ledger shop.db --profiles mine --json")
    told.list_files("orders-sheets/offers")
    told.ask("price orders-sheets --ledger shop.db --profiles mine")
    told.write("mine/prices.toml", PRICES.replace("tax = 0.20", "tax = 0").replace("round_to = 0.50", ""))
    told.ask("price orders-sheets --ledger shop.db --profiles mine")
    told.write(
        "mine/prices.toml", PRICES.replace("0.60", "-1").replace("press_rate", "pres_rate").replace("3 =", "x =")
    )
    told.ask("price orders-sheets --ledger shop.db --profiles mine")
    told.ask("price nowhere --ledger shop.db")


def test_stock(told: Told) -> None:
    lay_evening(told)
    told.write(
        "mine/papers.toml",
        """
        [roll]
        name = "roll_sublimation_24x0in"
        cost = 1.75
        max_length = "1000 mm"
    """,
    )
    told.ask("stock --ledger shop.db")
    told.ask("stock 13x19 --set 3 --because 'a new pack' --ledger shop.db")
    told.ask("stock a4 --set 1 --ledger shop.db")
    told.ask("stock roll --set 12.5m --ledger shop.db --profiles mine")
    told.ask("stock 13x19 --set 3 --add 1 --ledger shop.db")
    told.ask("stock 13x19 --waste 9 --ledger shop.db")
    told.ask("stock 13x19 --waste 3 --ledger shop.db")
    told.ask("quote orders.csv -p a4 -p 13x19 --steps 50 --ledger shop.db")
    told.ask("sheets orders.csv -p a4 -p 13x19 --steps 50 --ledger shop.db -q")
    told.ask("stock 13x19 --add 10 --ledger shop.db")
    told.ask("sheets orders.csv -p a4 -p 13x19 --steps 50 --ledger shop.db")
    told.ask("stock --ledger shop.db --json")
    told.ask("stock --ledger shop.db --profiles mine")
    told.ask("sheets orders.csv -p roll --profiles mine --steps 50 --ledger shop.db -o rolled")
    told.show_record("rolled")
    told.ask("stock roll --ledger shop.db --profiles mine --units in")
    told.ask("stock roll --waste 20cm --ledger shop.db --profiles mine --because 'a crease'")
    told.ask("stock a4 --stop --ledger shop.db")
    told.ask("stock --history --ledger shop.db --profiles mine")
    told.ask("stock 13x19 --history --ledger shop.db --json")
    told.ask("stock bond --ledger shop.db")
    told.show_tables("shop.db")


def test_reprint(told: Told, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("IMPOSE_KEEP_INDEX", "yes")
    lay_evening(told)
    told.ask("stock 13x19 --set 20 --ledger shop.db", shown=False)
    told.ask("sheets orders.csv -p 13x19 --steps 50 -q --ledger shop.db")
    told.ask("reprint orders-sheets --only T001,4 --steps 50 --ledger shop.db")
    told.show_record("orders-sheets-reprint")
    told.ask("reprint orders-sheets --garment Pip --because lost --steps 50 --ledger shop.db --json")
    told.ask("reprint orders-sheets --sheet 1 --because unprinted --steps 50 --ledger shop.db -p a4 -p 13x19")
    told.ask("reprint orders-sheets --order 'OW-2 Rowers' --onto orders-sheets-reprint --steps 50 --ledger shop.db")
    told.ask("sheets art/crest.png --width 60mm --onto orders-sheets-reprint --steps 50 --ledger shop.db")
    told.ask("reprint orders-sheets --only T099 --ledger shop.db")
    told.ask("reprint orders-sheets --only ZZZZ-T001 --ledger shop.db")
    told.ask("reprint orders-sheets --ledger shop.db")
    told.ask("reprint orders-sheets --garment Nobody --ledger shop.db")
    told.ask("reprint nowhere --only T001")
    listed = (told.folder / "orders-sheets" / "reprint.csv").read_text("utf-8").splitlines()
    told.show("reprint.csv", "\n".join(listed[:4]))
    at = listed[0].split(",").index("spoiled")
    ticked = [listed[0], *(",".join([*line.split(",")[:at], "x", *line.split(",")[at + 1 :]]) for line in listed[1:2])]
    told.write("ticked.csv", "\n".join(ticked))
    told.ask("reprint orders-sheets --list ticked.csv --steps 50 --ledger shop.db -q")
    told.draw("art/owl.png", draw_disc(140))
    told.ask("reprint orders-sheets --only T001 --steps 50 --ledger shop.db -o changed")
    told.ask("reprint orders-sheets --only T001 --steps 50 --ledger shop.db -o changed --take-new-art -v")
    told.ask("spoilage --ledger shop.db")
    told.ask("spoilage --ledger shop.db --json --since 2026-01-01")
    told.ask("find INGE --ledger shop.db")
    told.ask("find rowers crest --ledger shop.db --json")
    told.ask("find nobody --ledger shop.db")
    told.ask("find --add orders-sheets --ledger other.db")
    told.ask("find hoodie --ledger other.db --units in")
    told.show_tables("shop.db")


def test_what_a_reprint_misses(told: Told) -> None:
    """The font of one row and the picture of another are gone, and of a third the picture is another."""
    font = resources.files("font_source_sans_pro") / "files" / "SourceSansPro-Bold.ttf"
    (told.folder / "own.ttf").write_bytes(font.read_bytes())
    for name in ("owl", "crest"):
        told.draw(f"{name}.png", draw_disc(300))
    rows = ("Ana,,ANA,own.ttf", "Bo,owl.png,,", "Cy,crest.png,,", "Di,,DI,bold")
    told.write("orders.csv", "\n".join(["wearer,art,words,font,width", *(f"{row},60 mm" for row in rows)]))
    told.ask("sheets orders.csv -p a4 --steps 50 -q --ledger shop.db")
    for name in ("own.ttf", "owl.png"):
        (told.folder / name).unlink()
    told.draw("crest.png", draw_disc(280))
    told.ask("reprint orders-sheets --only T001,T002,T003,T004 --steps 50 --ledger shop.db")
    told.ask("again orders-sheets -o next")


def test_again(told: Told) -> None:
    lay_evening(told)
    told.ask("sheets orders.csv -p 13x19 --steps 50 -q --ledger shop.db")
    told.ask("again orders-sheets -o next")
    told.list_files("next")
    told.show_file("next/orders.csv")
    told.write(
        "roster.csv",
        """
        wearer,like,copies,name,garment
        Pip,,0,,
        Wren,T001,1,WREN,hoodie adult L
        ,,,,
    """,
    )
    told.ask("again orders-sheets --roster roster.csv -o wren --order 'OW-1 Stewards'")
    told.show_file("wren/orders.csv")
    told.ask("again orders-sheets --roster roster.csv -o alone --listed-only --json")
    told.show_file("alone/orders.csv")
    told.ask("sheets next/orders.csv -p 13x19 --steps 50 -q --ledger shop.db -o twice")
    told.write(
        "bad.csv",
        """
        wearer,like,copies,colour
        Nobody,,1,
        Wren,Nobody,1,
        Pip,,many,
        Inge,,+2,
    """,
    )
    told.ask("again orders-sheets --roster bad.csv -o bad")
    told.ask("again orders-sheets --order 'OW-9' -o bad")
    told.ask("again orders-sheets -o next")


def test_first_off_and_swatches(told: Told) -> None:
    lay_evening(told)
    told.ask("sheets orders.csv -p 13x19 --first --swatches --steps 50 -v")
    told.list_files()
    told.show_record("orders-sheets")
    told.ask(
        "sheets art/owl.png --placement full-back --width 8.25in -p letter --steps 50 --oversize panels --tear tight"
    )
    told.ask("sheets art/owl.png --width 12in -p a4 --steps 50 --oversize shrink -o small --json --replace")
