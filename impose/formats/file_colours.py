"""The flat colours of a file of artwork, of any format that is taken."""

from __future__ import annotations

from impose.art.colour import ColourDescription, read_colours
from impose.art.decode import DecodedFrame, decode_png
from impose.art.ink import count_tint_levels
from impose.art.png import read_png
from impose.art.prepare import PreparationOptions
from impose.art.recolour import find_flat_colours
from impose.file_types import PNG, identify_file
from impose.formats.prepare_file import convert_file
from impose.values import FrozenStruct


class FileColour(FrozenStruct):
    """A flat colour as sRGB `#RRGGBB`, its share of what is drawn, and the profile of the artwork it is of."""

    colour: str
    share: float
    icc: bytes | None = None


def list_file_colours(content: bytes, recipe: PreparationOptions, name: str = "") -> list[FileColour]:
    """The flat colours that print, most first. Raises `Trouble` for a file that is damaged or of no format taken."""
    frame, colours = _decode_file(content, recipe, name)
    coloured, found = find_flat_colours(frame, colours)
    levels = count_tint_levels(recipe.tint)
    printed = [(shown, flat) for shown, flat in found if 255 - min(flat.levels) >= levels]
    whole = sum(flat.share for _, flat in found if 255 - min(flat.levels) >= levels) or 1.0
    return [FileColour(shown, flat.share / max(whole, 1e-9), coloured) for shown, flat in printed]


def _decode_file(content: bytes, recipe: PreparationOptions, name: str) -> tuple[DecodedFrame, ColourDescription]:
    kind = identify_file(content)
    if kind is PNG or not kind.taken:
        png = read_png(content, name, recipe.pixel_limit)
        return decode_png(png, name), read_colours(png, name)
    made = convert_file(content, kind, recipe, name)
    return made.make_frame(), read_colours(read_png(made.png), name)
