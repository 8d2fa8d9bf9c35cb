"""What of an earlier nesting is kept as a start: only what still lies on a paper that is offered, as it lay."""

from __future__ import annotations

import pytest

from impose.nest import Rectangle, Stock, nest
from impose.values import replace

PAPER = Stock("sheet", 100, 200, cost=1)
PIECES = [Rectangle("a", 60, 90), Rectangle("b", 60, 100), Rectangle("c", 30, 30)]


def _lay(found):
    return {p.id: (p.x, p.y, p.width, p.height) for sheet in found.sheets for p in sheet.placements}


def test_what_did_not_change_stays_where_it_lay():
    first = nest(PIECES, [PAPER], steps=50)
    again = nest([*PIECES, Rectangle("d", 10, 10)], [PAPER], steps=0, start=first.sheets)
    assert {name: spot for name, spot in _lay(again).items() if name != "d"} == _lay(first)


@pytest.mark.parametrize(
    "moved",
    [{"y": 150}, {"x": 50}, {"x": -1}, {"y": -1}, {"width": 61}, {"height": 89}, {"width": 90, "height": 60}],
)
def test_what_lies_off_the_paper_or_is_another_size_is_laid_anew(moved):
    """90 by 60 is the piece turned, which it may not be: it would lie on the paper."""
    first = nest([PIECES[0]], [PAPER], steps=50)
    (sheet,) = first.sheets
    wrong = replace(sheet, placements=(replace(sheet.placements[0], **moved),))
    piece = replace(PIECES[0], may_turn=False)
    ((x, y, width, height),) = _lay(nest([piece], [PAPER], steps=0, start=[wrong])).values()
    assert (width, height) == (60, 90)
    assert 0 <= x <= 40
    assert 0 <= y <= 110


@pytest.mark.parametrize(("limit", "kept"), [(1, 1), (2, 2), (None, 2)])
def test_no_more_sheets_are_kept_than_are_left(limit, kept):
    tall = [Rectangle("a", 60, 150), Rectangle("b", 60, 150)]
    first = nest(tall, [PAPER], steps=50)
    assert len(first.sheets) == 2
    again = nest(tall, [replace(PAPER, limit=limit)], steps=0, start=first.sheets)
    assert len(again.sheets) == kept
    assert len(again.unplaced) == 2 - kept
