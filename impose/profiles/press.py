"""Heat presses: the platen, and settings to start from."""

from __future__ import annotations

from impose.values import FrozenStruct, list_names, replace

PRESSURES = ("light", "medium", "firm")

_TOUCH_MM = 1e-6
"""Float noise of inches turned into millimetres: 14 in fits 14 in."""


class PressSetting(FrozenStruct):
    """How a press is set for one paper; None leaves it to the press. Its maker's figures come first."""

    temperature_c: int | None = None
    seconds: int | None = None
    pressure: str | None = None
    rest_seconds: int | None = None


class HeatPress(FrozenStruct):
    """A press. All settings are starting points to be tested on scrap; the supplier's instructions go first.

    Platen and border are in mm; `border_mm` is kept clear around a print. Temperature is in degrees Celsius.
    `rest_seconds` is how long the transfer rests before it is lifted, 0 where it is lifted at once; `cool_down` is the
    shop's own wording of that. `handling_seconds` is what a print takes with the press open: laying, taping, covering,
    lifting; `turning_seconds` what a face takes: the garment laid on, or turned, with its pad and clean sheet;
    `setup_seconds` what a change to another set-up of the press takes. `scale_x` and `scale_y`
    are what a print is made larger by on paper, across the garment and along it, for what the cloth does under this
    press.
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
    rest_seconds: int = 10
    handling_seconds: int = 60
    turning_seconds: int = 30
    setup_seconds: int = 30
    cool_down: str = ""
    source: str = ""
    note: str = ""
    scale_x: float = 1.0
    scale_y: float = 1.0

    @property
    def temperature_f(self) -> int:
        """The same in whole degrees Fahrenheit."""
        return round(self.temperature_c * 9 / 5 + 32)

    def set_for(self, setting: PressSetting | None) -> HeatPress:
        """The press as it is set for a paper: what the paper's setting says goes before the press's own."""
        if setting is None:
            return self
        said = {name: getattr(setting, name) for name in list_names(setting)}
        own = {name: value for name, value in said.items() if value is not None}
        return replace(self, cool_down="" if "rest_seconds" in own else self.cool_down, **own)

    def holds_print(self, width_mm: float, height_mm: float) -> bool:
        """Whether a print lies on the platen with its border, as it is or turned."""
        width = self.platen_width_mm - 2 * self.border_mm + _TOUCH_MM
        height = self.platen_height_mm - 2 * self.border_mm + _TOUCH_MM
        return (width_mm <= width and height_mm <= height) or (height_mm <= width and width_mm <= height)
