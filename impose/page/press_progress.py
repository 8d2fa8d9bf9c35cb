"""The press view with what is ticked: how much is done, what is next, what a print is."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from impose.run.press_ticks import PrintTicks

NOTHING = PrintTicks()


def overlay_ticks(shown: Mapping[str, Any], ticks: Mapping[str, PrintTicks]) -> dict[str, Any]:
    """The view; `first_check` says that the first garment is still to be pressed and looked at before all others."""
    garments = [_overlay_garment(entry, ticks) for entry in shown["garments"]]
    prints = {entry["transfer"]: entry for garment in garments for entry in garment["prints"]}
    done = sum(entry["pressed"] or entry["spoiled"] is not None for entry in prints.values())
    following = next((garment["id"] for garment in garments if not garment["done"]), None)
    for garment in garments:
        garment["next"] = garment["id"] == following
    return {
        **shown,
        "garments": garments,
        "done": done,
        "of": len(prints),
        "next": following,
        "first_check": not any(garment["done"] for garment in garments),
    }


def _overlay_garment(garment: Mapping[str, Any], ticks: Mapping[str, PrintTicks]) -> dict[str, Any]:
    prints = [_overlay_print(entry, ticks.get(entry["transfer"], NOTHING)) for entry in garment["prints"]]
    new_blank = any(entry["spoiled"] == "garment" for entry in prints)
    done = all(entry["pressed"] or entry["spoiled"] is not None for entry in prints) or new_blank
    return {**garment, "prints": prints, "new_blank": new_blank, "done": done}


def _overlay_print(entry: Mapping[str, Any], ticked: PrintTicks) -> dict[str, Any]:
    return {**entry, "pressed": ticked.pressed, "spoiled": ticked.spoiled, "at": ticked.at}
