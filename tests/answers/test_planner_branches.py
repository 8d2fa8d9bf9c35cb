# ruff: noqa: E501 - tables of rows
"""A batch's planner over varied batches: kits and words, several papers, sheets printed once more, prices, refusals."""

from __future__ import annotations

from typing import Any

import pytest

from answers.pictures import PICTURES, draw_disc
from answers.told_planner import add
from approved_answers import Told, encode_png
from impose.page.made_folders import find_made
from impose.page.planner_messages import ReloadRequest
from impose.page.planner_process import explain_error
from impose.run.shop_changes import change_shop
from impose.values import replace

pytestmark = pytest.mark.usefixtures("sheets_alone")


def put(page: Any, **pictures: Any) -> None:
    for name, picture in pictures.items():
        (page.folder / f"{name}.png").write_bytes(encode_png(picture))


def kit(name: str, **cells: str) -> dict[str, Any]:
    return {"op": "add", "table": "kits", "cells": {"kit": name, **cells}}


def test_planner_of_kits(told: Told, asker: Any) -> None:
    """Words and pictures of kits on garments of several kinds; a print of a kit that fails; the press view by both ways."""
    page = asker("a4", "a3")
    put(page, disc=draw_disc(150), haze=PICTURES["haze"]())
    number = page.plan(
        kit("team", art="disc.png", placement="left-chest", garment="hoodie", width="80 mm"), kit("team", words="{name}", placement="upper-back"),
        kit("team", words="{number}", placement="full-back", height="120 mm"), kit("hazy", art="haze.png", placement="full-front", width="120 mm"),
        kit("hazy", art="gone.png", placement="nape"),
        *({"op": "column", "heading": name} for name in ("kit", "name", "number")),
        *({"op": "add", "cells": {"order": order, "kit": which, "garment": garment, "name": name, "number": shown, "wearer": name or order}}
          for order, which, garment, name, shown in (
              ("1", "team", "hoodie adult M", "Ada", "7"), ("1", "team", "hoodie youth S", "Bo", "10"), ("1", "team", "hoodie adult M", "", ""),
              ("2", "hazy", "t-shirt adult L", "Cy", ""), ("2", "crew", "t-shirt adult L", "Di", ""))),
    )  # fmt: skip
    page.ask("garments", start=0, count=0)
    page.ask("garments", start=1, count=2, row="r2,r4")
    page.ask("garments", start=0, count=9, row="r77")
    plan = page.planner.plan_of(number)
    for name, entry in plan.writer.findings.found.items():
        for mend in ("", "clean-haze"):
            page.ask(
                "crop", plan=number, finding=name, mend=mend, title=f"crop of {entry.kind}, row {entry.row} {mend}"
            )
    page.ask("check")
    page.ask("make", plan=number)
    made = page.ask("make", "id", "code", plan=number, without=True, preview=True, title="made without the rest")
    told.call(made["code"], "code")
    told.call(made["id"], "made")
    press = page.ask("press", "cautions", "order_of_work", made=made["id"], by="garment")
    names = {
        one["picture"].rpartition("/")[2].partition(".")[0]
        for garment in press["garments"]
        for one in garment["prints"]
    }
    for at, name in enumerate(sorted(names)):
        told.call(name, f"picture {at}")
    for garment in press["garments"]:
        for one in garment["prints"]:
            page.ask(
                "press_picture",
                made=made["id"],
                name=one["picture"].rpartition("/")[2].partition(".")[0],
                title=f"picture of {one['title']}, {garment['wearer']}",
            )
    place = page.ask("press", "cautions", "order_of_work", "more", made=made["id"], by="place")
    told.show(
        "by place",
        "\n".join(
            f"{entry['wearer']} {entry['setup']}: {[one['title'] for one in entry['prints']]}"
            for entry in place["garments"]
        ),
    )
    page.ask("again", made=made["id"])
    (page.folder / "disc.png").unlink()
    gone = next(one for garment in press["garments"] for one in garment["prints"] if one["title"] == "Left chest")
    page.ask(
        "press_picture",
        made=made["id"],
        name=gone["picture"].rpartition("/")[2].partition(".")[0],
        title="its artwork is gone",
    )
    page.ask("press", made="m0", by="place")
    page.ask("price", made="m0")
    page.ask("again", made="m0")


