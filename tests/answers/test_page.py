# ruff: noqa: E501 - tables of what is asked
"""What the page is answered: a batch edited, planned, made, pressed, priced; the shop; what is refused."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest

from answers.pictures import PICTURES, draw_disc
from answers.told_page import Page, add
from approved_answers import Told, encode_png
from impose.page.planner_client import CHILD
from page.conftest import ASLEEP

pytestmark = pytest.mark.usefixtures("sheets_alone")


def test_page_of_a_batch(told: Told, beds: Any) -> None:
    page = Page(told, beds(CHILD))
    tab = page.tab
    page.tell("crest", tab.drop("crest.png", encode_png(draw_disc(150))))
    page.tell("haze", tab.drop("haze.png", encode_png(PICTURES["haze"]())))
    page.get("~")
    rows = [
        add("art/crest.png", placement="left-chest"), add("art/haze.png", placement="full-back", width="180 mm"),
        add("art/crest.png", placement="knee", wearer="Bo"), add("art/crest.png", width="700 mm", wearer="Cy"),
    ]  # fmt: skip
    made = page.post("~/changes", {"ops": rows, "label": "Four rows"})
    page.tell("the plan", tab.plan(made["revision"], "clean-haze"))
    page.get("~/garments")
    page.get("~/large")
    ids = [row["id"] for row in tab.rows]
    page.post("~/changes", {"ops": [{"op": "remove", "ids": ids[2:]}]})
    page.post("~/changes", {"ops": [{"op": "set", "id": ids[1], "column": "mend", "value": "clean-haze"}]})
    page.post("~/undo", {})
    made = page.post("~/redo", {})
    page.post("~/changes", {"ops": [{"op": "set", "id": "r99", "column": "width", "value": "9 cm"}]}, status=409)
    page.post("~/changes", {"ops": [{"op": "fly"}]}, status=400)
    made = page.post("~/changes", {"ops": [{"op": "choose", "name": "papers", "value": ["13x19"]}]})
    plan = page.tell("the plan", tab.plan(made["revision"]))
    page.work("~/quote", {})
    page.work("~/check", {})
    page.work("~/tips", {})
    entry = page.work("~/make", {"plan": plan["plan"]})
    told.call(entry["id"], "made")
    told.call(entry["code"], "code")
    at = f"~/made/{entry['id']}"
    page.get("~/made")
    page.post(f"{at}/agreed", {"by": "Ada Weir", "on": "2026-11-28"})
    page.post(f"{at}/agreed", {"by": " "}, status=422)
    press = page.get(f"{at}/press")
    names = [one["transfer"] for one in press["garments"][0]["prints"]]
    page.post(f"{at}/ticks", {"ticks": [{"transfer": names[0], "pressed": True}]})
    page.post(f"{at}/ticks", {"ticks": [{"transfer": names[1], "spoiled": "garment"}]})
    again = page.work(f"{at}/again", {"ids": names})
    told.call(again["code"], "code again")
    told.call(again["id"], "made again")
    page.work(f"{at}/price", {"write": True})
    page.post(
        "/api/shop",
        {"ops": [{"op": "price", "name": name, "value": value} for name, value in
                 {"press_rate": "18", "power_kw": "1.8", "power_cost": "0.30", "markup": "60", "tax": "20"}.items()]
                + [{"op": "price", "blank": "hoodie", "cost": "16"}]},
        "values", "papers", "printers", "presses", "settings", "placements", "groups", "help",
    )  # fmt: skip
    page.work(f"{at}/price", {"write": True})
    page.get("/api/find?words=ana")
    page.post(f"{at}/again-batch", {"name": "Next year", "orders": ["Owls"]}, "id", status=201)
    told.show_file("../bed/batch/orders.csv")
    told.show_file("../bed/batch/batch.toml")


def test_page_of_the_shop(told: Told, beds: Any) -> None:
    page = Page(told, beds(ASLEEP))
    page.get("/api/state", "version", "first", "formats", "printing")
    shop = page.tab.get("/api/shop")
    told.show("the shop has", " ".join(sorted(shop)))
    page.tell("printers", shop["printers"], "values")
    page.post("/api/shop/calibration", {"printer": "careful", "paper": "a4"}, "pdf")
    read = {"across": "199.6", "along": "199.2", "left": "3", "top": "3", "right": "3", "bottom": "13"}
    asked = {"printer": "careful", "paper": "a4", "readings": read, "write": False}
    page.post("/api/shop/calibration/readings", asked)
    page.post("/api/shop/calibration/readings", {**asked, "readings": {**read, "across": "149.6"}}, status=422)
    for operation in (
        {"op": "count", "paper": "a4", "how": "set", "amount": "50"}, {"op": "count", "paper": "a4", "how": "waste", "amount": "2"},
    ):  # fmt: skip
        page.tab.post("/api/shop", {"ops": [operation]})
        page.get("/api/shop/stock")
    for wrong in (
        {"op": "setting", "name": "currency", "value": "euro"}, {"op": "count", "paper": "a77", "how": "set", "amount": "5"},
        {"op": "count", "paper": "a4", "how": "set", "amount": "many"}, {"op": "fly"}, {"op": "paper", "new": "wide"},
    ):  # fmt: skip
        status, _, body = page.tab.ask("POST", "/api/shop", {"ops": [wrong]})
        told.show(f"{status} {wrong}", json.loads(body))
    page.tell(
        "import", json.loads(page.tab.ask("PUT", f"{page.tab.base}/import?name=shop.csv", EXPORT.encode())[2]), "import"
    )
    for path in ("~/roster", "~/guide", "~/colours", "~/make", "~/quote"):
        status, _, body = page.tab.ask(
            "POST", path.replace("~", page.tab.base), {"text": "Ada 7 adult M\nBo 8 youth L"}
        )
        told.show(f"{status} {path}", re.sub(r'"job": "[^"]*"', '"job": <job>', body.decode()))
    for path in ("/api/nothing", "~/plan", "~/made/zz/press", "/api/jobs/zz", "/api/find?words="):
        status, _, body = page.tab.ask("GET", path.replace("~", page.tab.base))
        told.show(f"{status} {path}", body.decode())


EXPORT = """Order No;Item;Shirt size;Qty;Print file;Position
1001;Hoodie;M;1;crest.png;left-chest
1002;T-shirt;L;2;own/crest.png;left-chest
"""
