"""Styles of the words that are set by us: typeface, colour, outline, arc, height of the letters.

The column `font` of a batch names a style, and may change parts of it: `outlined, colour #AA0000, arc 60`. In place of
a style it may name a font file beside the artwork, which is then set plain.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from impose.errors import quote_text
from impose.profiles.toml_tables import TomlTable, suggest_word
from impose.units import Bare, LengthError, parse_length
from impose.values import FrozenStruct, replace

FONT_FILES = (".ttf", ".otf")
MOST_BENT = 180
DEFAULT_STYLE = "plain"
_CHANGES = ("colour", "outline", "arc", "letters")


class StyleError(ValueError):
    """A style that cannot be taken: `what` is wrong with it, and the `remedy`."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what}. {remedy}")


class WordStyle(FrozenStruct):
    """How a line of words is set.

    `font` is "" for the face that comes with the tool, a file, or the name of an installed face; `folder` is where a
    file is looked for. Colours are #RRGGBB; `outline` "" means none. `outline_width` is a share of the height of the
    capitals, `letter_height_mm`; `arc` the degrees that the line bends over, 0 for straight. `letters_said` says that a
    row names the height of its letters: a width then limits them and is not filled.
    """

    name: str
    title: str = ""
    font: str = ""
    folder: str = ""
    colour: str = "#1A1A1A"
    outline: str = ""
    outline_width: float = 0.05
    arc: int = 0
    letter_height_mm: float = 40.0
    letters_said: bool = False

    @property
    def is_file(self) -> bool:
        """Whether the font is a file, not a name."""
        return is_font_file(self.font)


def find_font_file(text: str) -> str:
    """The font file that a cell of the column `font` names; "" where it names a style."""
    head = text.partition(",")[0].strip()
    return head if is_font_file(head) else ""


def is_font_file(name: str) -> bool:
    """Whether a name is a font file's."""
    return name.casefold().endswith(FONT_FILES)


def read_style(table: TomlTable) -> WordStyle:
    """A style of a profile file; faults go to the table's list."""
    style = WordStyle(
        name=table.table_name,
        title=table.take_text("title", ""),
        font=table.take_text("font", ""),
        folder=table.key_origin("font"),
        colour=_read_colour(table, "colour", "#1A1A1A"),
        outline=_read_colour(table, "outline", ""),
        outline_width=float(table.take_number("outline_width", "0.005", "0.5", "0.05")),
        arc=table.take_whole("arc", -MOST_BENT, MOST_BENT, 0),
        letter_height_mm=table.take_length("letter_height", "40 mm"),
    )
    if style.outline == "" and "outline_width" in table:
        table.note_fault("outline_width", "there is no outline", 'Give outline = "#RRGGBB" too.')
    return style


def _read_colour(table: TomlTable, key: str, default: str) -> str:
    text = table.take_text(key, default)
    try:
        return parse_colour(text) if text else ""
    except StyleError as error:
        table.note_fault(key, error.what, error.remedy, text)
        return default


def parse_colour(text: str) -> str:
    """A colour as #RRGGBB from #RGB or #RRGGBB. Raises `StyleError`."""
    match = re.fullmatch(r"#?([0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", text.strip())
    if not match:
        raise StyleError(f"{quote_text(text.strip())} is not a colour", "Write it as #RRGGBB, such as #AA0000.")
    digits = match[1] if len(match[1]) == 6 else "".join(c * 2 for c in match[1])
    return f"#{digits.upper()}"


def parse_style(text: str, styles: Mapping[str, WordStyle], bare: Bare | None = None) -> WordStyle:
    """The style that a cell of the column `font` names, with its changes. Raises `StyleError`.

    A font file is returned as it is written, with `folder` blank: where it lies is for the caller to find.
    """
    head, *changes = [part.strip() for part in text.split(",")]
    if _names_change(head):  # of the style that a blank cell has
        head, changes = DEFAULT_STYLE, [head, *changes]
    name = "-".join(head.casefold().split())
    if head.lower().endswith(FONT_FILES):
        style = WordStyle(head, head, head)
    elif name in styles:
        style = styles[name]
    else:
        remedy = (
            f"{suggest_word(name, styles)} A font file ends in .ttf or .otf; an installed face is named by a style."
        )
        raise StyleError(f"{quote_text(head)} is not a style of lettering on file", remedy)
    for change in changes:
        style = _apply_change(style, change, bare)
    return style


def says_letters(text: str) -> bool:
    """Whether a cell of the column `font` gives the height of the letters, whatever its style is called."""
    words = (part.split(maxsplit=1) for part in text.split(","))
    return any(len(word) == 2 and word[0].casefold() == "letters" for word in words)


def _names_change(part: str) -> bool:
    """Whether a part of the cell changes a style, and is not the name of one."""
    word, _, value = part.partition(" ")
    return bool(value) and word.casefold().replace("color", "colour") in _CHANGES


def _apply_change(style: WordStyle, change: str, bare: Bare | None) -> WordStyle:
    word, _, value = change.partition(" ")
    key, value = word.casefold().replace("color", "colour"), value.strip()
    if key in ("colour", "outline"):
        none = key == "outline" and value.casefold() == "none"
        changed: dict[str, Any] = {key: "" if none else parse_colour(value)}
    elif key == "arc":
        degrees = value.removesuffix("°").strip()
        if not re.fullmatch(r"[+-]?[0-9]{1,3}", degrees) or abs(int(degrees)) > MOST_BENT:
            raise StyleError(
                f"{quote_text(change)} is not an arc", f"Write degrees from -{MOST_BENT} to {MOST_BENT}, as in arc 60."
            )
        changed = {"arc": int(degrees)}
    elif key == "letters":
        try:
            changed = {"letter_height_mm": parse_length(value, bare), "letters_said": True}
        except LengthError as error:
            raise StyleError(error.what, f"{error.remedy} Write it as in letters 40 mm.") from None
    else:
        remedy = "After the style write colour, outline, arc or letters, as in: plain, colour #AA0000, arc 60."
        raise StyleError(f"{quote_text(change)} changes nothing that is known", remedy)
    return replace(style, **changed)