def test_planner_makes_again(told: Told, asker: Any) -> None:
    """What is made takes the place of an output, its paper comes back; sheets fed once more; first garments apart."""
    page = asker("a4")
    put(page, disc=draw_disc(150))
    count = {"op": "setting", "name": "papers", "value": ["a4"]}
    change_shop([count], told.folder / "mine", page.planner.options)
    page.plan({"op": "add", "cells": {"order": "Owls", "garment": "hoodie adult M"}})
    page.ask("make", plan=1)
    number = page.plan(
        {"op": "remove", "ids": ["r1"]}, *(add("disc.png", "left-chest", "50 mm", wearer=name) for name in "AB")
    )
    made = page.ask("make", "id", "code", plan=number, title="made")
    told.call(made["code"], "code")
    told.call(made["id"], "made")
    page.ask("make", "id", "code", plan=number, replace=made["id"], title="made in its place")
    page.ask(
        "make", "id", "code", plan=number, replace=made["id"], printed=True, title="made in its place, though printed"
    )
    page.ask("make", plan=number, replace="m0")
    fit = {"whole": True, "flat": True, "dry": True}
    for lacking in ({}, {"made": made["id"], "whole": True}, {**fit, "made": "m0"}, {**fit, "made": made["id"], "sheets": [0]}, {**fit, "made": made["id"], "clear": "far"},
                    {**fit, "made": made["id"], "sheet": 9}):  # fmt: skip
        page.ask("make", plan=number, onto=lacking)
    told.call(
        page.ask(
            "make",
            "id",
            "code",
            plan=number,
            onto={**fit, "made": made["id"], "sheet": 1, "clear": "3 mm"},
            title="on the printed sheet",
        )["code"],
        "code onto",
    )
    first = page.ask("make", "id", "code", plan=number, first=True, title="one of each run apart")
    told.call(first["code"], "code first")
    told.call(first["id"], "first")
    names = ["T001", "T002"]
    onto = page.ask(
        "reprint",
        "id",
        "code",
        made=made["id"],
        ids=names[:1],
        onto={**fit, "sheets": [1]},
        title="made again on the printed sheet",
    )
    told.call(onto["code"], "code again")
    page.ask("reprint", "id", "code", made=made["id"], orders=["Owls"], because="spoiled", title="the order again")
    page.ask(
        "reprint", "id", "code", made=made["id"], sheets=[1], because="lost", new_art=True, title="the sheet again"
    )
    for wrong in ({"ids": ["T99"]}, {"orders": ["Bats"]}, {"sheets": [9]}, {}):
        page.ask("reprint", made=made["id"], **wrong)
    put(page, disc=draw_disc(140))
    page.ask("reprint", "id", "code", made=made["id"], ids=names[:1], title="again, the artwork has changed")
    page.ask("made", "id", "code", "files")
    page.plan(add("disc.png", "nape", "50 mm"), shown=False)
    page.ask("make", plan=number)
    page.ask("stop")
    told.list_files("batch")


def test_planner_prices(told: Told, asker: Any) -> None:
    """What is missing for a price, the price by parts, offers written once and again, another currency."""
    page = asker("a4")
    put(page, disc=draw_disc(150))
    number = page.plan(
        add("disc.png", "left-chest", "90 mm"), add("disc.png", "left-chest", "90 mm", wearer="Bo"), add("disc.png", "full-back", "180 mm", wearer="Cy", garment="t-shirt adult L", order="Bats"),
        add("disc.png", "nape", "50 mm", order="", wearer=""),
    )  # fmt: skip
    made = page.ask("make", "id", "code", plan=number, title="made")
    told.call(made["code"], "code")
    told.call(made["id"], "made")
    page.ask("price", made=made["id"], write=True, title="price, nothing entered")
    prices = {"press_rate": "18", "power_kw": "1.8", "power_cost": "0.30", "markup": "60", "tax": "20"}
    own = told.folder / "mine"
    change_shop(
        [{"op": "price", "name": name, "value": value} for name, value in prices.items()], own, page.planner.options
    )
    page.ask("price", made=made["id"], write=True, title="price, no blanks")
    for garment, cost in (("hoodie", "16"), ("t-shirt", "4.50")):
        change_shop([{"op": "price", "blank": garment, "cost": cost}], own, page.planner.options)
    page.ask("price", made=made["id"], title="price")
    page.ask("price", made=made["id"], write=True, title="price, offers written")
    page.ask("price", made=made["id"], write=True, title="price, offers that are there")
    page.ask("price", made=made["id"], write=True, replace=True, title="price, offers written anew")
    told.list_files(f"batch/{find_made(page.folder, made['id']).path.name}/offers")


