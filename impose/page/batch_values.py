"""A batch as the page shows it, and what may stand in each column."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from impose.orders.editable_table import EditableTable
from impose.orders.headings import COLUMNS, LENGTHS
from impose.page.artwork_store import ArtFile
from impose.page.face_views import capitalise_words
from impose.page.open_batch import OpenBatch
from impose.profiles.profiles import Profiles
from impose.run.load_batch import load_profiles_in_force
from impose.run.options import Options

_TITLES = {
    "order": ("Order", "Whose order it is: prints of one order lie together.", "text"),
    "wearer": ("Wearer", "Whose garment it is.", "text"),
    "art": ("Picture", "The file, in the folder of the batch.", "art"),
    "words": ("Words", "Letters to be set in place of a picture.", "text"),
    "font": ("Lettering", "How words are set.", "text"),
    "letters": ("Letters high", "How high the letters are.", "length"),
    "placement": ("Place", "Where it goes on the garment.", "choice"),
    "garment": ("Garment", "Kind and size, such as: hoodie adult M.", "text"),
    "copies": ("Copies", "How many.", "number"),
    "width": ("Width", "How wide the ink is; the place's own where it is left blank.", "length"),
    "height": ("Height", "How high the ink is.", "length"),
    "tear": ("Tear margin", "Normal, tight, or a length.", "length"),
    "centre": ("Folded on", "What the folds are centred on.", "choice"),
    "may_turn": ("May turn", "Whether it may lie turned on the paper.", "yes-no"),
    "accept": ("Agreed", "Findings that are agreed to.", "words"),
    "note": ("Note", "Stands on the ticket.", "text"),
    "cloth": ("Cloth", "Its fibre, such as: polyester.", "text"),
    "cloth_colour": ("Colour of the cloth", "Such as: white.", "text"),
    "kit": ("Kit", "Which prints this garment gets.", "text"),
    "name": ("Name", "Put in where the kit says {name}.", "text"),
    "number": ("Number", "Put in where the kit says {number}.", "text"),
    "mend": ("Cleaned", "What is cleaned off this picture.", "words"),
    "recolour": ("Other colours", "Colours that are printed as others.", "text"),
}
_CENTRES = (("ink", "Its ink"), ("canvas", "The whole picture"), ("mass", "The middle of its weight"))


def title_of_column(name: str) -> str:
    """What the page calls a column."""
    return _TITLES[name][0] if name in _TITLES else name.replace("_", " ").capitalize()


def list_batch_values(batch: OpenBatch, art: Sequence[ArtFile], plan: int | None) -> dict[str, Any]:
    """All of it."""
    state, history = batch.state, batch.history
    read_only = batch.files.read_only
    kits = state.kits
    used, in_kits = _group_rows_by_art(state.orders), {} if kits is None else _group_rows_by_art(kits)
    return {
        "id": batch.id,
        "name": batch.name,
        "example": batch.example,
        "revision": batch.revision,
        "saved": batch.saved,
        "read_only": None if read_only is None else {"what": read_only[0], "remedy": read_only[1]},
        **list_table_values(state.orders),
        "kits": {"columns": [], "rows": []} if kits is None else list_table_values(kits),
        "choices": dict(state.choices),
        "undo": history.undo_label,
        "redo": history.redo_label,
        "elsewhere": batch.elsewhere,
        "art": [
            {
                "art": entry.art,
                "name": entry.path.name,
                "sha": entry.sha,
                "kits": in_kits.get(entry.art, []),
                "rows": used.get(entry.art, []),
                "small": f"/api/b/{batch.id}/art/{entry.sha}.png",
            }
            for entry in art
        ],
        "plan": plan,
    }


def list_table_values(table: EditableTable) -> dict[str, Any]:
    """Columns and rows of a table."""
    lines = table.number_lines()
    columns = [
        {"name": column.name, "key": key, "heading": column.heading, "ours": key in COLUMNS}
        for column, key in zip(table.columns, table.keys, strict=True)
    ]
    rows = [{"id": row.id, "line": lines[row.id], "cells": table.read_values(row)} for row in table.list_shown()]
    return {"columns": columns, "rows": rows}


def _group_rows_by_art(table: EditableTable) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for row in table.list_shown():
        found.setdefault(table.read_values(row).get("art", ""), []).append(row.id)
    return found


def list_columns(options: Options) -> list[dict[str, Any]]:
    """What may stand in each of our columns."""
    profiles = load_profiles_in_force(options)
    return [_describe_column(name, profiles) for name in COLUMNS]


def _describe_column(name: str, profiles: Profiles) -> dict[str, Any]:
    title, help_, kind = _TITLES.get(name, (name.replace("_", " ").capitalize(), "", "text"))
    values: dict[str, Any] = {
        "name": name,
        "title": title,
        "help": help_,
        "kind": "length" if name in LENGTHS else kind,
    }
    choices = _list_choices(name, profiles)
    return values | ({"choices": choices} if choices else {})


def _list_choices(name: str, profiles: Profiles) -> list[dict[str, str]]:
    if name == "placement":
        return [
            {"value": key, "title": capitalise_words(placement.title)} for key, placement in profiles.placements.items()
        ]
    if name == "centre":
        return [{"value": value, "title": title} for value, title in _CENTRES]
    if name == "font":
        return [{"value": key, "title": capitalise_words(key)} for key in profiles.lettering]
    if name == "mend":
        return [{"value": "clean-haze", "title": "Haze taken off"}, {"value": "drop-specks", "title": "Specks dropped"},
                {"value": "ground", "title": "Ground made white"}]  # fmt: skip
    return []
