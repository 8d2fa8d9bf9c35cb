"""Settings: what holds unless a row or an option says otherwise, each with where it came from."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping
from decimal import Decimal
from typing import Any, Literal

from impose.errors import Finding, quote_text, raise_stops
from impose.kinds import ACCEPTABLE
from impose.profiles.blank_spares import BlankSpares, read_spares
from impose.profiles.placement import LEAST_MM, NAMED_TEARS, TearMargin, split_tear
from impose.profiles.toml_tables import ProfileLayers, TomlTable, suggest_word
from impose.units import LengthError, format_length, parse_length
from impose.values import FrozenStruct, field, list_names, replace

INTENTS = ("perceptual", "relative", "saturation", "absolute")
"""How colours are brought into an output profile, by the names of ICC.1:2022, 7.2.15."""


class Settings(FrozenStruct):
    """The settings in force. `origins` says for each which file, variable or option it came from.

    Nearer sources are laid over farther ones with `overlay`: the shipped file, the shop's own, environment, option.
    """

    currency: str
    units: Literal["mm", "in"]
    papers: tuple[str, ...]
    printer: str
    press: str
    tear: TearMargin
    tint: float
    ppi_serious: int
    ppi_warn: int
    ppi_note: int
    pixel_limit: int
    orientation: Literal["ask", "apply", "ignore"]
    keep_specks: bool
    clean_haze: bool
    drop_specks: bool
    stops: tuple[str, ...]
    keep_upright: bool
    straight_cuts: bool
    sheet_handling: Decimal
    paper_change: Decimal
    output_profile: str
    intent: Literal["perceptual", "relative", "saturation", "absolute"]
    black_point: bool
    press_order: tuple[str, ...]
    ticket_grouping: Literal["garment", "platen"]
    ticket_paper: Literal["a4", "letter"]
    smallest_decides: bool
    panel_overlap: float
    blank_spares: BlankSpares
    care_notes: Literal["garment", "order", "none"]
    swatches: bool
    keep_index: bool
    origins: Mapping[str, str] = field(default_factory=dict)

    def lay_over(self, values: Mapping[str, Any], origin: str) -> Settings:
        """These settings with `values` laid over them, as said by `origin` (an option, a variable, a file).

        Texts are taken for any kind of value. Raises `Trouble` with every fault: a wrong name, a wrong
        value.
        """
        layers = ProfileLayers()
        layers.lay_file(values, origin)
        faults: list[Finding] = []
        table = TomlTable(layers, (), faults, origin, loose=True)
        taken = {name: RULES[name].read(table, name) for name in values if name in RULES}
        table.declare_keys(RULES)
        table.report_unknown_keys()
        raise_stops(faults)
        return replace(self, **taken, origins={**self.origins, **dict.fromkeys(taken, origin)})

    def list_recorded(self) -> dict[str, Any]:
        """Those that decide what is made, as a record keeps them: amounts as text, so that no digit is lost."""
        values = {name: getattr(self, name) for name, rule in RULES.items() if rule.recorded}
        return {name: f"{value:f}" if isinstance(value, Decimal) else value for name, value in values.items()}

    def list_shown(self) -> list[tuple[str, str, str]]:
        """Name, value in words, and origin of each setting, in the order of the class."""
        names = [name for name in list_names(self) if name != "origins"]
        return [(name, _describe_value(getattr(self, name), name), self.origins.get(name, "")) for name in names]


def _describe_value(value: object, name: str) -> str:
    if name == "panel_overlap" and isinstance(value, float):
        return format_length(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, TearMargin):
        parts = ", ".join(format_length(mm) for mm in (value.kept_mm, value.zone_mm, value.band_mm))
        return f"{format_length(value.total_mm)} (kept, zone, band: {parts})"
    return ", ".join(value) if isinstance(value, tuple) else str(value)


def read_settings(table: TomlTable) -> Settings:
    """The settings of the profile files; faults go to the table's list."""
    values = {name: rule.read(table, name) for name, rule in RULES.items()}
    table.report_unknown_keys()
    return Settings(**values, origins={name: table.key_origin(name) for name in values})


def parse_tear(text: str, bare: Literal["mm", "cm", "in"] | None = None) -> TearMargin:
    """A tear margin by name (`normal`, `tight`) or by its total length. Raises `LengthError`."""
    name = text.strip().casefold()
    if name in NAMED_TEARS:
        return NAMED_TEARS[name]
    try:
        total = parse_length(text, bare)
    except LengthError as error:
        raise LengthError(error.what, f"{error.remedy} Or name one: normal (14 mm) or tight (10 mm).") from None
    if total < LEAST_MM:
        raise LengthError(f"a tear margin under {LEAST_MM:g} mm", "Kept paper, tear zone and marks need that much.")
    if total > 100:
        raise LengthError("a tear margin over 100 mm", "Check the length and its unit.")
    return split_tear(total)


def read_tear(table: TomlTable, key: str) -> TearMargin:
    """A tear margin at a key of a table."""
    text = table.take_text(key, "normal")
    try:
        return parse_tear(text)
    except LengthError as error:
        table.note_fault(key, error.what, f"{error.remedy} Write normal, tight or a length such as 12 mm.", text)
        return NAMED_TEARS["normal"]


