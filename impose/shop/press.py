"""Heat presses: the platen, and settings to start from."""

from __future__ import annotations

from dataclasses import dataclass

_TOUCH_MM = 1e-6
"""Float noise of inches turned into millimetres: 14 in fits 14 in."""


@dataclass(frozen=True, slots=True)
class Press:
    """A press. All settings are starting points to be tested on scrap; the supplier's instructions go first.

    Platen and border are in mm; `border_mm` is kept clear around a print. Temperature is in degrees
    Celsius. `scale_x` and `scale_y` are what a print is made larger by on paper, across the garment and along it, for
    what the cloth does under this press.
    """

    name: str
    title: str
    platen_width_mm: float
    platen_height_mm: float
    border_mm: float
    temperature_c: int
    seconds: int
    pressure: str
    prepress_seconds: int
    cover: str
    cool_down: str
    source: str = ""
    note: str = ""
    scale_x: float = 1.0
    scale_y: float = 1.0

    @property
    def temperature_f(self) -> int:
        """The same in degrees Fahrenheit, to the nearest whole one: 195 is 383."""
        return round(self.temperature_c * 9 / 5 + 32)

    def holds(self, width_mm: float, height_mm: float) -> bool:
        """Whether a print lies on the platen with its border, as it is or turned."""
        width = self.platen_width_mm - 2 * self.border_mm + _TOUCH_MM
        height = self.platen_height_mm - 2 * self.border_mm + _TOUCH_MM
        return (width_mm <= width and height_mm <= height) or (height_mm <= width and width_mm <= height)
