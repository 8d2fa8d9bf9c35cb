"""The shop as the page shows it: papers with what is left, printers, presses, garments, places, settings; choices."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path, PurePath
from typing import Any

from impose.errors import Trouble
from impose.page.face_views import capitalise_words
from impose.printing.queues import hide_secret
from impose.profiles.paper import make_title
from impose.profiles.profiles import Profiles
from impose.run.batch_choices import NAMES, lay_choices
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options
from impose.run.price_values import list_price_values
from impose.run.shop_values import (
    SHIPPED,
    YOURS,
    find_origin,
    list_paper_values,
    list_placement_values,
    list_press_values,
    list_printer_values,
    list_setting_choices,
    list_setting_values,
)
from impose.run.stock_counts import CountedStock
from impose.units import format_length


def list_shop_values(options: Options, ledger: Path) -> dict[str, Any]:
    """All of it."""
    profiles = load_profiles_in_force(options)
    counts = {count.paper: count.shown for count in CountedStock(ledger, options).list_counts()}
    settings = profiles.settings
    return {
        "own": options.profiles_dir is not None,
        "units": settings.units,
        "currency": settings.currency,
        "papers": _list_papers(profiles, counts),
        "printers": [
            {
                "printer": name,
                "title": capitalise_words(name),
                "yours": find_origin(profiles, "printers", name) == YOURS,
                "chosen": name == settings.printer,
                "note": printer.note,
                "measured": printer.note.startswith("Measured:"),
                "address": hide_secret(printer.address),
                "values": [value.values() for value in list_printer_values(profiles, printer)],
            }
            for name, printer in profiles.printers.items()
        ],
        "presses": [
            {
                "press": name,
                "title": press.title,
                "chosen": name == settings.press,
                "note": press.note,
                "values": [value.values() for value in list_press_values(profiles, press)],
            }
            for name, press in profiles.presses.items()
        ],
        "garments": _list_garments(profiles),
        "placements": [
            {
                "placement": name,
                "title": capitalise_words(placement.title),
                "note": placement.note,
                "values": [
                    {"garment": key, "what": v.name, **v.values()}
                    for key, v in list_placement_values(profiles, placement)
                ],
            }
            for name, placement in profiles.placements.items()
        ],
        "lettering": [{"name": name, "title": capitalise_words(name)} for name in profiles.lettering],
        "settings": [value.values() for value in list_setting_values(profiles)],
        "prices": list_price_values(profiles),
        "stock": "/api/shop/stock",
    }


def _list_papers(profiles: Profiles, counts: Mapping[str, str]) -> list[dict[str, Any]]:
    units = profiles.settings.units
    offered = {paper.name for paper in profiles.offered_papers}
    found = []
    for key, paper in profiles.papers.items():
        high = paper.height_mm or paper.max_length_mm or 0.0
        size = f"{format_length(paper.width_mm, units)} × {format_length(high, units)}"
        values = [value.values() for value in list_paper_values(profiles, key, paper)]
        found.append(
            {
                "paper": paper.alias,
                "name": paper.name,
                "title": paper.title,
                "size": f"{format_length(paper.width_mm, units)} wide" if paper.is_roll else size,
                "roll": paper.is_roll,
                "width_mm": paper.width_mm,
                "cost": values[0],
                "values": values,
                "counted": paper.name in counts,
                "left": counts.get(paper.name),
                "offered": paper.name in offered,
                "yours": find_origin(profiles, "papers", key) == YOURS or paper.name in counts,
            }
        )
    return found


_MOVEMENTS = {
    "set": "Counted",
    "add": "Bought",
    "waste": "Spoiled",
    "stop": "Not counted any more",
    "made": "Sheets made",
    "returned": "Not printed after all",
    "undone": "Not made after all",
}


def describe_movement(entry: Mapping[str, str]) -> dict[str, str]:
    """One change of a count as a person reads it: when by the clock here, which paper, why."""
    at = datetime.fromisoformat(entry["at"]).astimezone()
    kind = _MOVEMENTS.get(entry["kind"], entry["kind"].replace("-", " ").capitalize())
    reason = PurePath(entry["reason"]).name if "/" in entry["reason"] or "\\" in entry["reason"] else entry["reason"]
    return {
        "at": at.strftime("%Y-%m-%d %H:%M"),
        "paper": make_title(entry["paper"]),
        "change": entry["change"],
        "left": entry["left"],
        "why": f"{kind}: {reason}" if reason else kind,
    }


def _list_garments(profiles: Profiles) -> list[dict[str, Any]]:
    units = profiles.settings.units
    kinds = []
    for kind in profiles.wardrobe.kinds.values():
        across, along = profiles.wardrobe.find_cloth_allowance(kind.name)
        origin = find_origin(profiles, "garments", "kinds", kind.name)
        words = "Your own" if origin != SHIPPED else "Came with the program"
        values = [
            {"name": "scale_x", "title": "Made larger across, for the cloth", "value": f"{across:g}"},
            {"name": "scale_y", "title": "Made larger along", "value": f"{along:g}"},
            {"name": "sizes", "title": "Sizes", "value": ", ".join(kind.sizes)},
        ]
        told = [{**entry, "origin": origin, "from": words, "kind": "text", "enter": False} for entry in values]
        kinds.append({"name": kind.name, "title": capitalise_words(kind.title), "note": kind.note, "values": told})
    for group in profiles.wardrobe.groups.values():
        figure = group.figure
        if figure is not None:
            size = f"{format_length(figure.width, units)} wide, {format_length(figure.length, units)} long"
            value = {"name": "drawn", "title": "Drawn as", "value": size, "origin": SHIPPED, "from": figure.source,
                     "kind": "text", "enter": False}  # fmt: skip
            kinds.append(
                {"name": group.name, "title": capitalise_words(group.title), "note": group.note, "values": [value]}
            )
    return kinds


def list_choices(options: Options, chosen: Mapping[str, Any], folder: Path) -> list[dict[str, Any]]:
    """What a batch may choose for itself, with what is in force and why."""
    try:
        given = lay_choices(options, chosen, folder)
        profiles = load_profiles_in_force(given)
    except Trouble:
        profiles = load_profiles_in_force(options)
    known = {value.name: value for value in list_setting_values(profiles)}
    return [_describe_choice(name, known.get(name), chosen, profiles) for name in NAMES]


_OF_RUN = {
    "placement": ("Place for rows without one", "What is made", "choice", ""),
    "width": ("Width for rows without a size", "What is made", "length", ""),
    "height": ("Height for rows without a size", "What is made", "length", ""),
    "copies": ("Copies for rows without a number", "What is made", "whole", ""),
    "mend": ("Cleaned off every picture", "Artwork and colour", "words", "clean-haze, drop-specks, ground."),
    "tear": ("Tear margin of all prints", "Size and margins", "text", "Normal, tight, or a length."),
    "oversize": ("Prints too large for every paper", "Size and margins", "choice", ""),
    "steps": ("Search effort", "Nesting", "whole", "More may find less paper; the same every time."),
    "seconds": ("Search time in seconds", "Nesting", "number", "Results may differ from time to time."),
    "skip_bad": (
        "Leave out orders with a refused row",
        "Checks",
        "yes-no",
        "For the commands; the page leaves rows out.",
    ),
    "strict": ("Stop at warnings too", "Checks", "yes-no", ""),
    "accept": ("Findings agreed to in the whole batch", "Checks", "words", ""),
    "columns": ("Column map of the export", "What is made", "text", "Made by showing which heading is which."),
    "part_sheets": ("Write in parts of so many sheets", "Output", "whole", "For large batches."),
}


def _describe_choice(name: str, setting: Any, chosen: Mapping[str, Any], profiles: Profiles) -> dict[str, Any]:
    value = chosen.get(name)
    if name in _OF_RUN:
        title, group, kind, help_ = _OF_RUN[name]
        choices = [{"value": choice, "title": label} for choice, label in list_setting_choices(profiles, name)] or None
        said = {"title": title, "group": group, "kind": kind, "help": help_, "choices": choices}
        return {"name": name, **said, "value": value, "in_force": value, "origin": _name_origin(value, SHIPPED),
                "from": _describe_origin(value, "Nothing is chosen"), "more": name != "oversize"}  # fmt: skip
    told = setting.values()
    return {
        **{key: told[key] for key in ("name", "title", "group", "kind", "help", "choices")},
        "value": value,
        "in_force": told["value"],
        "origin": _name_origin(value, told["origin"]),
        "from": _describe_origin(value, told["from"]),
        "more": name not in ("papers", "printer"),
    }


def _name_origin(value: Any, otherwise: str) -> str:
    return otherwise if value is None else "this batch"


def _describe_origin(value: Any, otherwise: str) -> str:
    return otherwise if value is None else "Chosen for this batch"
