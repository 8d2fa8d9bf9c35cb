"""Pads: what lies inside a garment under a print, and lifts it clear of seams, zips and pockets."""

from __future__ import annotations

from impose.profiles.toml_tables import TomlTable
from impose.values import FrozenStruct


class PressPad(FrozenStruct):
    """A pad that the shop has, `width_mm` × `height_mm`, used either way round.

    A `card` may be folded once across the middle, and cut to its place.
    """

    name: str
    title: str
    width_mm: float
    height_mm: float
    card: bool = False
    owned: bool = True
    source: str = ""
    note: str = ""


def read_pad(table: TomlTable) -> PressPad:
    """A pad out of its table."""
    width, height = table.take_length("width"), table.take_length("height")
    for key, length in (("width", width), ("height", height)):
        if length > 1000:
            table.note_fault(key, "a pad of over a metre", "Check the lengths and their units.", length)
    return PressPad(
        name=table.table_name,
        title=table.take_text("title"),
        width_mm=width,
        height_mm=height,
        card=table.take_flag("card", default=False),
        owned=table.take_flag("owned", default=True),
        source=table.take_text("source"),
        note=table.take_text("note", ""),
    )
