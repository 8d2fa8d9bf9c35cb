"""A web shop's export taken in on the page: what is pointed at is what becomes of it."""

from __future__ import annotations

import json

from page.conftest import Bed, Tab
from page.test_main_path import png

EXPORT = """Order No;Item;Shirt size;Qty;Print file;Position
1001;Hoodie;M;1;crest.png;left-chest
1002;T-shirt;L;2;own/crest.png;left-chest
"""
POINTED = {
    "order": {"from": "Order No"},
    "garment": {"from": ["Item", "Shirt size"]},
    "copies": "Qty",
    "art": {"from": "Print file"},
    "placement": {"from": "Position"},
}


def test_headings_are_joined_and_pictures_are_those_that_were_dropped(bed: Bed, tab: Tab):
    tab.drop("crest.png", png("ellipse", 60, 60))
    status, _, body = tab.ask("PUT", f"{tab.base}/import?name=shop.csv", EXPORT.encode())
    assert status in (200, 201), body
    read = json.loads(body)
    taken = tab.post(f"{tab.base}/import/{read['import']}", {"map": POINTED, "skip": {}, "take": True})
    assert [row["cells"]["garment"] for row in taken["rows"]] == ["Hoodie M", "T-shirt L"]
    cells = [row["cells"] for row in tab.rows]
    assert [row["art"] for row in cells] == ["art/crest.png", "own/crest.png"]
    assert (bed.folder / cells[0]["art"]).is_file()
    assert [row["copies"] for row in cells] == ["1", "2"]
    again = json.loads(tab.ask("PUT", f"{tab.base}/import?name=shop.csv", EXPORT.encode())[2])
    assert again["map"]["garment"]["from"] == ["Item", "Shirt size"], "what was pointed at is remembered"
