"""Lengths: how people type them, how they are shown, and the one rounding rule.

Inside the program a length is a float in millimetres. It becomes whole micrometres only for the packer and
PDF points only in the PDF module. One inch is 25.4 mm exactly (international yard and pound agreement, 1959);
typed lengths are computed as fractions and converted once, so `8.25in` is 209.55 and nothing beside it.
"""

from __future__ import annotations

import math
import re
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Literal

from impose.values import FrozenStruct

MM_PER_INCH = 25.4
POINTS_PER_MM = 72 / 25.4
"""A PDF point is 1/72 in (ISO 32000-1, 8.3.2.3: the default user space unit)."""

LONGEST_MM = 100_000.0
"""No roll of transfer paper is longer than this; a longer length is a slip of the finger."""

_UM_TOLERANCE = 1e-3
"""Micrometres: 1e-6 mm, far above float noise on a metre, far below anything that can be cut."""

Bare = Literal["mm", "cm", "in"]
"""What a number without a unit means, where a heading or an option has said so."""


class LengthError(ValueError):
    """A text that is not a length; `what` is wrong with it, and the `remedy`."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what}. {remedy}")

    def __reduce__(self) -> tuple[type[LengthError], tuple[str, str]]:
        return (type(self), (self.what, self.remedy))


_EXAMPLES = "Write a number and its unit: 90 mm, 9 cm, 3.5 in or 3 1/2 in."

# Fraction characters are taken apart before anything else: Unicode's compatibility forms would glue them to
# the digit before, and 8¼ would read as 81/4. The space in front keeps them apart.
_VULGAR = {
    "¼": "1/4", "½": "1/2", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅐": "1/7", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
    "⅑": "1/9", "⅒": "1/10",
}  # fmt: skip
_SPACES = dict.fromkeys("\u00a0\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a\u202f\u205f", " ")
_SIGNS = str.maketrans(_SPACES | {"⁄": "/", "∕": "/"} | {sign: f" {text}" for sign, text in _VULGAR.items()})

_INCH = Fraction(127, 5)
_UNITS = {
    **dict.fromkeys(("mm", "mm.", "millimetre", "millimetres", "millimeter", "millimeters"), Fraction(1)),
    **dict.fromkeys(("cm", "cm.", "centimetre", "centimetres", "centimeter", "centimeters"), Fraction(10)),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "''", "″", "”", "“", "′′", "’’"), _INCH),
}
_FEET = {"'", "’", "′", "ft", "ft.", "foot", "feet"}
_OTHER = {
    "m": "Metres are not taken, lest an m be missing: write millimetres or centimetres.",
    "pt": "Points are a matter of type: write millimetres or inches.",
    "px": "Pixels have no size on paper: write millimetres or inches.",
}

_DECIMAL = r"(?P<decimal>[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_FRACTION = r"(?:(?P<whole>[0-9]+)(?:\s+|\s*-\s*))?(?P<over>[0-9]+)\s*/\s*(?P<under>[0-9]+)"
_LENGTH = re.compile(rf"(?:{_FRACTION}|{_DECIMAL})\s*(?P<unit>[^\s0-9.,/+-][^\s0-9]*)?")


def parse_length(text: str, bare: Bare | None = None, *, zero: bool = False) -> float:
    """The length a person typed, in mm: `8.25in`, `8 1/4"`, `210 mm`, `21,0 cm`.

    A number without a unit is refused unless `bare` says what it means: a silent factor of 25.4 ruins a
    garment. `zero` lets 0 through (an edge without a margin). Raises `LengthError`.
    """
    if len(text) > 60:
        raise LengthError("too long for a length", _EXAMPLES)
    return _compute_length(text, bare, zero)


@lru_cache(maxsize=1024)  # rows and placements say the same few lengths over and over
def _compute_length(text: str, bare: Bare | None, zero: bool) -> float:
    match = _LENGTH.fullmatch(text.translate(_SIGNS).strip())
    if match is None:
        raise LengthError("not a length", _explain_bad_length(text))
    number = _read_number(match)
    if zero and number == 0 and not match["unit"]:
        return 0.0  # nothing is the same in every unit
    mm = float(number * _read_factor(match["unit"], bare))
    if mm == 0 and not zero:
        raise LengthError("not a positive length", "A size has to be more than nothing.")
    if mm > LONGEST_MM:
        raise LengthError("a length of more than 100 m", "Check the number and its unit.")
    return mm


def _read_number(match: re.Match[str]) -> Fraction:
    """The typed number, exactly; an improper or ambiguous one is refused."""
    if match["decimal"] is not None:
        return _read_decimal(match["decimal"])
    over, under = int(match["over"]), int(match["under"])
    if under == 0:
        raise LengthError("a fraction with zero below the line", "Write it as 8 1/4 in or 8.25 in.")
    if under > 1000:
        raise LengthError("a fraction finer than thousandths", "Write it as a decimal, such as 8.25 in.")
    if over >= under:
        raise LengthError(
            "an improper fraction",
            "Put a space between the whole number and the fraction (8 1/4 in), or write a decimal (8.25 in).",
        )
    return int(match["whole"] or 0) + Fraction(over, under)


def _read_decimal(digits: str) -> Fraction:
    """A decimal with point or comma; a comma before three digits may be a thousands mark and is refused."""
    whole, comma, rest = digits.partition(",")
    if comma and len(rest) == 3 and whole.strip("0"):
        raise LengthError(
            "a comma that may part thousands or decimals",
            f"Write {whole}.{rest} with a point for the decimal, or {whole}{rest} for thousands.",
        )
    return Fraction(digits.replace(",", "."))


def _read_factor(unit: str | None, bare: Bare | None) -> Fraction:
    """Millimetres in one of the unit; refuses what is unknown or nearly sure to be a slip."""
    name = (unit or bare or "").casefold()
    if name in _UNITS:
        return _UNITS[name]
    if not name:
        raise LengthError("no unit", "Write mm, cm or in after the number.")
    if name in _FEET:
        raise LengthError("a length in feet", 'A print is not measured in feet. For inches write in or ".')
    raise LengthError("a unit that is not taken", _OTHER.get(name, "Write mm, cm or in."))


def _explain_bad_length(text: str) -> str:
    """The likeliest reason that a text is no length, as a remedy."""
    if re.search(r"(?i)[0-9][^0-9]*\s*[x×]\s*[0-9]", text):
        return "Give one length here: width and height have columns of their own."
    if re.search(r"(?i)[0-9]e[+-]?[0-9]", text):
        return "Write the number out, without an exponent."
    if "-" in text.strip()[:1]:
        return "A length has to be more than nothing."
    if re.search(r"[0-9][.,][0-9]+[.,]", text):
        return "Leave thousands marks out: 1200.5 mm."
    if any(c.isdigit() and not c.isascii() for c in text):
        return "Write the digits as 0 to 9."
    return _EXAMPLES


def format_length(mm: float, units: Literal["mm", "in"] = "mm") -> str:
    """A length for people: `88.9 mm` to the tenth, `3.5 in` to the hundredth, halves away from zero.

    Nobody cuts or lays finer than that; exact figures stand in the record. What is under a millimetre is a stroke or a
    sliver of paper, and has one place more.
    """
    value, step = (mm, "0.1") if units == "mm" else (mm / MM_PER_INCH, "0.01")
    if abs(mm) < 1:
        step = f"{step[:-1]}01"
    number = f"{Decimal(repr(value)).quantize(Decimal(step), ROUND_HALF_UP):f}"
    if "." in number:
        number = number.rstrip("0").rstrip(".")
    return f"{'0' if number in ('-0', '') else number} {units}"


_SMALL_MM = 20.0


def show_at_most(mm: float, units: Literal["mm", "in"] = "mm") -> str:
    """A limit for people, rounded down: whoever takes it at its word stays within it; `209.9 mm`, `8.26 in`."""
    per_step = (0.1 if units == "mm" else MM_PER_INCH / 100) / (10 if mm < 1 else 1)
    return format_length(math.floor(mm / per_step + 1e-6) * per_step, units)


def show_size(mm: float, units: Literal["mm", "in"] = "mm") -> str:
    """The size of a print for people: whole millimetres, tenths where it is so small that they matter; `3.5 in`."""
    return format_length(float(round(mm)) if units == "mm" and mm >= _SMALL_MM else mm, units)


def show_on_ruler(mm: float, units: Literal["mm", "in"] = "mm", finest: int = 1) -> str:
    """A length as it is laid or cut by a ruler: whole millimetres, or inches and eighths such as `3 1/2 in`.

    `finest` divides that step: 10 gives tenths of a millimetre, 2 sixteenths of an inch.
    """
    if units == "mm":
        steps = int(Decimal(repr(mm * finest)).quantize(Decimal(1), ROUND_HALF_UP))
        return f"{steps / finest:.10g} mm"
    steps = int(Decimal(repr(mm / MM_PER_INCH * 8 * finest)).quantize(Decimal(1), ROUND_HALF_UP))
    whole, part = divmod(Fraction(steps, 8 * finest), 1)
    return " ".join(text for text in (str(whole) if whole or not part else "", str(part) if part else "", "in") if text)


def to_um_up(mm: float) -> int:
    """Whole micrometres, rounded up: a piece is never packed smaller than it is; 210.0 mm is 210000."""
    return math.ceil(mm * 1000 - _UM_TOLERANCE)


def to_um_down(mm: float) -> int:
    """Whole micrometres, rounded down: a paper is never packed larger than it is; 210.0 mm is 210000."""
    return math.floor(mm * 1000 + _UM_TOLERANCE)


class Box(FrozenStruct):
    """A rectangle in mm: origin top left, x to the right, y down."""

    x: float
    y: float
    w: float
    h: float

    @property
    def right(self) -> float:
        """x of the right edge."""
        return self.x + self.w

    @property
    def bottom(self) -> float:
        """y of the lower edge."""
        return self.y + self.h

    @property
    def centre(self) -> tuple[float, float]:
        """x, y of the middle."""
        return self.x + self.w / 2, self.y + self.h / 2

    def inset_by(self, left: float, top: float, right: float, bottom: float) -> Box:
        """The box with its edges moved inwards (outwards where negative)."""
        return Box(self.x + left, self.y + top, self.w - left - right, self.h - top - bottom)

    def move_by(self, dx: float, dy: float) -> Box:
        """The box of the same size at another place."""
        return Box(self.x + dx, self.y + dy, self.w, self.h)

    def contains_box(self, other: Box, eps: float = 1e-6) -> bool:
        """Whether `other` lies inside, edges included, allowing `eps` mm."""
        return (
            other.x >= self.x - eps
            and other.y >= self.y - eps
            and other.right <= self.right + eps
            and other.bottom <= self.bottom + eps
        )

    def overlaps_box(self, other: Box, eps: float = 1e-6) -> bool:
        """Whether the two share area by more than `eps` mm both ways; touching edges do not meet."""
        # Without min, max and the properties: sheets ask this a hundred times each.
        start, end = self.x if self.x > other.x else other.x, self.x + self.w
        far = other.x + other.w
        if (end if end < far else far) - start <= eps:
            return False
        start, end = self.y if self.y > other.y else other.y, self.y + self.h
        far = other.y + other.h
        return (end if end < far else far) - start > eps


def format_minutes(minutes: int) -> str:
    """Minutes, or hours and minutes."""
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest:02} min" if hours else f"{rest} min"
