"""What a print's heat must not reach: what is pressed already on its face, or beneath it on the other side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from impose.profiles.placement import Face
from impose.units import Box


class PressedPrint(NamedTuple):
    """A print that is on the cloth already: the transfer, what it is called, its face and its box there."""

    id: str
    title: str
    face: Face
    box: Box


class HeatShield(NamedTuple):
    """A print to be kept from the heat, where it lies on the face that is pressed; `beneath` is the other side."""

    id: str
    title: str
    box: Box
    beneath: bool


_OPPOSITE: dict[Face, Face] = {"front": "back", "back": "front"}


def find_shields(
    face: Face, platen: Box, before: Sequence[PressedPrint], covered: Sequence[str]
) -> tuple[HeatShield, ...]:
    """What is shielded from a platen: the prints `covered` of its own face, and what lies below it on the other side.

    A front seen from behind is mirrored about the centre line.
    """
    found = []
    for pressed in before:
        box = pressed.box
        if pressed.id in covered:
            found.append(HeatShield(pressed.id, pressed.title, box, beneath=False))
        elif pressed.face == _OPPOSITE.get(face):
            seen = Box(-box.right, box.y, box.w, box.h)
            if platen.overlaps_box(seen):
                found.append(HeatShield(pressed.id, pressed.title, seen, beneath=True))
    return tuple(found)