def test_planner_of_several_papers(told: Told, asker: Any) -> None:
    """Choices of a batch, one paper that takes nothing, the cheapest mix, tips, too large for one of several; read anew."""
    page = asker("a4", "a3", "roll-13in")
    put(page, disc=draw_disc(150), wide=PICTURES["wide"](), tall=PICTURES["tall"]())
    page.plan(
        add("disc.png", "full-front", "230 mm"), add("wide.png", "upper-back", "250 mm", wearer="Bo"), add("tall.png", "left-long-sleeve", "60 mm", wearer="Cy"),
        *(add("disc.png", "left-chest", "95 mm", wearer=name) for name in "DEF"),
    )  # fmt: skip
    page.ask("quote")
    page.ask("tips")
    page.ask("large", "svg")
    page.plan(
        {"op": "choose", "name": "oversize", "value": "shrink"}, {"op": "choose", "name": "papers", "value": ["a4"]}
    )
    page.ask("large")
    page.ask("quote")
    page.plan(
        {"op": "choose", "name": "oversize", "value": None},
        {"op": "choose", "name": "tear", "value": "tight"},
        {"op": "choose", "name": "keep_upright", "value": True},
    )
    page.planner.take_request(
        ReloadRequest(
            replace(page.planner.setup.options, settings={"papers": ["13x19"], "currency": "USD", "units": "in"})
        )
    )
    page.plan({"op": "choose", "name": "papers", "value": None})
    page.ask("quote", "ops")
    page.plan({"op": "choose", "name": "placement", "value": "fly"})
    page.plan({"op": "choose", "name": "placement", "value": None}, {"op": "choose", "name": "steps", "value": "many"})


def test_planner_is_asked_wrongly(told: Told, asker: Any) -> None:
    """Documents of the shop that cannot be made, pictures that are none, and how each error is explained."""
    page = asker("a4")
    (page.folder / "text.png").write_text("no picture")
    put(page, disc=draw_disc(150))
    number = page.plan(add("disc.png", "left-chest", "90 mm"), shown=False)
    out = str(told.folder / "page.pdf")
    for placement, garment, paper in (
        ("knee", "hoodie", "a4"),
        ("nape", "sock", "a4"),
        ("full-back", "hoodie adult M", "a77"),
        ("nape", "hoodie youth S", ""),
        ("pocket", "hoodie adult XXL", "letter"),
    ):
        page.ask("guide", out=out, placement=placement, garment=garment, paper=paper)
    for named in (["red"], ["#12"], ["#fff", "#C81E28"], ["#C81E28", "#C81E28"]):
        page.ask("colours", out=out, art=[], named=named, title=f"colours {named}")
    page.ask("colours", out=out, art=[str(page.folder / "text.png")], named=[], title="colours of no picture")
    page.ask("art", sha="1" * 64, path=str(page.folder / "text.png"), side=64, title="art of no picture")
    page.ask("art", sha="2" * 64, path=str(page.folder / "none.png"), side=64, title="art that is not there")
    page.ask("sheet", plan=number, number=7)
    page.ask("crop", plan=number, finding="f1", mend="fly")
    page.ask("crop", plan=number + 5, finding="f1")
    for error in (
        OSError(28, "No space left on device"),
        PermissionError(13, "Permission denied"),
        KeyError("x"),
        StopIteration(),
        ValueError("x"),
    ):
        told.show(f"{type(error).__name__} is told as", explain_error(error))
