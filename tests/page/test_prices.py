"""Prices, offers, finding and a new batch from an old one, as the page has them; only what is listed is served."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from impose.page.made_folders import make_id
from page.conftest import Bed, Tab
from page.test_main_path import add_row, png

RATES = {"press_rate": "18", "power_kw": "1.8", "power_cost": "0.30", "markup": "60", "tax": "20", "round_to": "0.50"}


def make_batch(tab: Tab) -> dict:
    """Two orders, made."""
    crest = tab.drop("crest.png", png("ellipse", 500, 500))["art"]
    add_row(tab, crest, "left-chest", order="Owls", wearer="Ana", width="60 mm")
    made = add_row(tab, crest, "left-chest", order="Moths", wearer="Bo", width="60 mm")
    plan = tab.plan(made["revision"])
    return tab.job(tab.post(f"{tab.base}/make", {"plan": plan["plan"]}, 202))


def test_an_unknown_cost_is_named_then_a_price_is_offered_and_found_again(planning: Bed):
    tab = planning.tab()
    entry = make_batch(tab)
    at = f"{tab.base}/made/{entry['id']}"
    told = tab.job(tab.post(f"{at}/price", {"write": True}, 202))
    assert told["total"] is None
    assert told["offers"] == []
    assert any("mark-up" in one["what"] for one in told["missing"])
    assert all(".toml" not in one["remedy"] for one in told["missing"])
    operations = [{"op": "price", "name": name, "value": value} for name, value in RATES.items()]
    tab.post("/api/shop", {"ops": [*operations, {"op": "price", "blank": "hoodie", "cost": "16"}]})
    told = tab.job(tab.post(f"{at}/price", {"write": True}, 202))
    assert told["missing"] == []
    # What is charged is the sum of the orders, tax of each on its price (rate 20 %, EUR has two digits: ISO 4217).
    orders = {one["title"]: one for one in told["orders"]}
    assert set(orders) == {"Owls", "Moths"}
    assert sum(Decimal(one["total"]) for one in orders.values()) == Decimal(told["total"])
    assert all(Decimal(one["tax"]) == (Decimal(one["net"]) / 5).quantize(Decimal("0.01")) for one in orders.values())
    assert all(Decimal(one["net"]) % Decimal("0.50") == 0 for one in orders.values())
    assert {offer["name"].rpartition(".")[2] for offer in told["offers"]} == {"pdf", "html"}
    for offer in told["offers"]:
        status, headers, content = tab.ask("GET", offer["url"])
        assert status == 200
        assert (
            content[:5] == b"%PDF-"
            if offer["name"].endswith("pdf")
            else "sandbox" in headers["Content-Security-Policy"]
        )
    found = tab.get("/api/find?words=ana")["found"]
    assert [(one["code"], one["there"]) for one in found] == [(entry["code"], True)]
    assert str(planning.folder) not in str(found)
    new = tab.post(f"{at}/again-batch", {"name": "Next year", "orders": ["Owls"]}, 201)
    assert new["name"] == "Next year"
    fresh = tab.get(f"/api/b/{new['id']}")["rows"]
    assert [(row["cells"]["order"], row["cells"]["wearer"]) for row in fresh] == [("Owls", "Ana")]


@pytest.mark.parametrize(
    "name", ["..%2fbatch.json", "%2e%2e", "batch.json", ".hidden.pdf", "link.pdf", "notes.txt", "x" * 300]
)
def test_nothing_but_a_listed_offer_is_served(bed: Bed, tab: Tab, name):
    out = bed.folder / "sheets"
    (out / "offers").mkdir(parents=True)
    record = {"format": "impose-record/1", "code": "AAAA", "sheets": [], "files": {}}
    (out / "batch.json").write_text(json.dumps(record), "utf-8")
    (out / "offers" / ".hidden.pdf").write_bytes(b"%PDF-1.7")
    (out / "offers" / "notes.txt").write_text("mine", "utf-8")
    (out / "offers" / "link.pdf").symlink_to(out / "batch.json")
    (out / "offers" / "owls.pdf").write_bytes(b"%PDF-1.7 ours")
    assert tab.ask("GET", f"{tab.base}/made/{make_id(out)}/offers/owls.pdf")[2] == b"%PDF-1.7 ours"
    status, _, body = tab.ask("GET", f"{tab.base}/made/{make_id(out)}/offers/{name}")
    assert status == 404, body
    stranger = Tab(tab.port)
    assert stranger.ask("GET", f"{tab.base}/made/{make_id(out)}/offers/a.pdf")[0] in (401, 403)
    for path in (f"{tab.base}/made/{make_id(out)}/price", f"{tab.base}/made/{make_id(out)}/again-batch"):
        assert stranger.ask("POST", path, {})[0] in (401, 403)
    assert stranger.ask("GET", "/api/find?words=ana")[0] in (401, 403)
    assert tab.ask("GET", "/api/find?words=")[0] == 422
