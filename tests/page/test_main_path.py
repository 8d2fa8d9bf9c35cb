"""The way of an evening through the page, by what its script sends: from an empty folder to a print made again."""

from __future__ import annotations

import io
import json
import os
import signal
from pathlib import Path
from typing import Any

from PIL import Image

import papercheck
from conftest import draw
from page.conftest import Bed, Tab
from waiting import wait_until


def png(kind: str, width: int, height: int, seed: int = 0) -> bytes:
    """A picture with ink to its edges."""
    file = io.BytesIO()
    draw(kind, width, height, seed).save(file, "PNG", compress_level=1)
    return file.getvalue()


def add_row(tab: Tab, art: str, placement: str, **cells: str) -> dict:
    row = {"order": "Owls", "wearer": "Ana", "art": art, "placement": placement, "garment": "hoodie adult M", **cells}
    return tab.change({"op": "add", "new": "n", "cells": row})


def test_from_a_dropped_picture_to_a_print_made_again(planning: Bed, tmp_path: Path):
    tab = planning.tab()
    crest = tab.drop("crest.png", png("ellipse", 900, 900))
    back = tab.drop("back.png", png("noise", 600, 750, 3))
    add_row(tab, crest["art"], "left-chest")
    made = add_row(tab, back["art"], "full-back", width="180 mm")
    plan = tab.plan(made["revision"])
    assert plan["newest"]
    assert plan["can_make"]["ok"]
    assert {row["state"] for row in plan["rows"].values()} == {"planned"}
    (row,) = [row for row in tab.rows if row["cells"]["placement"] == "left-chest"]
    (placed,) = [t for sheet in plan["sheets"] for t in sheet["transfers"] if t["row"] == row["id"]]

    # What is drawn is fetched from addresses of the page, as pictures of our making.
    status, headers, drawing = tab.ask("GET", plan["sheets"][0]["svg"])
    assert (status, headers["Content-Type"]) == (200, "image/svg+xml")
    assert f'data-row="{placed["row"]}"'.encode() in b"".join(tab.ask("GET", s["svg"])[2] for s in plan["sheets"])
    address = drawing.split(b'href="')[1].split(b'"')[0].decode()
    status, headers, content = tab.ask("GET", address)
    assert (status, headers["Content-Type"]) == (200, "image/png")
    assert Image.open(io.BytesIO(content)).format == "PNG"
    assert Image.open(io.BytesIO(tab.ask("GET", crest["small"])[2])).size == (300, 300)  # of 900, at most 320
    garments = tab.get(f"{tab.base}/garments")["garments"]
    assert [(g["wearer"], [f["face"] for f in g["faces"]]) for g in garments] == [("Ana", ["back", "front"])]

    entry = tab.job(tab.post(f"{tab.base}/make", {"plan": plan["plan"]}, 202))
    assert entry["live"]
    out = planning.folder / entry["name"]
    # A record is sent, kept and read elsewhere: it holds no machine's paths.
    assert str(planning.folder) not in (out / "batch.json").read_text("utf-8")
    assert papercheck.faults(out, planning.folder) == []  # by pdfium and poppler, knowing the record alone
    (pdf,) = [file for file in entry["files"] if file["kind"] == "sheets"]
    assert tab.ask("GET", pdf["url"])[2] == (out / pdf["name"]).read_bytes()
    assert tab.get(f"{tab.base}/made")["made"][0]["id"] == entry["id"]

    made_at = f"{tab.base}/made/{entry['id']}"
    assert tab.post(f"{made_at}/agreed", {"by": "Ada Weir", "on": "2026-11-28"})["orders"] == ["Owls"]
    assert tab.post(f"{made_at}/agreed", {"by": " "}, 422)["error"]["what"] == "Who has agreed?"
    press = tab.get(f"{made_at}/press")
    assert (press["done"], press["of"], press["first_check"]) == (0, 2, True)
    names = {print_["title"]: print_["transfer"] for print_ in press["garments"][0]["prints"]}
    told = tab.post(f"{made_at}/ticks", {"ticks": [{"transfer": names["Full back"], "pressed": True}]})
    assert (told["done"], told["again"]["ids"]) == (1, [])
    told = tab.post(f"{made_at}/ticks", {"ticks": [{"transfer": names["Left chest"], "spoiled": "paper"}]})
    assert told["again"]["ids"] == [names["Left chest"]]
    # A spoiled garment takes what was pressed on it with it (common practice, no source).
    told = tab.post(f"{made_at}/ticks", {"ticks": [{"transfer": names["Left chest"], "spoiled": "garment"}]})
    assert set(told["again"]["ids"]) == set(names.values())
    assert len(told["again"]["garments"]) == 1
    again = tab.job(tab.post(f"{made_at}/again", {"ids": told["again"]["ids"]}, 202))
    assert (again["reprint_of"], again["transfers"]) == (entry["code"], 2)
    assert papercheck.faults(planning.folder / again["name"], planning.folder) == []
    refused = tab.post(f"{made_at}/again", {"ids": [names["Left chest"]], "onto": {"sheet": 1, "whole": True}}, 202)
    assert tab.job(refused, "failed")["error"]["code"] == "not-fit"  # flat and dry was not said


