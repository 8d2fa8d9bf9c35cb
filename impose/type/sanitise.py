"""Text from outside made fit to draw: composed, without what is no text, and what was taken out named."""

from __future__ import annotations

import unicodedata

# Marks stacked on one letter beyond this are taken out: no orthography needs more, and a pile of them would
# reach out of the marks band onto paper that is pressed. (Common practice, no source; Hebrew with points and
# accent needs three.)
_MARKS_ON_A_LETTER = 4
# Format characters (category Cf) that belong to text: the joiners of Persian and Indic spelling, and the
# number signs that are seen (Unicode, Prepended_Concatenation_Mark).
_KEPT_FORMAT = frozenset("\u200c\u200d\u0600\u0601\u0602\u0603\u0604\u0605\u06dd\u070f\u0890\u0891\u08e2")


def fold_text(text: str) -> str:
    """Text as names are compared: capitals, and how wide the spaces are, do not matter."""
    return " ".join(text.split()).casefold()


def clean_text(text: str) -> tuple[str, tuple[str, ...]]:
    """One field's text made fit to draw, and the characters taken out of it, each once.

    Composed (NFC, so that names typed on any system are the same), white space of every kind to plain spaces,
    the ends trimmed. Taken out: control characters, directional marks, overrides and isolates, other
    invisible format characters, lone surrogates, and marks piled on one letter beyond all use.
    """
    if text.isascii() and text.isprintable():
        return text.strip(), ()
    kept: list[str] = []
    removed: list[str] = []
    marks = 0
    for char in unicodedata.normalize("NFC", text):
        category = unicodedata.category(char)
        marks = marks + 1 if unicodedata.combining(char) else 0
        if category[0] == "Z" or char in "\t\n\r\v\f\x85":
            kept.append("\u3000" if char == "\u3000" else " ")
        elif _is_not_text(char, category) or marks > _MARKS_ON_A_LETTER:
            removed.append(char)
        else:
            kept.append(char)
    return "".join(kept).strip(), tuple(dict.fromkeys(removed))


def _is_not_text(char: str, category: str) -> bool:
    return category in ("Cc", "Cs") or (category == "Cf" and char not in _KEPT_FORMAT)


def format_code_points(text: str) -> str:
    """The characters by number, for messages about what cannot be shown: 'U+1F469 U+200D U+1F680'."""
    return " ".join(f"U+{ord(c):04X}" for c in text)
