"""Where the heats of a print larger than the platen meet: within what the platen allows, where there is least ink."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from impose.sheet.press_heats import HeatJoin

if TYPE_CHECKING:
    import numpy as np
    from PIL import Image

_SMOOTH = 5  # pixels of a small picture that are seen together: platen edges are no hairlines


def choose_joins(
    joins: Sequence[HeatJoin], image: Image.Image, turned: int, w: float, h: float
) -> list[tuple[str, float]]:
    """For each join its axis and its place, mm from the top left of a print of `w` × `h` as it lies on the face.

    `image` is the picture as worn, `turned` how far it is turned clockwise there. Of equally empty bands
    the middle of the widest.
    """
    found: list[tuple[str, float]] = []
    before: dict[str, float] = {}
    for join in joins:
        most = min(join.most, before.get(join.axis, join.most) + join.room)
        at = _find_emptiest(_measure_darkness(image, turned, join.axis), w if join.axis == "x" else h, join.least, most)
        before[join.axis] = at
        found.append((join.axis, at))
    return found


def _measure_darkness(image: Image.Image, turned: int, axis: str) -> np.ndarray:
    """How much ink each column (x) or row (y) of the print carries, as it lies on the face."""
    import numpy as np

    grey = 255.0 - np.asarray(image.convert("L"), dtype=float)
    grey = np.rot90(grey, {0: 0, 90: 3, 270: 1}[turned])
    lines = grey.mean(axis=0 if axis == "x" else 1)
    wide = min(_SMOOTH, len(lines))
    return np.convolve(np.pad(lines, wide // 2, mode="edge"), np.ones(wide) / wide, mode="valid")[: len(lines)]


def _find_emptiest(lines: np.ndarray, length: float, least: float, most: float) -> float:
    step = length / len(lines)
    middle = (least + most) / 2
    inside = [i for i in range(len(lines)) if least <= (i + 0.5) * step <= most]
    if not inside:
        return middle
    emptiest = min(round(float(lines[i])) for i in inside)
    runs: list[list[int]] = []
    for i in (i for i in inside if round(float(lines[i])) == emptiest):
        if runs and runs[-1][-1] == i - 1:
            runs[-1].append(i)
        else:
            runs.append([i])
    best = max(runs, key=lambda run: (len(run), -abs(_find_middle(run) * step - middle)))
    return _find_middle(best) * step


def _find_middle(run: Sequence[int]) -> float:
    return (run[0] + run[-1] + 1) / 2