def test_a_kits_print_that_fits_no_paper_leaves_the_others(planning: Bed):
    tab = planning.tab()
    big = tab.drop("big.png", png("noise", 450, 550, 5))
    small = tab.drop("small.png", png("ellipse", 600, 600))
    kit = [
        {
            "op": "add",
            "table": "kits",
            "cells": {"kit": "team", "art": big["art"], "placement": "full-back", "garment": "hoodie"},
        },
        {"op": "add", "table": "kits", "cells": {"kit": "team", "art": small["art"], "placement": "left-chest"}},
    ]
    roster = [
        {"op": "add", "cells": {"order": "Owls", "kit": "team", "name": name, "garment": "adult M"}} for name in "AB"
    ]
    revision = tab.change(*kit, *roster)["revision"]
    plan = tab.plan(revision)
    assert {t["placement"] for sheet in plan["sheets"] for t in sheet["transfers"]} == {"left-chest"}
    assert {row["state"] for row in plan["rows"].values()} == {"in part"}
    stops = [finding for finding in plan["findings"] if finding["severity"] == "stop"]
    assert {finding["kit_row"] for finding in stops} == {"k1"}
    assert plan["can_make"]["left_out"] == 2
    assert tab.job(tab.post(f"{tab.base}/make", {"plan": plan["plan"]}, 202), "failed")["error"]["code"] == "left-out"
    (large,) = [found for found in tab.get(f"{tab.base}/large")["prints"] if found["place"] == "Full back"]
    assert {"panels", "paper", "shrink"} <= {way["way"] for way in large["ways"]}
    # A paper that the shop does not have is no mend; once it is counted there it is.
    assert [mend for mend in stops[0]["mends"] if mend["mend"] == "paper"] == []
    assert any(way["label"].startswith("If you have ") for way in large["ways"])
    # Compare is of the very prints that are on the sheets, and says that others are not.
    quoted = tab.job(tab.post(f"{tab.base}/quote", {}, 202))
    shown = sum(len(sheet["transfers"]) for sheet in plan["sheets"])
    assert (sum(sum(offer["sheets"].values()) for offer in quoted["offers"]), shown) == (len(plan["sheets"]), 2)
    assert "left out" in quoted["left_out"][0]
    entry = tab.job(tab.post(f"{tab.base}/make", {"plan": plan["plan"], "without": True}, 202))
    press = tab.get(f"{tab.base}/made/{entry['id']}/press")
    assert "fits no offered paper: A4 takes" in press["left_out"][0]  # and not "a4"
    count_paper(tab, "13x19")
    plan = tab.plan(plan["revision"], "paper")
    stops = [finding for finding in plan["findings"] if finding["severity"] == "stop"]
    (mend,) = [mend for mend in stops[0]["mends"] if mend["mend"] == "paper"]
    plan = tab.plan(tab.change(*mend["ops"])["revision"])
    assert {row["state"] for row in plan["rows"].values()} == {"planned"}


def count_paper(tab: Tab, *papers: str) -> None:
    """Say that the shop has papers; a later plan knows it, which need not be the next one."""
    tab.post("/api/shop", {"ops": [{"op": "count", "paper": paper, "how": "set", "amount": "50"} for paper in papers]})


def test_panels_are_shown_as_the_parts_that_they_are(planning: Bed):
    """A picture whose corners differ: each panel shows its own corner, and their sizes make up the whole."""
    tab = planning.tab()
    corners = Image.new("RGB", (800, 800), "white")
    colours = {(0, 0): (200, 0, 0), (1, 0): (0, 160, 0), (0, 1): (0, 0, 200), (1, 1): (200, 160, 0)}
    for (x, y), colour in colours.items():
        corners.paste(colour, (x * 700, y * 700, x * 700 + 100, y * 700 + 100))
    file = io.BytesIO()
    corners.save(file, "PNG", compress_level=1)
    art = tab.drop("corners.png", file.getvalue())["art"]
    add_row(tab, art, "full-back", width="300 mm", height="300 mm")
    made = tab.change({"op": "choose", "name": "oversize", "value": "panels"})
    (large,) = tab.get(f"{tab.base}/large")["prints"]  # while it is planned anew
    ways = {way["way"]: way for way in large["ways"]}
    assert ways["panels"]["svg"].count('class="print"') == ways["panels"]["panels"] > 1
    plan = tab.plan(made["revision"])
    entry = tab.job(tab.post(f"{tab.base}/make", {"plan": plan["plan"]}, 202))
    (garment,) = tab.get(f"{tab.base}/made/{entry['id']}/press")["garments"]
    assert len(garment["prints"]) > 1
    for told in garment["prints"]:
        assert " of 300 mm × 300 mm" in told["size"]
        seen = Image.open(io.BytesIO(tab.ask("GET", told["picture"])[2])).convert("RGB")
        near = {(x, y): seen.getpixel((x * (seen.width - 1), y * (seen.height - 1))) for x, y in colours}
        matching = [corner for corner, colour in colours.items() if max_difference(near[corner], colour) < 40]
        assert len(matching) == 1, "a panel that shows the whole picture has all four corners"


