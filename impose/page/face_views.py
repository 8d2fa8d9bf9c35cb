"""A face of a garment as the page has it: the part that is drawn, boxes on it, what it is called."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impose.pages.tickets.garment_outlines import outline_extent
from impose.sheet.garment_faces import FaceShape
from impose.units import Box

if TYPE_CHECKING:
    from impose.sheet.press_steps import PressStep

_AROUND_MM = 12.0


def find_face_view(shape: FaceShape, steps: Sequence[PressStep] = ()) -> tuple[float, float, float, float]:
    """The part of the cloth that a drawing shows: x, y, width, height in mm."""
    boxes = [outline_extent(shape), *(step.spot.box for step in steps)]
    x, y = min(box.x for box in boxes) - _AROUND_MM, min(box.y for box in boxes) - _AROUND_MM
    right, bottom = max(box.right for box in boxes) + _AROUND_MM, max(box.bottom for box in boxes) + _AROUND_MM
    return tuple(round(value, 3) for value in (x, y, right - x, bottom - y))  # type: ignore[return-value]


def list_box_values(box: Box) -> dict[str, float]:
    """A box for the page."""
    return {"x": round(box.x, 2), "y": round(box.y, 2), "w": round(box.w, 2), "h": round(box.h, 2)}


def title_face(face: str) -> str:
    """A face as a heading."""
    return "Place not named" if face == "other" else f"{face[:1].upper()}{face[1:]}"


def capitalise_words(words: str) -> str:
    """The words with a capital in front, as a title."""
    return f"{words[:1].upper()}{words[1:]}"
