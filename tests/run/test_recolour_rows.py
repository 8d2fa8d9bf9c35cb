"""Rows that have one artwork in colours of their own: each is shown and printed in its own, wherever pictures are."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from impose.run import Options, plan, produce
from impose.run.batch_choices import NAMES
from impose.run.live import Live

TO = ("#12A05B", "#20B0C0")


@pytest.fixture
def orders(tmp_path) -> Path:
    image = Image.new("RGB", (150, 100), "white")
    image.paste((200, 30, 40), (10, 10, 140, 90))
    image.paste((20, 60, 160), (30, 30, 60, 60))
    image.save(tmp_path / "flag.png")
    rows = [f"A,{name},flag.png,hoodie adult M,left-chest,#C81E28 > {to}" for name, to in zip("AB", TO, strict=True)]
    (tmp_path / "orders.csv").write_text("\n".join(["order,wearer,art,garment,placement,recolour", *rows]) + "\n")
    return tmp_path / "orders.csv"


def count(pdf: Path, colour: str) -> int:
    """Pixels of a colour on all pages, at 100 dots an inch."""
    wanted = [int(colour[at : at + 2], 16) for at in (1, 3, 5)]
    total = 0
    for page in pypdfium2.PdfDocument(pdf):
        pixels = np.asarray(page.render(scale=100 / 72, rev_byteorder=True).to_pil().convert("RGB")).astype(int)
        total += int((np.abs(pixels - np.array(wanted)).max(axis=2) <= 2).sum())
    return total


def test_each_is_in_its_own_colours_on_sheets_tickets_and_proof(orders, tmp_path):
    made = plan([orders], Options({"papers": ["a4"]}, steps=5, workers=1))
    pictures = [placed.picture for sheet in made.layout.sheets for placed in sheet.placed]
    # Of one artwork and one size: nothing but the colours tells them apart.
    assert len({picture.sha256 for picture in pictures}) == 1
    produce(made, tmp_path / "out")
    for colour in TO:
        assert count(tmp_path / "out" / "sheets-a4.pdf", colour) > 30_000
        assert count(tmp_path / "out" / "tickets.pdf", colour) > 300
        assert count(next((tmp_path / "out" / "approval").glob("*.pdf")), colour) > 300
    assert count(tmp_path / "out" / "sheets-a4.pdf", "#C81E28") == 0
    proof = (tmp_path / "out" / "proof.html").read_text("utf-8")
    stored = re.findall(r'<image id="(a[0-9]+)"', proof)
    assert len(stored) == 2
    notes = [
        f for f in json.loads((tmp_path / "out" / "batch.json").read_bytes())["findings"] if f["kind"] == "recolour"
    ]
    assert [(f["row"], f["column"]) for f in notes] == [(2, "recolour"), (3, "recolour")]
    assert proof.count("data:image/png") >= 4  # before and after of either


def test_what_a_customer_agreed_to_is_held_to_its_colours(orders, tmp_path, run):
    assert run("sheets", orders, "-o", tmp_path / "out", "-p", "a4", "--steps", 5)[0] == 0
    assert run("check", tmp_path / "out", "--agreed", "Bo", "--order", "A", "--on", "2026-11-28")[0] == 0
    assert "not-agreed" not in run("check", orders)[1]
    orders.write_text(orders.read_text().replace(TO[1], "#FFD200"))
    told = run("check", orders)[1]
    assert "the colours were “#C81E28 > #20B0C0”, now “#C81E28 > #FFD200”" in told
    pages = json.loads((tmp_path / "out" / "batch.json").read_bytes())["approval"]
    assert [entry["recolour"] for entry in pages[0]["shows"]] == [f"#C81E28 > {to}" for to in TO]


def test_a_live_plan_has_them_too(orders):
    told = []
    options = Options({"papers": ["a4"], "swatches": True}, art_root=orders.parent, steps=5)
    with Live(options, lambda made, final: told.append(final)) as live:
        rows = [
            {"art": "flag.png", "width": "40mm", "recolour": f"#C81E28 > {to}"} for to in (*TO, "#C81E29", "#000001")
        ]
        live.change([*rows, {"art": "flag.png", "width": "40mm", "recolour": "#777777 > #000000"}])
        made = live.plan(60)
    assert [f.kind for f in made.findings if f.severity == "stop"] == ["recolour-absent"]
    assert sum(len(sheet.placed) for sheet in made.layout.sheets) == 4
    assert sum(len(sheet.swatches) for sheet in made.layout.sheets) == 4
    assert "swatches" in NAMES
