# ruff: noqa: E501 - tables of rows
"""What a batch's planner answers: panels and inches at the press, prints made again, quotes, guides. No process of its own."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from answers.pictures import draw_disc
from answers.told_planner import add
from approved_answers import Told, encode_png
from impose.page.planner_asks import ASKS
from impose.page.planner_messages import AskRequest, ProgressTold
from impose.run.press_ticks import read_ticks
from waiting import wait_until

pytestmark = pytest.mark.usefixtures("sheets_alone")


def draw_halves() -> Image.Image:
    """Left red, right blue, a green bar above: a part of it tells which part it is."""
    picture = Image.new("RGBA", (240, 160), (200, 30, 40, 255))
    picture.paste((20, 60, 200, 255), (120, 0, 240, 160))
    picture.paste((20, 160, 60, 255), (0, 0, 240, 30))
    return picture


def test_planner_at_the_press(told: Told, asker: Any) -> None:
    """A print in panels beside a whole one, in inches: garments, press view, pictures of the parts, what is made again."""
    page = asker("a4", units="in")
    (page.folder / "halves.png").write_bytes(encode_png(draw_halves()))
    (page.folder / "disc.png").write_bytes(encode_png(draw_disc(150)))
    number = page.plan(
        {"op": "choose", "name": "oversize", "value": "panels"},
        add("halves.png", "full-back", "11 in"), add("disc.png", "left-chest", "3 in"),
        add("disc.png", "left-chest", "3 in", wearer="Bo"), add("disc.png", "knee", wearer="Cy"),
    )  # fmt: skip
    page.ask("garments", start=0, count=1)
    page.ask("garments", "faces", start=1, count=5, title="the garments from the second on")
    page.ask("make", plan=number + 9)
    page.ask("make", plan=number)
    made = page.ask("make", "id", "code", title="made without what cannot be", plan=number, without=True)
    told.call(made["code"], "code")
    told.call(made["id"], "made")
    press = page.ask("press", made=made["id"], by="garment")
    page.ask("press", "cautions", "order_of_work", "setting", "prints", made=made["id"], by="place")
    page.ask("press", made="m0000000000", by="garment")
    for garment in press["garments"]:
        for one in garment["prints"]:
            page.ask("press_picture", made=made["id"], name=one["picture"].rpartition("/")[2].partition(".")[0])
    page.ask("press_picture", made=made["id"], name="p99")
    names = [one["transfer"] for garment in press["garments"] for one in garment["prints"]]
    page.ask("reprint", made=made["id"], ids=names[:1], because="whim")
    again = page.ask("reprint", "id", "code", made=made["id"], ids=names[:1], because="spoiled", title="made again")
    told.call(again["code"], "code again")
    told.call(again["id"], "made again")
    for lacking in ({}, {"whole": True, "flat": True}, {"whole": True, "flat": True, "dry": True, "sheets": ["one"]},
                    {"whole": True, "flat": True, "dry": True, "sheets": [1], "clear": "far"}):  # fmt: skip
        page.ask("reprint", made=made["id"], ids=names[-1:], onto=lacking)
    for spoiled in (names[:2], names[-1:]):
        ticks = read_ticks(page.folder)
        for name in spoiled:
            ticks.set_tick(made["code"], name, None, "garment" if name != names[1] else "paper", "2026-11-29T18:00:00Z")
        ticks.write_file()
        page.ask("again", made=made["id"])
    page.ask("made", "id", "code")
    page.ask("price", made=made["id"])


def test_planner_of_large_prints(told: Told, asker: Any) -> None:
    """What is too large for the papers: by sheet and roll, in parts, smaller; quotes of each; what a little less saves."""
    page = asker("a4", "a3", "13x19")
    (page.folder / "halves.png").write_bytes(encode_png(draw_halves()))
    (page.folder / "disc.png").write_bytes(encode_png(draw_disc(150)))
    page.ask("quote")
    page.ask("check")
    page.plan(add("halves.png", "full-back", "640 mm"), add("disc.png", "left-chest", "90 mm"))
    large = page.ask("large")
    told.show(
        "ways drawn", "\n".join(f"{way['label']}: {way['svg']}" for one in large["prints"] for way in one["ways"])
    )
    page.ask("quote")
    page.ask("tips")
    page.plan(
        {"op": "remove", "ids": ["r1"]}, *(add("disc.png", "full-front", "150 mm", wearer=name) for name in "ABCDE")
    )
    page.ask("quote")
    page.ask("tips")
    page.plan({"op": "set", "id": "r2", "column": "width", "value": "270 mm"}, shown=False)
    page.ask("quote")
    roll = asker("roll-24in")
    (roll.folder / "disc.png").write_bytes(encode_png(draw_disc(150)))
    roll.plan(add("disc.png", "full-back", "700 mm"), shown=False)
    large = roll.ask("large", title="large on a roll")
    told.show(
        "ways drawn", "\n".join(f"{way['label']}: {way['svg']}" for one in large["prints"] for way in one["ways"])
    )


def test_planner_shows(told: Told, asker: Any) -> None:
    """Sheets and pictures of a plan, documents of the shop, and how far an answer is."""
    page = asker("a4")
    (page.folder / "haze.png").write_bytes(encode_png(draw_disc(150)))
    kit = {
        "op": "add",
        "table": "kits",
        "cells": {"kit": "team", "art": "haze.png", "placement": "left-chest", "garment": "hoodie", "width": "80 mm"},
    }
    number = page.plan(
        kit, {"op": "column", "heading": "kit"}, {"op": "add", "cells": {"order": "1", "kit": "team", "garment": "hoodie adult M", "wearer": "Ada"}},
        {"op": "add", "cells": {"order": "1", "kit": "none"}},
    )  # fmt: skip
    svg = ASKS["sheet"](page.planner, lambda *step: None, plan=number, number=1)
    told.show("the sheet", svg)
    page.ask("sheet", plan=number + 1, number=1)
    page.ask("picture", name="zz", worn=True)
    for side in (16, 64, 700):
        page.ask("art", sha="0" * 64, path=str(page.folder / "haze.png"), side=side, title=f"art {side}")
    page.ask("crop", plan=number, finding="f99")
    out = str(told.folder / "page.pdf")
    page.ask("colours", out=out, art=[str(page.folder / "haze.png")], named=["#C81E28"], title="colours")
    page.ask("guide", out=out, placement="left-chest", garment="hoodie adult M", paper="a4", title="guide")


def test_planner_tells_how_far_it_is_and_is_stopped(told: Told, asker: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each stage's begin and end are told at once, steps between at most ten times a second."""
    page = asker("a4")
    now = [0.0]
    monkeypatch.setattr("impose.page.planner_process.time.monotonic", lambda: now[0])
    tell = page.planner.progress_of(7)
    for at, step in ((1.0, ("a", 0, 9)), (1.0, ("a", 0, 9)), (1.05, ("a", 1, 9)), (1.11, ("a", 2, 9)), (1.12, ("a", 9, 9)),
                     (1.13, ("a", 9, 9)), (1.14, ("b", 0, 2)), (1.3, ("b", 1, 2)), (9.0, ("b", 1, 2))):  # fmt: skip
        now[0] = at
        tell(*step)
    steps = [(one.number, one.stage, one.done, one.of) for one in page.sent if isinstance(one, ProgressTold)]
    assert steps == [(7, "a", 0, 9), (7, "a", 2, 9), (7, "a", 9, 9), (7, "b", 1, 2)]
    monkeypatch.undo()
    page.planner._cancelled.add(8)
    page.planner.take_request(AskRequest(8, "check"))
    page.planner.take_request(AskRequest(9, "quote"))
    page.planner.take_request(AskRequest(10, "art", {"sha": "0", "path": str(Path("none.png")), "side": 64}))
    answers = wait_until(
        lambda: (found := [one for one in list(page.sent) if hasattr(one, "refused")]) and len(found) == 3 and found,
        "answers",
        0.01,
    )
    told.show("refused", {str(one.number): one.refused for one in sorted(answers, key=lambda one: one.number)})
    assert page.planner._cancelled == set()
    assert threading.active_count() < 50


def test_planner_without_a_plan(told: Told, asker: Any) -> None:
    """Papers that are not on file, nothing to plan, and artwork that is not there: what is wrong is told, and then mended."""
    page = asker()
    (page.folder / "disc.png").write_bytes(encode_png(draw_disc(150)))
    page.plan({"op": "choose", "name": "papers", "value": ["a77"]}, add("disc.png", "left-chest", "90 mm"))
    page.ask("quote")
    page.ask("garments", start=0, count=5)
    page.plan({"op": "choose", "name": "papers", "value": ["a4"]}, shown=False)
    page.ask("quote", "levels")
    other = asker("a77")
    other.plan(add("disc.png", "left-chest", "90 mm"))
