"""From TOML tables to papers, printers and presses, with all faults noted."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from impose.profiles.paper import LONGEST_PAGE_MM, MediaName, Paper, PaperNameError, Printer, parse_media_name
from impose.profiles.press import PRESSURES, HeatPress, PressSetting
from impose.profiles.settings import INTENTS
from impose.profiles.toml_tables import TomlTable
from impose.units import format_length


def parse_paper(table: TomlTable) -> Paper:
    """A paper, from its table."""
    media = MediaName("", "", "", 0.0, None)
    name = table.take_text("name")
    try:
        media = parse_media_name(name) if name else media
    except PaperNameError as error:
        table.note_fault("name", error.what, error.remedy, name)
    longest = table.take_length("max_length", "5000 mm")
    if longest > LONGEST_PAGE_MM:
        table.note_fault("max_length", f"over {LONGEST_PAGE_MM:g} mm, the longest PDF page", "Write less.", longest)
    if media.height_mm is not None and "max_length" in table:
        table.note_fault("max_length", "is for rolls only", "Take it out, or name a roll.")
    return Paper(
        name=media.name,
        alias=table.table_name,
        aliases=table.take_texts("aliases", ()),
        width_mm=media.width_mm,
        height_mm=media.height_mm,
        cost=_parse_cost(table),
        max_length_mm=longest if media.height_mm is None else None,
        note=table.take_text("note", ""),
        setting=_parse_setting(table),
    )


def _parse_setting(table: TomlTable) -> PressSetting | None:
    """How the press is set for a paper, in keys of the paper's own table."""
    keys = ("temperature_c", "seconds", "pressure", "rest_seconds")
    if not any(key in table for key in keys):
        return None
    return PressSetting(
        temperature_c=table.take_whole("temperature_c", 100, 250) if "temperature_c" in table else None,
        seconds=table.take_whole("seconds", 1, 600) if "seconds" in table else None,
        pressure=table.take_text("pressure", choices=PRESSURES) if "pressure" in table else None,
        rest_seconds=table.take_whole("rest_seconds", 0, 600) if "rest_seconds" in table else None,
    )


def _parse_cost(table: TomlTable, key: str = "cost", blank: str | None = None) -> Decimal:
    """Money in whole millionths, the finest that the nesting counts."""
    cost = table.take_number(key, "0", "100000", blank)
    if cost != round(cost, 6):
        table.note_fault(key, "finer than millionths", "Round it to six places.", cost)
    return cost


def _parse_edge(table: TomlTable, side: str) -> float:
    edge = table.take_length(side, zero=True)
    if edge > 100:
        table.note_fault(
            side, "an unprintable edge of over 100 mm", "Check the length and its unit.", format_length(edge)
        )
    return edge


def parse_printer(table: TomlTable) -> Printer:
    """A printer, from its table."""
    edges = {f"{side}_mm": _parse_edge(table, side) for side in ("left", "top", "right", "bottom")}
    scales = {key: float(table.take_number(key, "0.95", "1.06", "1")) for key in ("scale_x", "scale_y")}
    texts = {key: table.take_text(key, "") for key in ("note", "output_profile", "address", "media_type")}
    values: dict[str, Any] = {**edges, **scales, **texts}
    return Printer(
        name=table.table_name,
        ink_ml_per_m2=table.take_number("ink_ml_per_m2", "0", "100", "0"),
        ink_cost=_parse_cost(table, "ink_cost", "0"),
        intent=table.take_text("intent", "", choices=("", *INTENTS)),
        feed_width_mm=table.take_optional_length("feed_width"),
        sublimation_ink=table.take_flag("sublimation_ink", False),
        path=table.take_text("path", "", choices=("", "straight", "queue", "dialog")),
        **values,
    )


def parse_press(table: TomlTable) -> HeatPress:
    """A press, from its table."""
    return HeatPress(
        name=table.table_name,
        title=table.take_text("title"),
        platen_width_mm=table.take_length("platen_width"),
        platen_height_mm=table.take_length("platen_height"),
        border_mm=table.take_length("border", zero=True),
        temperature_c=table.take_whole("temperature_c", 100, 250),
        seconds=table.take_whole("seconds", 1, 600),
        pressure=table.take_text("pressure", choices=PRESSURES),
        prepress_seconds=table.take_whole("prepress_seconds", 0, 120),
        cover=table.take_text("cover"),
        rest_seconds=table.take_whole("rest_seconds", 0, 600, 10),
        handling_seconds=table.take_whole("handling_seconds", 0, 3600, 60),
        turning_seconds=table.take_whole("turning_seconds", 0, 3600, 30),
        setup_seconds=table.take_whole("setup_seconds", 0, 3600, 30),
        cool_down=table.take_text("cool_down", ""),
        source=table.take_text("source"),
        note=table.take_text("note", ""),
        **{key: float(table.take_number(key, "0.9", "1.12", "1")) for key in ("scale_x", "scale_y")},
    )
