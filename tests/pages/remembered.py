"""A canvas that only remembers what is drawn on it, for drawings that are held stroke by stroke."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

from impose.units import Box

Line = tuple[float, float, float, float]


@dataclass
class Remembered:
    """What was drawn: lines with their dash, boxes, polygons, pictures, words with their place.

    `spans` are what words cover: half an em for each letter along, seven tenths of one up from the baseline.
    """

    lines: list[tuple[Line, bool]] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)
    polygons: list[list[tuple[float, float]]] = field(default_factory=list)
    words: list[tuple[str, float, float]] = field(default_factory=list)
    spans: list[Box] = field(default_factory=list)
    pictures: list[tuple[Any, ...]] = field(default_factory=list)

    @property
    def pages(self) -> Any:
        """Letters are half an em wide."""
        shaper = SimpleNamespace(shape_line=lambda texts: SimpleNamespace(text=texts[0], width=len(texts[0]) / 2))
        return SimpleNamespace(choose_weight=lambda heavy: shaper)

    def draw_line(self, x1: float, y1: float, x2: float, y2: float, *_: Any, dash: Any = ()) -> None:
        self.lines.append(((x1, y1, x2, y2), bool(dash)))

    def draw_box(self, box: Box, *_: Any, **__: Any) -> None:
        self.boxes.append(box)

    def draw_polygon(self, points: Any, *_: Any, **__: Any) -> None:
        self.polygons.append(list(points))

    def draw_words(
        self, line: Any, x: float, y: float, size: float = 1.0, *, align: str = "left", angle: int = 0, **_: Any
    ) -> None:
        text = line if isinstance(line, str) else line.text
        self.words.append((text, x, y))
        long, high = len(text) / 2 * size, 0.7 * size
        back = {"left": 0.0, "centre": long / 2, "right": long}[align]
        level = Box(x - back, y - high, long, high)
        self.spans.append(level if angle == 0 else Box(x - high, y - long + back, high, long))

    def draw_picture(self, *given: Any, **more: Any) -> None:
        self.pictures.append((*given, *more.items()))
