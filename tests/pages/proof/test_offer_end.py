"""The end of an offer's table: sums stand together, above the foot of a page, however far down the table ends."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest

from impose.pages.proof import offer_pdf
from pages.remembered import Remembered

HIGH, FOOT = 297.0, 14.0


class Flow:
    """Pages one after the other, each of which remembers what is drawn on it."""

    def __init__(self, y: float) -> None:
        self.size, self.width, self.y = (210.0, HIGH), 178.0, y
        self.drawn = [Remembered()]

    @property
    def canvas(self) -> Remembered:
        return self.drawn[-1]

    def ensure_room(self, high: float) -> None:
        if self.y + high > HIGH - FOOT:
            self.drawn.append(Remembered())
            self.y = 16.0


@pytest.mark.parametrize("count", [1, 3, 5])
@pytest.mark.parametrize("y", range(200, 276, 5))
def test_sums_stand_together_above_the_foot_right_of_their_words(y: int, count: int) -> None:
    flow = Flow(y)
    sums = [(f"words {n}", f"{n}.00") for n in range(count)]
    offer: Any = SimpleNamespace(heads=("Garments", "Number", "Each", "Amount"), lines=(), sums=sums)
    offer_pdf._write_table(cast(Any, flow), offer)
    (page,) = [one for one in flow.drawn if any(text.startswith("words") for text, _, _ in one.words)]
    told = [(text, at, down) for text, at, down in page.words if text not in offer.heads]
    assert [text for text, _, _ in told] == [text for pair in sums for text in pair]
    levels = [down for _, _, down in told]
    assert levels[0::2] == levels[1::2] == sorted(set(levels))
    assert max(levels) < HIGH - FOOT
    assert all(right > left for (_, left, _), (_, right, _) in zip(told[0::2], told[1::2], strict=True))
    ((_, rule, _, _),) = [line for line, _ in page.lines]
    assert rule < min(levels) - 3.5
    assert flow.y > max(levels)
