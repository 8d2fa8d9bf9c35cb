"""What is printed once for a row, and each copy of it: plain values, the geometry of the printed side."""

from __future__ import annotations

from typing import Literal

from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.orders.batch import BatchRow
from impose.sheet.margins import Level, TearMargins
from impose.sheet.panels import Panel
from impose.units import MM_PER_INCH, Box
from impose.values import FrozenStruct

Edge = Literal["top", "right", "left"]


class Piece(FrozenStruct):
    """What one row prints, any number of times: a picture at its final size with its tear margin.

    `crease_x_mm` and `crease_y_mm` are measured from the ink's top left corner, as printed. `cloth_x` and `cloth_y` are
    what the ink is larger by than the finished print, along the artwork's width and height. A print in several panels
    is a piece for each, and `panel` says which.
    """

    row: BatchRow
    picture: PreparedPicture
    ink_w_mm: float
    ink_h_mm: float
    sides: TearMargins
    level: Level
    crease_x_mm: float
    crease_y_mm: float
    up: Edge
    up_word: str
    may_turn: bool
    cloth_x: float = 1.0
    cloth_y: float = 1.0
    panel: Panel | None = None

    @property
    def finished_size(self) -> tuple[float, float]:
        """Width and height of the finished print, the whole of it, the cloth's allowance taken off."""
        width, height = self.panel.whole if self.panel else (self.ink_w_mm, self.ink_h_mm)
        return width / self.cloth_x, height / self.cloth_y

    @property
    def per_mm(self) -> float:
        """Pixels of the picture, or units of the drawing, to a millimetre at the final size."""
        return (self.picture.ink[2] - self.picture.ink[0]) / self.ink_w_mm

    @property
    def ppi(self) -> float | None:
        """Pixels per inch at the final size; None for a drawing, which is as fine as the printer."""
        return None if isinstance(self.picture, Drawing) else self.per_mm * MM_PER_INCH

    @property
    def cell_w_mm(self) -> float:
        """Ink and margin across."""
        return self.ink_w_mm + self.sides.across_mm

    @property
    def cell_h_mm(self) -> float:
        """Ink and margin down."""
        return self.ink_h_mm + self.sides.down_mm

    @property
    def ink(self) -> Box:
        """The ink bounds within the cell."""
        return Box(self.sides.left.total_mm, self.sides.top.total_mm, self.ink_w_mm, self.ink_h_mm)


class Transfer(FrozenStruct):
    """One copy of a piece: what is pressed once."""

    id: str
    piece: Piece
    copy: int


def describe_ordered_garment(row: BatchRow) -> str:
    """The garment as the label says it: in the customer's words, or what a blank stands for."""
    return row.garment.text.strip() or f"{row.garment.group} {row.garment.kind}"
