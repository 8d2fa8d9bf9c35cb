"""A print larger than the platen is pressed in several heats, the paper never lifted: how many, and joined where.

Where two heats meet, the platens overlap by their borders and dye is heated twice. That shows least where there is
least ink, so a join is a span to choose from.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Literal, NamedTuple


class HeatJoin(NamedTuple):
    """Where one heat may end and the next begin: an upright line at x or a level one at y.

    `least` and `most` are mm from the print's top left corner, as it lies on the face; `room` is what one heat covers.
    """

    axis: Literal["x", "y"]
    least: float
    most: float
    room: float


def count_closings(w: float, h: float, room_w: float, room_h: float) -> int:
    """How many times the platen closes for a print of `w` × `h`."""
    return _count_heats(w, room_w) * _count_heats(h, room_h)


def find_heat_joins(w: float, h: float, room_w: float, room_h: float) -> tuple[HeatJoin, ...]:
    """The joins of a print, upright ones first; none where one heat does it."""
    return (*_place_heats("x", w, room_w), *_place_heats("y", h, room_h))


def _count_heats(length: float, room: float) -> int:
    return math.ceil(length / room - 1e-9)


def _place_heats(axis: Literal["x", "y"], length: float, room: float) -> Iterator[HeatJoin]:
    """What is left on either side of a join has to be within reach of the heats before and after it."""
    count = _count_heats(length, room)
    for number in range(1, count):
        yield HeatJoin(axis, max(0.0, length - (count - number) * room), min(length, number * room), room)