def test_what_is_shown_is_made_though_a_better_plan_has_come(planning: Bed):
    """Whoever presses Make while the search goes on gets the sheets that were on the screen, and of no older orders."""
    tab = planning.tab()
    file = io.BytesIO()
    Image.new("RGB", (900, 700), (20, 90, 160)).save(file, "PNG", compress_level=1)
    art = tab.drop("kite.png", file.getvalue())["art"]
    for width in range(60, 180, 9):
        last = add_row(tab, art, "left-chest", width=f"{width} mm", height="300 mm")

    def read_first() -> Any:
        status, _, body = tab.ask("GET", f"{tab.base}/plan")
        told = json.loads(body) if status == 200 else {}
        return told if told.get("plan") and told["revision"] >= last["revision"] else None

    seen = wait_until(read_first, "the first plan of the last row", 0.001)
    newest = tab.plan(last["revision"])
    entry = tab.job(tab.post(f"{tab.base}/make", {"plan": seen["plan"], "without": True}, 202))
    assert entry["sheets"] == len(seen["sheets"]) >= len(newest["sheets"])
    tab.plan(add_row(tab, art, "left-chest", width="70 mm", height="300 mm")["revision"])
    refused = tab.job(tab.post(f"{tab.base}/make", {"plan": newest["plan"], "without": True}, 202), "failed")
    assert refused["error"]["code"] == "old-plan"


def max_difference(one: tuple[int, ...], other: tuple[int, ...]) -> int:
    return max(abs(a - b) for a, b in zip(one, other, strict=True))


def test_a_planner_that_is_killed_is_started_again_and_nothing_is_lost(planning: Bed):
    tab = planning.tab()
    crest = tab.drop("crest.png", png("ellipse", 300, 300))
    made = add_row(tab, crest["art"], "left-chest", width="30 mm")
    first = tab.plan(made["revision"])
    client = planning.page.planners[planning.batch]
    killed = client.pid
    os.kill(killed, signal.SIGKILL)
    planning.until(lambda: client.pid not in (None, killed))
    client.plan = None
    made = tab.change({"op": "set", "id": "r1", "column": "width", "value": "40 mm"})
    second = tab.plan(made["revision"])
    assert first["sheets"][0]["transfers"][0]["size"] != second["sheets"][0]["transfers"][0]["size"]


def test_one_faulty_row_leaves_the_view(planning: Bed):
    tab = planning.tab()
    crest = tab.drop("crest.png", png("ellipse", 300, 300))
    damaged = tab.drop("damaged.png", png("ellipse", 300, 300, 1)[:-40])
    add_row(tab, crest["art"], "left-chest", width="30 mm")
    add_row(tab, damaged["art"], "full-back")
    made = add_row(tab, crest["art"], "no such place")
    plan = tab.plan(made["revision"])
    assert {name: row["state"] for name, row in plan["rows"].items()} == {
        "r1": "planned",
        "r2": "left out",
        "r3": "left out",
    }
    kinds = {finding["row"]: finding["kind"] for finding in plan["findings"] if finding["severity"] == "stop"}
    assert kinds == {"r2": "damaged", "r3": "bad-placement"}
    assert b"cannot be shown" in tab.ask("GET", damaged["small"])[2]


def test_a_damaged_picture_is_shown_as_such_where_it_lies(planning):
    """A JPEG ends with its mark EOI (ITU-T T.81, B.1.1.3); one that is cut off is no picture, and no missing file."""
    whole = io.BytesIO()
    Image.new("RGB", (600, 600), "teal").save(whole, "JPEG")
    tab = planning.tab()
    cut = tab.drop("cut.jpg", whole.getvalue()[:-200])
    status, headers, content = tab.ask("GET", f"{cut['small']}?side=160")
    assert (status, headers["Content-Type"]) == (200, "image/svg+xml")
    assert b"cannot be shown" in content


def test_one_sheet_is_offered_for_all_that_fits_no_paper(planning):
    """B4 (ISO 216: 250 mm wide) takes the smaller back; 300 mm and 2 x 14 mm to tear need 13 in, which take both."""
    tab = planning.tab()
    art = tab.drop("back.png", png("noise", 450, 500, 3))["art"]
    add_row(tab, art, "full-back", width="215 mm")
    made = add_row(tab, art, "full-back", width="300 mm")
    tab.plan(made["revision"])
    count_paper(tab, "13x19", "b4")
    told = [f for f in tab.plan(made["revision"], "paper")["findings"] if f["kind"] == "no-room"]
    offers = [mend for f in told for mend in f["mends"] if mend["mend"] == "paper"]
    assert len(offers) == len(told) == 2
    assert {offer["label"] for offer in offers} == {"Use 13x19 as well"}


def test_a_value_that_is_refused_is_named_as_its_field(bed):
    tab = bed.tab()
    refused = tab.post("/api/shop", {"ops": [{"op": "setting", "name": "currency", "value": "euro"}]}, 422)["error"]
    assert "urrency: not a currency code" in str(refused)
    assert "key currency" not in str(refused)
