"""Which garments a customer is shown as one, and what an offer says of amounts: by cases, with texts as shipped."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose import files
from impose.orders.batch import BatchRow
from impose.pages.proof import garment_looks
from impose.pages.proof.garment_looks import (
    GarmentLook,
    ProofGarment,
    ProofPrint,
    list_prints,
    make_look_key,
    order_code,
)
from impose.pages.proof.offer import Offer, OfferLine, join_texts
from impose.profiles.profiles import load_profiles
from impose.values import replace

PROFILES = load_profiles(files.find_shipped_profiles())
TEXTS = PROFILES.texts
GARMENT = PROFILES.wardrobe.read_garment("T-shirt adult M").garment
ROW = BatchRow(2, "Crew", "Ada", "owl.png", Path(), "left-chest", GARMENT, 1, None, None)


def make_step(row: BatchRow, size: tuple[float, float] = (80.0, 60.0), panel: int = 0, copy: int = 1, sha: str = "1",
              kind: str = "t-shirt") -> Any:  # fmt: skip
    picture = SimpleNamespace(sha256=sha, ink=(0, 0, 1, 1), components=3, icc=None, look=(sha,), kept="")
    piece = SimpleNamespace(row=row, finished_size=size, up="top", picture=picture,
                            panel=SimpleNamespace(number=panel) if panel else None)  # fmt: skip
    return SimpleNamespace(print=(row.key, copy), transfer=SimpleNamespace(piece=piece),
                           shape=SimpleNamespace(kind=kind))  # fmt: skip


@pytest.fixture(autouse=True)
def _by_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(garment_looks, "picture_key", lambda picture: picture.sha256)


def make_print(*steps: Any) -> ProofPrint:
    return ProofPrint(tuple(steps))


def test_prints_are_in_the_order_of_their_rows_with_their_panels_together() -> None:
    back = replace(ROW, row=3, placement="full-back")
    steps = [make_step(back, panel=2), make_step(ROW), make_step(back, panel=1), make_step(ROW, copy=2)]
    prints = list_prints(cast(Any, SimpleNamespace(steps=steps)))
    assert [[(s.print, s.transfer.piece.panel and s.transfer.piece.panel.number) for s in p.steps] for p in prints] == [
        [(((2, 0), 1), None)], [(((2, 0), 2), None)], [(((3, 0), 1), 1), (((3, 0), 1), 2)]
    ]  # fmt: skip
    assert prints[2].row is back
    assert make_print(make_step(ROW, (80.004, 60.006))).size == (80.0, 60.01)


def test_garments_look_alike_by_places_pictures_and_colours_and_words_only_by_being_there() -> None:
    base = make_look_key([make_print(make_step(ROW))])
    for same in (replace(ROW, wearer="Bo"), replace(ROW, row=9, copies=5), replace(ROW, note="x")):
        assert make_look_key([make_print(make_step(same, (120.0, 90.0)))]) == base
    for other in (replace(ROW, placement="full-back"), replace(ROW, art="fox.png"), replace(ROW, words="ADA")):
        assert make_look_key([make_print(make_step(other))]) != base
    assert make_look_key([make_print(make_step(ROW, kind="hoodie"))]) != base
    words = [make_look_key([make_print(make_step(replace(ROW, art=f"words {w}", words=w)))]) for w in ("ADA", "BO")]
    assert words[0] == words[1]


def make_garment(
    wearer: str, size: tuple[float, float], words: str = "", count: int = 1, sha: str = "1"
) -> ProofGarment:
    row = replace(ROW, wearer=wearer, words=words)
    worn = SimpleNamespace(wearer=wearer)
    return ProofGarment(cast(Any, worn), (make_print(make_step(row, size, sha=sha)),), count)


def test_a_look_tells_its_sizes_and_counts() -> None:
    look = GarmentLook(
        (make_garment("Ada", (80, 60), count=2), make_garment("Bo", (70, 50)), make_garment("Cy", (80, 60)))
    )
    assert (look.count, look.one_size, look.list_sizes(0)) == (4, False, [(70, 50), (80, 60)])
    assert GarmentLook(look.garments[:1]).one_size
    named = GarmentLook((make_garment("Ada", (80, 60), "ADA"), make_garment("Bo", (40, 60), "BO")))
    assert named.one_size, "words have their letters', however long"
    assert look.garments[1].tell_count(TEXTS) == look.garments[1].words
    assert look.garments[0].tell_count(TEXTS) == TEXTS.fill_sentence(
        "approval", "several", count=2, garment=look.garments[0].words
    )


def test_the_code_of_an_order_is_of_what_its_page_shows() -> None:
    base = order_code([GarmentLook((make_garment("Ada", (80, 60)),))])
    assert order_code([GarmentLook((make_garment("Ada", (80, 60)),))]) == base
    assert len(base) == 4
    others = [make_garment("Bo", (80, 60)), make_garment("Ada", (81, 60)), make_garment("Ada", (80, 60), "ADA"),
              make_garment("Ada", (80, 60), count=2), make_garment("Ada", (80, 60), sha="2")]  # fmt: skip
    assert base not in {order_code([GarmentLook((other,))]) for other in others}


LINE = OfferLine(1, "T-shirt adult M", 3, "12.00", "36.00", ((12, "11.40"), (24, "10.80")))
OFFER = Offer(TEXTS, "Crew", "3F7K", "Low Bridge", "", "EUR", (cast(Any, None),), ("left chest", "back"), (LINE,),
              "36.00", "7.20", "20", "43.20", "5", "0.50")  # fmt: skip


def say(key: str, **values: Any) -> str:
    return TEXTS.fill_sentence("offer", key, **values)


def test_an_offer_names_price_tax_and_total_or_the_total_alone() -> None:
    assert OFFER.sums == [
        (say("price"), "36.00"), (say("tax", rate="20"), "7.20"), (say("total"), "43.20")
    ]  # fmt: skip
    assert replace(OFFER, tax_rate="").sums == [(say("total_untaxed"), "43.20")]
    assert OFFER.heads == (say("garments"), say("number"), say("each"), say("amount", currency="EUR"))


def test_an_offer_says_what_was_taken_off_how_it_is_rounded_and_that_it_holds() -> None:
    rounded = say("rounded", currency="EUR", amount="0.50")
    assert OFFER.notes == [say("less", share="5"), rounded, say("holds")]
    assert replace(OFFER, less="").notes == [rounded, say("holds")]


def test_what_one_costs_in_larger_orders_is_one_sentence() -> None:
    steps = [say("step", count=12, price="11.40"), say("step", count=24, price="10.80")]
    assert OFFER.list_steps(LINE) == say("steps", steps=say("both", first=steps[0], second=steps[1]))
    assert OFFER.list_steps(replace(LINE, steps=LINE.steps[:1])) == say("steps", steps=steps[0])
    assert OFFER.list_steps(replace(LINE, steps=())) == ""
    assert join_texts(TEXTS, ["a", "b", "c"]) == say("both", first=say("both", first="a", second="b"), second="c")


def test_a_drawing_is_named_only_where_there_are_several() -> None:
    second = replace(LINE, look=2)
    assert OFFER.describe_prints(second) == "back"
    several = replace(OFFER, looks=(cast(Any, None),) * 2)
    assert several.describe_prints(second) == say("as_drawn", number=2, places="back")
    assert several.caption_look(1) == say("look", number=1, places="left chest")
