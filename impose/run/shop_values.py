"""Every value of a shop with where it comes from, as a person reads and changes it: one list for each kind of thing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from impose.profiles.paper import Paper, Printer
from impose.profiles.placement import PlacementOffset, PlacementRule, SizeRule
from impose.profiles.press import PRESSURES, HeatPress
from impose.profiles.profiles import Profiles
from impose.profiles.settings import INTENTS, Settings
from impose.units import format_length
from impose.values import FrozenStruct

YOURS, SHIPPED, NOW, MEASURED = "yours", "shipped", "set for this run", "measured"

_WORDS = {
    YOURS: "Your own",
    SHIPPED: "Came with the program, an example or common practice",
    NOW: "Set for this run",
    MEASURED: "Measured by you",
}


class ShopValue(FrozenStruct):
    """One value: its name for programs, its title, in which unit it is asked, whether it may be changed here."""

    name: str
    title: str
    value: str
    kind: str = "text"
    origin: str = SHIPPED
    source: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    unit: str = ""
    help: str = ""
    group: str = ""
    enter: bool = True

    def values(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "name": self.name,
            "title": self.title,
            "value": self.value,
            "kind": self.kind,
            "origin": self.origin,
            "from": self.source if self.origin == SHIPPED and self.source else _join_words(self.origin, self.source),
            "choices": [{"value": value, "title": title} for value, title in self.choices] or None,
            "unit": self.unit,
            "help": self.help,
            "group": self.group,
            "enter": self.enter,
        }


def _join_words(origin: str, source: str) -> str:
    return f"{_WORDS[origin]}: {source}" if source else _WORDS[origin]


def find_origin(profiles: Profiles, *path: str) -> str:
    """Who said a key, or anything below it, last."""
    start = ".".join(path)
    found = [o for key, o in profiles.origins.items() if key == start or key.startswith(f"{start}.")]
    return YOURS if any(not entry.startswith("shipped") for entry in found) else SHIPPED


class _Field(FrozenStruct):
    """A key of a profile: what it is called, and how it is read off the thing."""

    key: str
    title: str
    kind: str
    read: Callable[[Any], Any]
    choices: tuple[tuple[str, str], ...] = ()
    unit: str = ""
    help: str = ""


_PRINTER = (
    _Field("left", "Left edge it cannot print on", "length", lambda p: p.left_mm),
    _Field("top", "Top edge", "length", lambda p: p.top_mm),
    _Field("right", "Right edge", "length", lambda p: p.right_mm),
    _Field("bottom", "Trailing edge", "length", lambda p: p.bottom_mm),
    _Field("scale_x", "Measured scale across", "number", lambda p: p.scale_x, help="1 where 200 mm come out as 200."),
    _Field("scale_y", "Measured scale along", "number", lambda p: p.scale_y),
    _Field("feed_width", "Widest paper it feeds", "length", lambda p: p.feed_width_mm),
    _Field("ink_ml_per_m2", "Ink on a square metre of black", "number", lambda p: p.ink_ml_per_m2, unit="ml"),
    _Field("ink_cost", "Price of a millilitre of ink", "money", lambda p: p.ink_cost),
    _Field("output_profile", "Output profile", "text", lambda p: p.output_profile, help="The name of an ICC file."),
)
_PRESS = (
    _Field("platen_width", "Platen width", "length", lambda p: p.platen_width_mm),
    _Field("platen_height", "Platen height", "length", lambda p: p.platen_height_mm),
    _Field("border", "Kept clear at the platen's edge", "length", lambda p: p.border_mm),
    _Field("temperature_c", "Temperature", "whole", lambda p: p.temperature_c, unit="°C"),
    _Field("seconds", "Time", "whole", lambda p: p.seconds, unit="s"),
    _Field(
        "pressure", "Pressure", "choice", lambda p: p.pressure, tuple((name, name.capitalize()) for name in PRESSURES)
    ),
    _Field("prepress_seconds", "Pre-press", "whole", lambda p: p.prepress_seconds, unit="s"),
    _Field("rest_seconds", "Rest before lifting", "whole", lambda p: p.rest_seconds, unit="s", help="0: lifted hot."),
    _Field("handling_seconds", "Laying, taping, covering", "whole", lambda p: p.handling_seconds, unit="s"),
    _Field("turning_seconds", "Turning the garment", "whole", lambda p: p.turning_seconds, unit="s"),
    _Field("setup_seconds", "Changing the set-up", "whole", lambda p: p.setup_seconds, unit="s"),
    _Field("scale_x", "Made larger across, for the cloth", "number", lambda p: p.scale_x),
    _Field("scale_y", "Made larger along, for the cloth", "number", lambda p: p.scale_y),
)


def list_printer_values(profiles: Profiles, printer: Printer) -> list[ShopValue]:
    """What is known of a printer."""
    return [_make_value(entry, printer, profiles, ("printers", printer.name)) for entry in _PRINTER]


def list_press_values(profiles: Profiles, press: HeatPress) -> list[ShopValue]:
    """What is known of a press."""
    return [_make_value(entry, press, profiles, ("presses", press.name), press.source) for entry in _PRESS]


def _make_value(entry: _Field, thing: Any, profiles: Profiles, path: Sequence[str], source: str = "") -> ShopValue:
    origin = find_origin(profiles, *path, entry.key)
    value = entry.read(thing)
    if entry.kind == "length":
        shown = "" if value is None else format_length(value, profiles.settings.units)
    elif entry.kind == "number":
        shown = f"{float(value):g}"
    else:
        shown = str(value)
    unit = profiles.settings.currency if entry.kind == "money" else entry.unit
    return ShopValue(
        entry.key,
        entry.title,
        shown,
        entry.kind,
        origin,
        source if origin == SHIPPED else "",
        entry.choices,
        unit,
        entry.help,
    )


def list_paper_values(profiles: Profiles, key: str, paper: Paper) -> list[ShopValue]:
    """What is known of a paper: its cost, and how the press is set for it where that is said."""
    unit = f"{profiles.settings.currency} a {'metre' if paper.is_roll else 'sheet'}"
    cost = ShopValue("cost", "Cost", str(paper.cost), "money", find_origin(profiles, "papers", key, "cost"), unit=unit)
    setting = paper.setting
    told = [cost]
    for name, title, kind, unit_of in (
        ("temperature_c", "Temperature for this paper", "whole", "°C"),
        ("seconds", "Time for this paper", "whole", "s"),
        ("pressure", "Pressure for this paper", "text", ""),
        ("rest_seconds", "Rest before lifting for this paper", "whole", "s"),
    ):
        value = None if setting is None else getattr(setting, name)
        origin = find_origin(profiles, "papers", key, name)
        told.append(ShopValue(name, title, "" if value is None else str(value), kind, origin, unit=unit_of))
    return told


def list_placement_values(profiles: Profiles, placement: PlacementRule) -> Iterator[tuple[str, ShopValue]]:
    """The figures of a place: for each garment its size, and where it goes."""
    units = profiles.settings.units
    path = ("placements", placement.name)
    for garment, rule in placement.sizes.items():
        yield from ((garment, entry) for entry in _size_values(profiles, path, garment, rule))
    for what, table in (("drop", placement.offsets), ("across", placement.across)):
        for garment, offset in table.items():
            origin = MEASURED if offset.own else find_origin(profiles, *path, _TABLE[what], garment)
            title = _offset_title(offset)
            value = format_length(offset.usual_mm, units)
            yield garment, ShopValue(what, title, value, "length", origin, offset.source if not offset.own else "")


_TABLE = {"drop": "offsets", "across": "across"}


def _size_values(profiles: Profiles, path: Sequence[str], garment: str, rule: SizeRule) -> Iterator[ShopValue]:
    origin = find_origin(profiles, *path, "sizes", garment)
    source = rule.source if origin == SHIPPED else ""
    for what, title, mm in (("width", "Width", rule.width_mm), ("height", "Height at most", rule.height_mm)):
        if mm is not None:
            shown = format_length(mm, profiles.settings.units)
            yield ShopValue(what, title, shown, "length", origin, source, help=rule.limit)


def _offset_title(offset: PlacementOffset) -> str:
    edge = offset.measured_to.removesuffix(" of print")
    return f"{edge[:1].upper()}{edge[1:]} from {offset.measured_from}"


_SETTINGS: tuple[tuple[str, str, str, str, str], ...] = (
    ("currency", "Currency", "Prices", "text", "Three capitals, such as EUR."),
    ("units", "Lengths in", "Shown", "choice", ""),
    ("papers", "Papers used", "Paper and printer", "papers", "Several: the cheapest mix is found."),
    ("printer", "Printer", "Paper and printer", "choice", ""),
    ("press", "Press", "Press", "choice", ""),
    ("tear", "Tear margin", "Size and margins", "text", "Normal, tight, or a length."),
    ("tint", "Faintest tint that prints", "Artwork and colour", "number", "0.02 is 2 %."),
    ("ppi_serious", "Far too few pixels below", "Checks", "whole", "Pixels an inch at the final size."),
    ("ppi_warn", "Too few pixels below", "Checks", "whole", ""),
    ("ppi_note", "Few pixels below", "Checks", "whole", ""),
    ("pixel_limit", "Largest picture", "Checks", "whole", "In pixels; larger ones are refused."),
    (
        "swatches",
        "Pieces to press first, in the waste",
        "Artwork and colour",
        "yes-no",
        "On scrap, before the garment.",
    ),
    ("orientation", "Picture stored turned", "Artwork and colour", "choice", ""),
    ("keep_specks", "Specks far away count as ink", "Artwork and colour", "yes-no", ""),
    ("clean_haze", "Take haze off every picture", "Artwork and colour", "yes-no", ""),
    ("drop_specks", "Drop specks from every picture", "Artwork and colour", "yes-no", ""),
    ("stops", "Findings that stop the work", "Checks", "words", ""),
    ("keep_upright", "Turn no print on the paper", "Nesting", "yes-no", ""),
    ("straight_cuts", "Only straight cuts from edge to edge", "Nesting", "yes-no", ""),
    ("output_profile", "Output profile", "Artwork and colour", "text", "The name of an ICC file, or none."),
    ("intent", "Intent", "Artwork and colour", "choice", ""),
    ("black_point", "Keep detail in the shadows", "Artwork and colour", "yes-no", ""),
    ("press_order", "Order of pressing", "Press", "words", ""),
    ("ticket_grouping", "Tickets", "Press", "choice", ""),
    ("ticket_paper", "Paper of the tickets", "Press", "choice", ""),
    ("care_notes", "Care notes in the bag", "Press", "choice", ""),
    ("blank_spares", "Spare blanks to buy", "Press", "text", "Such as: 1 a run, 1 a size, 5 %, none."),
    ("smallest_decides", "The smallest garment decides the size", "Size and margins", "yes-no", ""),
    ("sheet_handling", "Cost of handling a sheet", "Prices", "money", ""),
    ("paper_change", "Cost of changing the paper", "Prices", "money", ""),
    ("panel_overlap", "Panels overlap by", "Size and margins", "length", ""),
    ("keep_index", "Remember what was made for whom", "Checks", "yes-no", "Old prints are found by name."),
)
SETTING_KINDS = {name: kind for name, _, _, kind, _ in _SETTINGS}
"""In what form each setting is asked."""


def list_setting_values(profiles: Profiles) -> list[ShopValue]:
    """Every setting in force."""
    shown = {name: (value, origin) for name, value, origin in profiles.settings.list_shown()}
    found = []
    for name, title, group, kind, help_ in _SETTINGS:
        value, origin = shown[name]
        shown_as, choices = _type_setting(value, profiles.settings, name), list_setting_choices(profiles, name)
        said = _setting_origin(origin)
        found.append(ShopValue(name, title, shown_as, kind, said, "", choices, help=help_, group=group))
    return found


def _setting_origin(origin: str) -> str:
    """Who said a setting, by the name of where it stands."""
    if origin.startswith("shipped"):
        return SHIPPED
    return NOW if origin in ("option", "environment", "batch.toml") else YOURS


def _type_setting(value: str, settings: Settings, name: str) -> str:
    """A setting as it is typed."""
    if name == "tear":
        return format_length(settings.tear.total_mm, settings.units)
    return {"yes": "true", "no": "false"}.get(value, value)


def list_setting_choices(profiles: Profiles, name: str) -> tuple[tuple[str, str], ...]:
    """What a setting may be, where there is a list."""
    fixed: dict[str, tuple[tuple[str, str], ...]] = {
        "units": (("mm", "Millimetres"), ("in", "Inches")),
        "orientation": (("ask", "Ask me"), ("apply", "Turn it"), ("ignore", "Print it as stored")),
        "ticket_grouping": (("garment", "One a garment"), ("platen", "One a garment and set-up")),
        "ticket_paper": (("a4", "A4"), ("letter", "Letter")),
        "care_notes": (("garment", "One a garment"), ("order", "On the slip of each order"), ("none", "None")),
        "intent": tuple((entry, entry.capitalize()) for entry in INTENTS),
        "oversize": (("refuse", "Ask me"), ("shrink", "Make it smaller"), ("panels", "Print it in panels")),
    }
    if name in fixed:
        return fixed[name]
    if name == "printer":
        return tuple((printer, printer) for printer in profiles.printers)
    if name == "press":
        return tuple((entry, press.title) for entry, press in profiles.presses.items())
    if name == "papers":
        return tuple((paper.alias, paper.title) for paper in profiles.papers.values())
    if name == "placement":
        return tuple((placement, place.title) for placement, place in profiles.placements.items())
    return ()
