"""Folds and sides on a ticket, judged by the artwork's own pixels and by how a body is seen from outside."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from PIL import Image

import drawn
from impose.run import Options, plan, produce

WIDE, HIGH = 300, 200
HEADING = "order,wearer,art,placement,garment,copies,width,centre"
NEAR_MM = 0.06  # on the page; the mirrored place is more than 2 mm away


def _lopsided() -> Image.Image:
    """Black from edge to edge, most of it in the upper left: its centre of mass is nowhere near its middle."""
    picture = np.full((HIGH, WIDE, 4), (0, 0, 0, 0), np.uint8)
    picture[:60, :90] = (0, 0, 0, 255)
    picture[:6, :] = picture[:, :6] = (0, 0, 0, 255)
    picture[-6:, -60:] = (0, 0, 0, 255)
    return Image.fromarray(picture, "RGBA")


def _centroid(picture: Image.Image) -> tuple[float, float]:
    """Shares of width and height, from the left and the top as the artwork is seen (moments of the black pixels)."""
    y, x = np.nonzero(np.asarray(picture)[..., 3])
    return (float(x.mean()) + 0.5) / WIDE, (float(y.mean()) + 0.5) / HIGH


def _deliver(folder: Path, line: str, **settings: object) -> Path:
    _lopsided().save(folder / "lop.png")
    (folder / "one.csv").write_text(f"{HEADING}\n{line}\n", "utf-8")
    values = {"papers": ["a4"], **settings}
    return produce(
        plan([folder / "one.csv"], Options(settings=values, steps=5, workers=1, cache=False)), folder / "out"
    )


def _ticket(out: Path) -> drawn.Page:
    return next(page for page in drawn.pages(out / "tickets.pdf") if re.search(r"ticket 1 of 1", page.text))


@pytest.mark.parametrize(
    ("placement", "turned"), [("left-chest", 0), ("left-long-sleeve", 90), ("right-long-sleeve", 90)]
)
def test_folds_cross_where_the_mass_is_seen_as_worn(tmp_path: Path, placement: str, turned: int) -> None:
    """The paper is printed mirrored and seen from behind: on the ticket the mass is where the artwork has it.

    A sleeve that reads from the shoulder down shows the artwork turned clockwise: its left is up, its top is right.
    """
    out = _deliver(tmp_path, f"A,Ines,lop.png,{placement},hoodie adult L,1,120 mm,mass")
    page = _ticket(out)
    ink = json.loads((out / "batch.json").read_text("utf-8"))["sheets"][0]["transfers"][0]["ink_mm"]
    scale = float(re.search(r"1 : ([0-9.]+)", page.text)[1])
    wide, high = max(ink["w"], ink["h"]) / scale, min(ink["w"], ink["h"]) / scale
    share_x, share_y = _centroid(_lopsided())
    w, h = (high, wide) if turned else (wide, high)
    boxes = {
        tuple(round(value, 3) for value in one.box)
        for one in page.outlines
        if one.is_box and not one.dashed and one.paint == "S" and one.box[2:] == pytest.approx((w, h), abs=0.01)
    }
    ((x, y, _, _),) = boxes
    if turned:
        seen, mirrored = (x + w - share_y * high, y + share_x * wide), (x + share_y * high, y + h - share_x * wide)
    else:
        seen, mirrored = (x + share_x * wide, y + share_y * high), (x + w - share_x * wide, y + h - share_y * high)
    # Folds are drawn beyond the paper on all four sides, 3 mm long.
    folds = [one.box for one in page.outlines if one.dashed and len(one.points) == 2 and max(one.box[2:]) < 3.5]
    upright = [box[0] for box in folds if box[2] < 1e-6]
    level = [box[1] for box in folds if box[3] < 1e-6]
    assert sum(abs(at - seen[0]) < NEAR_MM for at in upright) == 2
    assert sum(abs(at - seen[1]) < NEAR_MM for at in level) == 2
    assert not any(abs(at - mirrored[0]) < NEAR_MM for at in upright)
    assert not any(abs(at - mirrored[1]) < NEAR_MM for at in level)


@pytest.mark.parametrize(("side", "near", "far"), [("left", "front", "back"), ("right", "back", "front")])
def test_a_sleeve_is_named_by_the_wearers_side_and_its_front_is_where_the_body_has_it(
    tmp_path: Path, side: str, near: str, far: str
) -> None:
    """Who looks at another's left arm from outside sees the chest on his own left (anatomy)."""
    out = _deliver(tmp_path, f"A,Ines,lop.png,{side}-short-sleeve,T-shirt adult L,1,60 mm,")
    page = _ticket(out)
    assert f"WEARER'S {side.upper()} SLEEVE" in page.text
    assert f"WEARER'S {'RIGHT' if side == 'left' else 'LEFT'} SLEEVE" not in page.text
    assert re.search(rf"\b{side} (short )?sleeve", page.text, re.IGNORECASE)
    places = _words(out, {near, far})
    assert places[near] < places[far]


def test_the_back_of_a_garment_has_the_wearers_left_on_the_left(tmp_path: Path) -> None:
    """Seen from behind, another's left is one's own left; seen from the front it is not (anatomy)."""
    out = _deliver(tmp_path, "A,Ines,lop.png,full-back,T-shirt adult L,1,120 mm,")
    places = _words(out, {"wearer's left", "wearer's right"})
    assert places["wearer's left"] < places["wearer's right"]


def _words(out: Path, wanted: set[str]) -> dict[str, float]:
    """The left edge of words that stand alone on the first ticket's half page, as pdfium has them."""
    found: dict[str, float] = {}
    document = pypdfium2.PdfDocument(out / "tickets.pdf")
    for page in document:
        text = page.get_textpage()
        if "ticket 1 of 1" not in text.get_text_range():
            continue
        for number in range(text.count_rects()):
            box = text.get_rect(number)
            said = text.get_text_bounded(*box).strip()
            if said in wanted:
                found.setdefault(said, box[0])
    return found
