# ruff: noqa: E501 - tables of what is asked
"""Every address of the page, asked rightly and wrongly: what each answers and how each refusal is worded."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from answers.pictures import PICTURES, draw_disc
from answers.told_page import Page, add, get, post
from approved_answers import APPROVED, Told, encode_png
from impose.desk.folders import DeskFolders
from impose.desk.new_desk import make_desk
from impose.ledger.drops import DROPS, DropLedger
from impose.ledger.stock import STOCK
from impose.ledger.store import open_ledger
from impose.page.application import ROUTES
from impose.page.planner_client import CHILD
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from page.conftest import ASLEEP, Bed

pytestmark = pytest.mark.usefixtures("sheets_alone")


def test_edits_of_a_batch(told: Told, beds: Any) -> None:
    """Each kind of change, its names and its label; what undoing says; each change that cannot be; the files then."""
    page = Page(told, beds(ASLEEP))
    ops = lambda *entries, **more: post("~/changes", {"ops": list(entries), **more})  # noqa: E731
    kit = {
        "op": "add",
        "table": "kits",
        "cells": {"kit": "team", "art": "a.png", "placement": "left-chest"},
        "new": "mine",
    }
    page.try_each(
        post("~/undo", {}), post("~/redo", {}),
        ops({"op": "add", "cells": {"order": "1", "art": "a.png"}}, {"op": "add", "cells": {"order": "2", "wearer": "Bo\nBea"}, "new": "n1", "after": None},
            {"op": "set", "id": "n1", "column": "width", "value": "9 cm"}),
        ops({"op": "add", "cells": {"order": 3}, "after": "r1"}), ops({"op": "add", "cells": {"order": "4"}, "after": "r2"}),
        ops({"op": "move", "ids": ["r4", "r1"], "after": None}), ops({"op": "move", "ids": ["r4"], "after": "r2"}),
        ops({"op": "column", "heading": "kit"}), ops({"op": "column", "heading": "kit"}),
        ops({"op": "column", "heading": "house"}), ops({"op": "column", "heading": "house", "remove": True}),
        ops({"op": "column", "heading": "house", "remove": True}),
        ops(kit, {"op": "set", "table": "kits", "id": "mine", "column": "width", "value": "80 mm"}),
        ops({"op": "choose", "name": "papers", "value": ["a4", 13]}), ops({"op": "choose", "name": "steps", "value": 40}),
        ops({"op": "choose", "name": "strict", "value": False}), ops({"op": "choose", "name": "steps", "value": None}),
        ops({"op": "choose", "name": "strict", "value": {"a": 1}}), ops({"op": "choose", "value": "a4"}),
        ops({"op": "set", "id": "r1", "column": "note", "value": "one"}, label="A note", merge="note"),
        ops({"op": "set", "id": "r1", "column": "note", "value": "two"}, label="A note again", merge="note"),
        ops({"op": "set", "id": "r1", "column": "note", "value": "three"}, label="Other", merge="other"),
        post("~/undo", {}), post("~/undo", {}), post("~/redo", {}),
        ops({"op": "set", "id": "r1", "column": "note", "value": None}), post("~/redo", {}),
        ops({"op": "set", "id": "r1", "value": "x"}), ops({"op": "set", "id": "", "column": "note", "value": "x"}),
        ops({"op": "set", "id": "r1", "column": "note", "value": ["x"]}), ops({"op": "add", "cells": ["x"]}),
        ops({"op": "remove", "ids": "r1"}), ops({"op": "remove", "ids": [1]}), ops({"op": "remove", "ids": ["r77"]}),
        ops({"op": "move", "ids": ["r1"], "after": "r77"}), ops({"op": "add", "table": "beds"}), ops("add"), ops(),
        post("~/changes", {"ops": {}}), post("~/changes", {}),
        ops({"op": "remove", "ids": ["r2"]}), ops({"op": "set", "id": "r3", "column": "shelf", "value": "9"}),
        post("~/elsewhere", {"answer": "mine"}), post("~/copy-to-csv", {}), get("~"),
        post("~/large", {}), ("GET", "/api/b/bzz", None), post("/api/b/bzz/changes", {"ops": []}), post("/api/b/bzz/make", {}),
    )  # fmt: skip
    page.bed.close()
    for name in ("orders.csv", "kits.csv", "batch.toml"):
        told.show_file(f"../bed/batch/{name}")


def test_strangers_at_the_page(told: Told, beds: Any) -> None:
    """Who is kept out and in which words; what cannot be read; what is at no address."""
    page = Page(told, beds(ASLEEP))
    tab, port = page.tab, page.tab.port
    told.call(str(port), "port number")
    told.call(page.bed.page.keys.secret, "secret")
    table: list[tuple[str, str, Any, dict[str, str]]] = [
        ("GET", "/api/state", None, {"Host": "localhost:1"}), ("GET", "/api/state", None, {"Sec-Fetch-Site": "cross-site"}),
        ("GET", "/api/state", None, {"Sec-Fetch-Site": "same-site"}), ("GET", "/api/batches", None, {}),
        ("GET", "/api/state", None, {"Origin": "http://example.org"}), ("POST", "/api/quit", {}, {"Origin": "null"}),
        ("GET", "/api/state", None, {"Cookie": "impose_1=zz"}), ("GET", "/api/state", None, {"X-Impose-Token": "zz"}),
        ("GET", "/orders", None, {"X-Impose-Token": "zz"}), ("POST", "~/undo", {}, {"X-Impose-Token": ""}),
        ("GET", "/enter?key=zz", None, {}), ("GET", "/enter", None, {"Sec-Fetch-Site": "cross-site"}),
        ("POST", "/again", {}, {}), ("GET", "/again", None, {"X-Impose-Secret": "zz"}),
        ("POST", "~/changes", b"{", {"Content-Type": "application/json"}), ("POST", "~/changes", b"[]", {"Content-Type": "application/json; charset=utf-8"}),
        ("POST", "~/changes", b'{"ops": NaN}', {"Content-Type": "application/json"}), ("POST", "~/changes", b"{}", {"Content-Type": "text/plain"}),
        ("POST", "~/changes", b"\xff", {"Content-Type": "application/json"}), ("POST", "~/changes", b"", {"Content-Length": "9999999999"}),
        ("PUT", "~/changes", b"", {}), ("DELETE", "/api/state", None, {}), ("GET", "/static/nothing.js", None, {}),
        ("GET", "/static/..%2fpage.html", None, {}), ("GET", "/etc", None, {}), ("PATCH", "/nothing", b"", {}), ("GET", "/", None, {}),
        ("GET", "/shop", None, {}), ("GET", "~/art/" + "0" * 63 + ".png", None, {}),
    ]  # fmt: skip
    for method, path, sent, more in table:
        status, headers, body = tab.ask(method, path.replace("~", tab.base), sent, more)
        kind = headers.get("Content-Type", "")
        text = body.decode("utf-8") if kind.startswith("application/json") or status >= 400 else kind
        told.show(f"{status} {method} {path} {more} {sent if isinstance(sent, bytes) else ''}", text)
    secret = page.bed.page.keys.secret
    for sent, more in (({}, {"X-Impose-Secret": "wrong"}), ({}, {"X-Impose-Secret": secret}), ({"folder": str(told.folder / "none")}, {"X-Impose-Secret": secret}),
                       ({"folder": str(told.folder)}, {"X-Impose-Secret": secret})):  # fmt: skip
        page.tab.headers = lambda method: {}  # type: ignore[method-assign]
        status, _, body = tab.ask("POST", "/again", sent, more)
        answer = json.loads(body)
        if "address" in answer:
            answer["address"] = answer["address"].partition("?key=")[0] + (
                "&batch" if "&batch=b" in answer["address"] else ""
            )
        told.show(f"{status} POST /again {sorted(sent)} {sorted(more)} {'wrong' in more.values()}", answer)


def test_pictures_that_come(told: Told, beds: Any) -> None:
    """Pictures that are dropped: names made fit for every system, the same twice, foreign files, sizes of small ones."""
    page = Page(told, beds(ASLEEP))
    disc, other, third = (encode_png(draw_disc(size)) for size in (40, 44, 48))
    put = lambda name, content: ("PUT", f"~/art?name={name}", content)  # noqa: E731
    page.try_each(
        put("crest.png", disc), put("again.png", disc), put("crest.png", other), put("CREST.PNG", third),
        put("..%2F..%2Fup.png", encode_png(draw_disc(50))), put("con.png", encode_png(draw_disc(52))), put("", encode_png(draw_disc(54))),
        put("a%3Ab%3C%22.Png", encode_png(draw_disc(56))), put("no%20ending", encode_png(draw_disc(58))), put("%20%2E.png", encode_png(draw_disc(60))),
        put("o" * 140 + ".png", encode_png(draw_disc(62))), put("x.toolong", encode_png(draw_disc(64))),
        put("page.pdf", b"%PDF-1.4\n"), put("a.jpg", b"\xff\xd8\xff\xe0" + b"x" * 40), put("a.svg", b"<svg xmlns='http://www.w3.org/2000/svg'/>"),
        put("a.png", b""), put("a.png", b"hello"), put("a.ai", b"%!PS-Adobe"), put("a.zip", b"PK\3\4"),
        ("PUT", "~/art?name=a.png", b""), ("POST", "~/art", {}), ("PUT", "/api/b/bzz/art?name=a.png", disc),
    )  # fmt: skip
    sha = page.tab.get(page.tab.base)["art"][0]["sha"]
    page.try_each(
        get(f"~/art/{sha}.png?side=15"), get(f"~/art/{sha}.png?side=1025"), get(f"~/art/{sha}.png?side=x"),
        get(f"~/art/{'0' * 64}.png"), get("~"),
    )  # fmt: skip
    told.list_files("../bed/batch/art")


def test_rosters_and_exports(told: Told, beds: Any) -> None:
    """Pasted lines with a kit, questions and their answers; exports of two kinds, looked at, mapped, taken, refused."""
    page = Page(told, beds(ASLEEP))
    kits = [
        ("team", "back.png", "", "hoodie"),
        ("", "", "{name}", ""),
        ("", "", "{number}", ""),
        ("fans", "f.png", "", ""),
    ]
    page.tab.change(
        *(
            {"op": "add", "table": "kits", "cells": dict(zip(("kit", "art", "words", "garment"), cells, strict=True))}
            for cells in kits
        )
    )
    roster = lambda text, **more: post("~/roster", {"text": text, **more})  # noqa: E731
    page.try_each(
        roster("Ada 7 adult M\nBo 8 youth L\n\nCy"), roster("Ada 7 adult M\nBo L", kit="team"), roster("Ada 7 M", kit="TEAM ", order="Owls"),
        roster("Ada M", kit="fans", garment="t-shirt"), roster("Name;Number;Size\nAda;7;M\nBo;;XXXL", kit="team"), roster(""),
        roster("Ada\t7\tM\nBo\t8\tL", kit="none"), roster("Name,Size,Qty\nAda,M,2\nBo,L,none"), roster("7 Ada M\n8 Bo M\n9 L", kit="team"),
    )  # fmt: skip
    asked = page.tab.post(f"{page.tab.base}/roster", {"text": "Ada 7 M\nBo 8 L", "kit": "team"})
    answers = {ask["id"]: ask["answers"][0]["answer"] for ask in asked["asks"]}
    page.try_each(roster("Ada 7 M\nBo 8 L", kit="team", answers=answers), roster("Ada 7 M", answers=["a"]))
    put = lambda name, content: ("PUT", f"~/import?name={name}", content)  # noqa: E731
    shop = "Order No;Item;Size;Qty;Print file;Position\n1001;Hoodie;M;1;crest.png;left-chest\n1002;T-shirt;L;many;own/crest.png;knee\n1003;Hoodie;S;0;crest.png;nape\n"
    page.try_each(
        put("shop.pdf", b"x"), put("shop.csv", b""), put("shop.csv", b"\n\n"), put("shop.xlsx", b"not a zip"),
        put("..%5Clist.TSV", b"order\tart\twidth\nA\tx.png\t9 cm\n"), put("latin.csv", "Commande,Fichier\nÉté,x.png\n".encode("cp1252")),
    )  # fmt: skip
    read = json.loads(page.tab.ask("PUT", f"{page.tab.base}/import?name=shop.csv", shop.encode())[2])
    page.tell("shop.csv", read, "import")
    told.call(read["import"], "import")
    mapped = {"order": {"from": "Order No"}, "garment": {"from": ["Item", "Size"]}, "copies": "Qty", "art": {"from": "Print file"},
              "placement": {"from": "Position"}}  # fmt: skip
    take = lambda sent, key=read["import"]: post(f"~/import/{key}", sent)  # noqa: E731
    page.try_each(
        take({}), take({"map": []}), take({"map": mapped}, "i00000000"), take({"map": {"order": "Nowhere"}}), take({"map": {"shelf": "Qty"}}),
        take({"map": mapped}), take({"map": mapped, "skip": {"Qty": ["many", "0"]}}), take({"map": {"placement": {"from": "Position", "values": {"knee": "nape"}}}}),
        take({"map": mapped, "skip": {"Item": ["Hoodie", "T-shirt"]}, "take": True}),
        take({"map": mapped, "skip": {"Item": ["T-shirt"]}, "take": True}), put("shop.csv", shop.encode()),
        put("other.csv", b"Order;Item\n1;Hoodie\n"), get("~"),
    )  # fmt: skip
    told.show_file("../bed/batch/columns.toml")


def test_values_on_the_page(told: Told, beds: Any) -> None:
    """Garments and their places, columns, choices, first questions, printers, batches: asked, answered, refused."""
    page = Page(told, beds(ASLEEP))
    shop = lambda *ops: post("/api/shop", {"ops": list(ops)})  # noqa: E731
    page.try_each(get("/api/columns"), get("/api/garments"))
    for words in ("", "hoodie%20youth%20M", "t-shirt%20adult%20XXL", "sock%20L", "tote%20bag"):
        page.get(f"/api/garments/drawing?garment={words}", "points")
    page.tab.change({"op": "choose", "name": "steps", "value": 40}, {"op": "choose", "name": "papers", "value": ["a3"]})
    page.try_each(get("/api/choices"), get("/api/choices?batch=bzz"))
    page.tab.change({"op": "choose", "name": "papers", "value": ["a77"]})
    page.try_each(
        get("/api/first"), post("/api/first", {}), post("/api/first", {"answers": {"papers": [{"paper": "a4", "left": "x"}]}}),
        post("/api/first", {"answers": {"units": "in", "currency": "USD", "papers": [{"paper": "a4", "cost": "0.2", "left": "50"}], "press": {"press": "15x15"}}}),
        post("/api/first", {"answers": {"printer": {"name": "attic", "paper": "a4"}}}), get("/api/first"), post("/api/first", {"skip": True}), get("/api/shop/stock"),
        post("/api/shop", {"ops": {}}), post("/api/shop", {"ops": ["a"]}), post("/api/shop", {"ops": [{}] * 201}),
        shop({"op": "count", "paper": "a4", "how": "burn", "amount": "5"}), shop({"op": "count", "paper": "a4", "how": "waste", "amount": "900"}),
    )  # fmt: skip
    told.list_files("../bed/profiles")
    for how, amount in (("set", "20"), ("add", "10"), ("waste", "3"), ("stop", "")):
        page.try_each(
            post(
                "/api/shop",
                {"ops": [{"op": "count", "paper": "a4", "how": how, "amount": amount, "because": "box/two.pdf"}]},
            )
        )
    page.try_each(
        get("/api/shop/stock"), get("/api/shop/calibration/file/calibration.pdf"), post("/api/shop/calibration", {"paper": "a4"}),
        post("/api/shop/calibration", {"printer": "mine", "paper": "a77"}), post("/api/shop/calibration", {"printer": "mine"}),
        get("/api/shop/calibration/file/calibration.pdf"), post("/api/shop/calibration/readings", {"printer": "mine"}),
        post("/api/shop/calibration/readings", {"readings": {"across": "199"}}), post("/api/shop/calibration/readings", {"printer": "mine", "readings": {"across": "wide"}}),
        post("/api/shop/calibration/readings", {"printer": "mine", "paper": "a4", "readings": {"across": "179.6/180", "along": "199.2/200", "left": "3", "top": "3", "right": "4", "bottom": "12", "rising": "", "falling": " "}}),
        post("/api/shop/calibration/readings", {"printer": "mine", "paper": "a4", "read_to": "0.5 mm", "write": True,
                                                "readings": {"across": "179.6/180", "along": "199.2/200", "left": "3", "top": "3", "right": "4", "bottom": "12"}}),
        ("POST", "/api/printers", {}), ("POST", "/api/printers", {"printer": "mine", "address": "ftp://x"}),
        get("/api/desk"), post("/api/desk", {"ask": "stop"}), get("/api/desk/1/proof"), get("/api/find?words=%20"), get("/api/find?words=nobody"),
    )  # fmt: skip
    told.show_file("../bed/profiles/printers.toml")


def test_batches_on_the_page(told: Told, beds: Any) -> None:
    """Batches begun, opened, named anew where the name is taken; what is asked of a batch that has no plan."""
    page = Page(told, beds(ASLEEP))
    for sent in (
        {},
        {"name": "  "},
        {"name": "con"},
        {"name": "Owls / 1:2"},
        {"name": "Owls / 1:2"},
        {"open": "bzz"},
        {"open": page.tab.batch},
        {"example": True},
    ):
        status, _, body = page.tab.ask("POST", "/api/batches", sent)
        answer = json.loads(body)
        told.call(answer.get("id", "none"), f"the batch {answer.get('name')}")
        page.tell(f"{status} POST /api/batches {sent}", answer)
    page.get("/api/state", "version", "formats", "printing")
    colours = lambda **sent: post("~/colours", sent)  # noqa: E731
    page.try_each(
        get("~/plan"), get("~/plan/0/sheets/1.png"), get("~/garments?from=x"), get("~/garments?count=1234567890"), post("~/make", {"plan": 1}), post("~/make", {}),
        get("/api/jobs/zz"), ("DELETE", "/api/jobs/zz", None), colours(), colours(art="x"), colours(art=["0" * 64]), colours(colours=[1]),
        colours(colours=["#fff"] * 21), colours(colours=["  "]), get("~/documents/guide.pdf"), get("~/documents/colours.pdf"), get("~/documents/other.pdf"),
    )  # fmt: skip
    told.list_files("../bed/home")


def test_what_was_made_on_the_page(told: Told, beds: Any) -> None:
    """Sheets, pictures and crops of a plan; the files of an output, its press view, its printing; documents of the shop."""
    page = Page(told, beds(CHILD))
    tab = page.tab
    for name, content in (("crest.png", draw_disc(150)), ("haze.png", PICTURES["haze"]())):
        tab.drop(name, encode_png(content))
    made = tab.change(
        add("art/crest.png", placement="left-chest"),
        add("art/haze.png", placement="full-front", width="90 mm", wearer="Bo", copies="2"),
    )
    plan = tab.plan(made["revision"], "clean-haze")
    at = f"~/plan/{plan['plan']}"
    haze = next(found["id"] for found in plan["findings"] if found["kind"] == "haze")
    told.call(f"plan/{plan['plan']}/", "plan/<number>/")
    svg = tab.ask("GET", f"{tab.base}/plan/{plan['plan']}/sheets/1.svg")[2].decode()
    picture = svg.partition("/pictures/")[2].partition(".png")[0]
    told.call(picture, "picture")
    art = tab.get(tab.base)["art"][0]["sha"]
    page.try_each(
        get(f"{at}/sheets/1.svg"), get(f"{at}/sheets/9.svg"), get(f"{at}/findings/{haze}/before.png"), get(f"{at}/findings/{haze}/after.png?mend=clean-haze"),
        get(f"{at}/findings/{haze}/after.png?mend=fly"), get(f"{at}/findings/f99/before.png"), get(f"~/pictures/{picture}.png"), get(f"~/pictures/{picture}.png?worn=1"),
        get(f"~/pictures/p{'0' * 24}.png"), get(f"~/art/{art}.png?side=64"), get("~/garments?row=r2&count=1"), get("~/garments?from=9"), post("~/plan/stop", {}),
    )  # fmt: skip
    page.work("~/guide", {"placement": "left-chest", "garment": "hoodie adult M", "paper": "a4"})
    page.work("~/guide", {"placement": "knee", "garment": "hoodie adult M"}, state="failed")
    page.work("~/colours", {"art": [art], "colours": ["#C81E28", " "]})
    page.try_each(get("~/documents/guide.pdf"), get("~/documents/colours.pdf"))
    page.work("~/make", {"plan": 99999}, state="failed")
    entry = page.work("~/make", {"plan": plan["plan"], "preview": True, "without": True})
    told.call(entry["id"], "made")
    told.call(entry["code"], "code")
    one = f"~/made/{entry['id']}"
    names = [transfer["id"] for sheet in plan["sheets"] for transfer in sheet["transfers"]]
    tick = lambda *ticks: post(f"{one}/ticks", {"ticks": list(ticks)})  # noqa: E731
    wish = {"file": "sheets-a4.pdf", "printer": "mine"}
    page.try_each(
        get(f"{one}/file/batch.json/x"), get(f"{one}/file/../orders.csv"), get(f"{one}/file/proof.html"), get(f"{one}/file/sheets-a4.pdf?save=1"), get(f"{one}/file/blanks.csv"),
        get(f"{one}/press?by=place"), get(f"{one}/pictures/p{'0' * 24}.png"), tick({"transfer": names[0], "pressed": True}), tick({"transfer": names[0], "spoiled": "paper"}), tick({"transfer": names[0], "spoiled": None}),
        tick({"transfer": "T99", "pressed": True}), tick({"transfer": names[0], "pressed": "yes"}), tick({"transfer": names[0], "spoiled": "ink"}), tick(), post(f"{one}/ticks", {"ticks": 1}),
        tick({"transfer": names[1], "spoiled": "garment"}, {"transfer": names[2], "pressed": True}), get(f"{one}/again"), get(f"{one}/press"),
        post(f"{one}/again", {"ids": 1}), post(f"{one}/again", {"ids": names[:1], "orders": 1}), post(f"{one}/agreed", {"by": "Ada", "order": "Nobody"}), post(f"{one}/agreed", {"by": "Ada", "order": "Owls", "on": "2026-11-28"}),
        get(f"{one}/offers/none.pdf"), post(f"{one}/print/check", wish), post(f"{one}/print/check", {**wish, "printer": ""}), post("~/made/mzz/print/check", wish),
        post(f"{one}/again-batch", {"name": "con"}), post("~/made/mzz/again-batch", {}), get("~/made/mzz/press"), get("~/made/mzz/file/proof.html"), get("/api/find?words=bo"),
        get("/api/find?words=owls%20left"),
    )  # fmt: skip
    page.work(f"{one}/again", {"ids": names[:1], "because": "whim"}, state="failed")
    page.work(f"{one}/again", {"ids": ["T99"]}, state="failed")
    page.work(f"{one}/again", {"ids": names[:1], "onto": {"whole": True}}, state="failed")
    page.work(f"{one}/price", {}, state="done")
    for words in ("wearer,copies\nDee,2\n", "wearer,copies\nBo,1\n"):
        sent = {"roster": words, "listed_only": True}
        status, _, body = tab.ask("POST", f"{one}/again-batch".replace("~", tab.base), sent)
        page.tell(f"{status} POST {one}/again-batch {sent}", json.loads(body), "id")
    page.try_each(post("/api/printers", {"printer": "mine", "address": "127.0.0.1:9"}))
    for more in (
        {},
        {"file": "none.pdf"},
        {"sheets": "x"},
        {"sheets": "9"},
        {"sheets": "1-"},
        {"answers": []},
        {"accept": {}},
    ):
        page.try_each(post(f"{one}/print/check", {**wish, **more}))
    page.try_each(
        post(f"{one}/print/send", wish),
        post(f"{one}/print/send", {**wish, "asked_after": True}),
        post(f"{one}/print/follow", wish),
        post(f"{one}/print/cancel", wish),
    )


def test_desk_on_the_page(told: Told, tmp_path: Path) -> None:
    """A desk that asks, has made and has refused: what is shown of it, each wish and each wish that cannot be."""
    places, _ = make_desk(tmp_path / "scene" / "desk", load_profiles_in_force(Options()))
    with open_ledger(places.ledger, [DROPS, STOCK]) as opened:
        DropLedger(opened)
        with opened.begin_change() as db:
            for name, state, facts in (
                ("owls", "delivered", {"code": "ABCD", "transfers": 1, "sheets": 2, "cost": "0.30", "currency": "EUR", "warnings": ["a", "b"]}),
                ("moths", "delivered", {"transfers": 3, "sheets": 1, "cost": "1.20"}),
                ("bees", "delivered", {}),
            ):  # fmt: skip
                db.execute(
                    "INSERT INTO deliveries (name, done, state, begun_at, made) VALUES (?, '', ?, 0, ?)",
                    (name, state, json.dumps(facts)),
                )
    bed = Bed(tmp_path / "bed", ASLEEP, desk=places.root)
    try:
        page = Page(told, bed)
        wish = lambda kind, **more: post("/api/desk", {"ask": kind, **more})  # noqa: E731
        page.try_each(
            get("/api/desk"), wish("make-now"), wish("stop"), wish("accept"), wish("reject", number=7), wish("fly"), post("/api/desk", {}),
            wish("printed", number=1), wish("print-again", number=2), wish("printed"), wish("printed", number=0), wish("print-again", number="2"),
            get("/api/desk"), get("/api/desk/1/proof"), get("/api/desk/x/proof"), get("/api/state"),
        )  # fmt: skip
        told.list_files("desk")
        assert DeskFolders(places.root).requests.is_dir()
    finally:
        bed.close()


# Their answers are cookies, pages, files of the program, a stream, all catalogues at once: tests/page asks for them.
NO_SCENE = {
    "GET /enter", "POST /again", "GET /()", "GET /(orders|sheets|press|shop|desk|more|start)", "POST /api/batches",
    r"GET /static/([A-Za-z0-9._-]+(?:/[A-Za-z0-9._-]+)?)", "POST /api/quit", "GET /api/events", "GET /api/shop",
}  # fmt: skip


def test_every_address_of_the_page_has_a_scene() -> None:
    """A new address, or a second method of an old one, is asked here before it is let in."""
    asked = set()
    for text in APPROVED.glob("*.txt"):
        for method, address in re.findall(r"^# ([A-Z]+) ((?:<[^>]*>|\S)+)", text.read_text("utf-8"), re.MULTILINE):
            address = re.sub(r"<([a-z]+)/<[a-z]+>/>", r"\1/1/", address.rstrip(":").partition("?")[0])
            asked.add(f"{method} {address.replace('~', '/api/b/b1', 1)}")
    known = {
        f"{method.upper()} {pattern}"
        for pattern, handler in ROUTES[:-1]
        for method in ("get", "post", "put", "delete", "patch")
        if any(method in vars(kind) for kind in handler.__mro__ if kind.__module__.startswith("impose."))
    }
    assert len(known) > 50
    assert known >= NO_SCENE
    groups = re.compile(r"\((?!\.\+)[^()]*\)")  # but for that of a file's path
    unasked = [
        one for one in known - NO_SCENE if not any(re.fullmatch(groups.sub("[^/]+", one), past) for past in asked)
    ]
    assert not sorted(unasked)
