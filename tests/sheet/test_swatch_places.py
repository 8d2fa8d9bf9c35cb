"""Where swatches look for waste, which print each is of, and what they keep clear of."""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from impose.sheet import swatches
from impose.sheet.swatches import Swatch, list_swatches
from impose.units import Box
from impose.values import replace
from sheet.test_bill import picture
from sheet.test_job_label import make_piece


def make_print(art: str, w: float = 60.0, h: float = 40.0) -> Any:
    piece = make_piece(w, h)
    row = replace(piece.row, art=art, path=Path(art))
    return replace(piece, row=row, picture=replace(picture(1.0), sha256=art))


def lay(number: int, paper: str, *arts: str) -> Any:
    placed = [SimpleNamespace(transfer=SimpleNamespace(piece=make_print(art))) for art in arts]
    return SimpleNamespace(number=number, paper=SimpleNamespace(name=paper), placed=placed)


@pytest.mark.parametrize(
    ("art", "order"),
    [("owl", [2, 4, 1, 3, 5]), ("fox", [3, 5, 1, 2, 4]), ("hen", [1, 2, 3, 4, 5])],
)
def test_a_pictures_own_sheets_come_first_then_those_of_the_same_papers(art: str, order: list[int]) -> None:
    sheets = [lay(1, "a4", "crab"), lay(2, "a4", "owl", "fish"), lay(3, "a3", "fox"), lay(4, "a4", "owl"), lay(5, "a3")]
    swatch = Swatch("S01", make_print(art), picture(1.0), 25.0, 25.0)
    assert swatches._rank_sheets(swatch, sheets) == order


def test_each_picture_has_one_swatch_of_its_largest_print(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(swatches, "_cut_swatch", lambda name, piece: (name, piece.row.art, piece.ink_w_mm))
    prints = [make_print("owl"), make_print("fox", 30), make_print("owl", 90), make_print("fox", 30.0, 39.9),
              make_print("owl", 10, 400)]  # fmt: skip
    assert list(list_swatches(prints)) == [("S01", "owl", 10), ("S02", "fox", 30)]
    many = [make_print(f"p{n}") for n in range(100)]
    assert [name for name, *_ in list_swatches(many)][::99] == ["S001", "S100"]  # type: ignore[misc]


def test_a_swatch_keeps_a_whole_margin_from_ink_whose_own_is_thin(monkeypatch: pytest.MonkeyPatch) -> None:
    """The widest margin on the sheet counts for all of it; half a millimetre on either side of a cut is a knife's."""
    monkeypatch.setattr(swatches, "plan_cutting", lambda *_: SimpleNamespace(cuts=[SimpleNamespace(
        stroke=SimpleNamespace(x1=50, y1=0, x2=50, y2=200))]))  # fmt: skip
    thin = SimpleNamespace(every=[SimpleNamespace(total_mm=1.0)])
    whole = SimpleNamespace(every=[SimpleNamespace(total_mm=14.0), SimpleNamespace(total_mm=9.0)])
    placed = [
        SimpleNamespace(cell=Box(20, 20, 62, 42), ink=Box(21, 21, 60, 40), transfer=SimpleNamespace(
            piece=SimpleNamespace(sides=thin))),
        SimpleNamespace(cell=Box(100, 100, 88, 68), ink=Box(114, 114, 60, 40), transfer=SimpleNamespace(
            piece=SimpleNamespace(sides=whole))),
    ]  # fmt: skip
    cut = SimpleNamespace(x1=200, y1=90, x2=10, y2=90)
    sheet: Any = SimpleNamespace(placed=placed, marks=(Box(1, 2, 3, 4),), cuts=(cut,))
    assert list(swatches._list_obstacles(sheet, "mm")) == [
        Box(7, 7, 88, 68), Box(100, 100, 88, 68), Box(1, 2, 3, 4), Box(9.5, 89.5, 191, 1), Box(49.5, -0.5, 1, 201)
    ]  # fmt: skip


def test_pieces_cut_out_are_kept_up_to_a_number_the_last_used_first(monkeypatch: pytest.MonkeyPatch) -> None:
    cut: list[str] = []
    monkeypatch.setattr(swatches, "_CUTS", type(swatches._CUTS)())
    monkeypatch.setattr(swatches, "_MOST_CUTS", 2)
    monkeypatch.setattr(swatches, "find_busiest_part", lambda *_: (0, 0, 1, 1))
    monkeypatch.setattr(swatches, "crop_picture", lambda found, box: cut.append(found.sha256) or found)

    def ask(name: str) -> None:
        swatches._cut_picture(replace(picture(1.0), sha256=name), 5, 5)

    for name in ("owl", "owl", "fox", "owl", "hen", "owl", "hen", "fox"):
        ask(name)
        assert len(swatches._CUTS) <= 2
    assert cut == ["owl", "fox", "hen", "fox"]