def _read_stops(table: TomlTable, key: str) -> tuple[str, ...]:
    """The kinds of findings that stop the work, by their names."""
    kinds = table.take_texts(key, ())
    for kind in kinds:
        if kind not in ACCEPTABLE:
            what = f"{quote_text(kind)} is not a kind of warning or note"
            table.note_fault(key, what, suggest_word(kind, ACCEPTABLE), kind)
    return kinds


def _read_currency(table: TomlTable, key: str) -> str:
    code = table.take_text(key)
    if code and not re.fullmatch(r"[A-Z]{3}", code):
        table.note_fault(key, "not a currency code", "Write three capitals of ISO 4217, such as EUR.", code)
    return code


def _read_amount(table: TomlTable, key: str) -> Decimal:
    amount = table.take_number(key, "0", "100000")
    if amount != round(amount, 6):
        table.note_fault(key, "finer than millionths", "Round it to six places.", amount)
    return amount


def _read_panel_overlap(table: TomlTable, key: str) -> float:
    overlap = table.take_length(key, zero=True)
    if overlap > 20:
        table.note_fault(key, "over 20 mm", "Panels overlap by a few millimetres: write less.", format_length(overlap))
    return min(overlap, 20.0)


SETUPS = ("back", "chest", "sleeve", "hood", "other")
"""What a platen is set up for: one face of a garment after another."""


def _read_press_order(table: TomlTable, key: str) -> tuple[str, ...]:
    order = table.take_texts(key)
    for name in order:
        if name not in SETUPS:
            table.note_fault(key, "names no set-up", f"Known are: {', '.join(SETUPS)}.", name)
    if len(set(order)) < len(order):
        table.note_fault(key, "names a set-up twice", "Name each once.", ", ".join(order))
    return order


def _make_choice_reader(choices: Collection[str]) -> Callable[[TomlTable, str], str]:
    return lambda table, name: table.take_text(name, choices=choices)


class SettingRule(FrozenStruct):
    """All that the house needs to know of a setting beside its value.

    `read` takes it from a profile by its name. `by_option`: an option of the command line has its name. `recorded`: it
    decides what is made, so a record keeps it. `inherited`: a reprint takes it from the record of the first printing.
    `listed`: it is a list, whose parts an environment variable separates by commas.
    """

    read: Callable[[TomlTable, str], Any]
    by_option: bool = False
    recorded: bool = False
    inherited: bool = False
    listed: bool = False


RULES: dict[str, SettingRule] = {
    "currency": SettingRule(_read_currency),
    "units": SettingRule(_make_choice_reader(("mm", "in")), recorded=True),
    "papers": SettingRule(TomlTable.take_texts, inherited=True, listed=True),
    "printer": SettingRule(TomlTable.take_text, by_option=True),
    "press": SettingRule(TomlTable.take_text),
    "tear": SettingRule(read_tear),
    "tint": SettingRule(
        lambda table, name: float(table.take_number(name, "0.001", "0.5")), recorded=True, inherited=True
    ),
    "ppi_serious": SettingRule(lambda table, name: table.take_whole(name, 1, 10_000)),
    "ppi_warn": SettingRule(lambda table, name: table.take_whole(name, 1, 10_000)),
    "ppi_note": SettingRule(lambda table, name: table.take_whole(name, 1, 10_000)),
    "pixel_limit": SettingRule(lambda table, name: table.take_whole(name, 1_000_000, 4_000_000_000)),
    "orientation": SettingRule(
        _make_choice_reader(("ask", "apply", "ignore")), by_option=True, recorded=True, inherited=True
    ),
    "keep_specks": SettingRule(TomlTable.take_flag, recorded=True, inherited=True),
    "clean_haze": SettingRule(TomlTable.take_flag, by_option=True, recorded=True, inherited=True),
    "drop_specks": SettingRule(TomlTable.take_flag, by_option=True, recorded=True, inherited=True),
    "stops": SettingRule(_read_stops, listed=True),
    "keep_upright": SettingRule(TomlTable.take_flag, by_option=True, recorded=True),
    "straight_cuts": SettingRule(TomlTable.take_flag, by_option=True, recorded=True, inherited=True),
    "sheet_handling": SettingRule(_read_amount, by_option=True, recorded=True, inherited=True),
    "paper_change": SettingRule(_read_amount, by_option=True, recorded=True, inherited=True),
    "output_profile": SettingRule(lambda table, name: table.take_text(name, ""), by_option=True),
    "intent": SettingRule(_make_choice_reader(INTENTS), by_option=True),
    "black_point": SettingRule(TomlTable.take_flag),
    "press_order": SettingRule(_read_press_order, listed=True),
    "ticket_grouping": SettingRule(_make_choice_reader(("garment", "platen"))),
    "ticket_paper": SettingRule(_make_choice_reader(("a4", "letter"))),
    "smallest_decides": SettingRule(TomlTable.take_flag, by_option=True, recorded=True),
    "panel_overlap": SettingRule(_read_panel_overlap),
    "blank_spares": SettingRule(read_spares),
    "care_notes": SettingRule(_make_choice_reader(("garment", "order", "none"))),
    "swatches": SettingRule(TomlTable.take_flag, by_option=True),
    "keep_index": SettingRule(TomlTable.take_flag),
}
"""Every setting, by the name that it has in settings.toml, as an option, as a variable and in the record."""

BY_OPTION = tuple(name for name, rule in RULES.items() if rule.by_option)
INHERITED = tuple(name for name, rule in RULES.items() if rule.inherited)
