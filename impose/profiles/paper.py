"""Papers and printers, and the self-describing paper names of PWG 5101.1."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from math import sqrt

from impose.profiles.press import PressSetting
from impose.values import FrozenStruct

LONGEST_PAGE_MM = 5080.0
"""14,400 PDF units, the page limit of PDF Reference 1.7, appendix C; a cut of a roll is a page too."""

LEAST_PAPER_MM = 20.0
"""Smaller than this there is no room for a print with its tear margin."""


def make_title(alias: str) -> str:
    """A paper's everyday name as a person reads it: A4, SRA3, Tabloid, 13x19, Roll 13 in."""
    words = re.sub(r"(?<=\d)in\b", " in", alias.replace("-", " "))
    return alias.upper() if re.fullmatch(r"[a-z]{1,3}\d", alias) else f"{words[:1].upper()}{words[1:]}"


class Paper(FrozenStruct):
    """A sheet, or a roll where `height_mm` is None; `cost` is per sheet, or per metre of roll.

    `name` is the self-describing name of PWG 5101.1, `alias` the everyday one. A roll is cut at no more
    than `max_length_mm`. `setting` is how the press is set for it, where the shop's own figures or its maker's say so.
    """

    name: str
    alias: str
    aliases: tuple[str, ...]
    width_mm: float
    height_mm: float | None
    cost: Decimal
    max_length_mm: float | None = None
    note: str = ""
    setting: PressSetting | None = None

    @property
    def title(self) -> str:
        """Its everyday name as a person reads it."""
        return make_title(self.alias)

    @property
    def is_roll(self) -> bool:
        """Whether its length is free."""
        return self.height_mm is None


class Printer(FrozenStruct):
    """A printer: four unprintable edges in mm, as the sheet is fed, and its scale on either axis.

    A scale is the length printed over the length asked for: 0.996 where 200 mm comes out as 199.2.
    `bottom_mm` is the trailing edge. `ink_ml_per_m2` is the ink laid on a square metre of solid black, `ink_cost` the
    price of a millilitre; 0 where it is not known. `output_profile` is the ICC file of its colours, named from the
    folder of the file that says so, and `intent` how colours are brought into it; blank where nothing is said.
    `feed_width_mm` is the widest paper that it feeds, None where that is not known.
    `address` is where it is spoken to (`ipp://…`), `sublimation_ink` whether the person says that it holds such ink,
    `media_type` what its test page was printed with, and `path` how that went: straight, queue or dialog.
    """

    name: str
    left_mm: float
    top_mm: float
    right_mm: float
    bottom_mm: float
    scale_x: float = 1.0
    scale_y: float = 1.0
    note: str = ""
    ink_ml_per_m2: Decimal = Decimal(0)
    ink_cost: Decimal = Decimal(0)
    output_profile: str = ""
    intent: str = ""
    feed_width_mm: float | None = None
    address: str = ""
    sublimation_ink: bool = False
    media_type: str = ""
    path: str = ""


class MediaName(FrozenStruct):
    """A PWG 5101.1 media size name taken apart; `height_mm` is None for a roll."""

    name: str
    kind: str
    size: str
    width_mm: float
    height_mm: float | None


class PaperNameError(ValueError):
    """A paper name that cannot be taken; `what` is wrong, and the `remedy`."""

    def __init__(self, what: str, remedy: str) -> None:
        self.what, self.remedy = what, remedy
        super().__init__(f"{what}. {remedy}")


LONGEST_NAME = 255
"""A name of PWG 5101.1 is an IPP keyword, of at most 255 octets (RFC 8011, 5.1.4)."""

# The grammar of PWG 5101.1-2023 (Media Standardized Names 2.1), ABNF file of 2023-04-28. The two unit
# branches name their classes; letters are lower case, as IPP asks.
_DIM = r"(?:[1-9][0-9]*(?:\.[0-9]*[1-9])?|0\.[0-9]*[1-9])"
_NAME = re.compile(rf"(?P<kind>[a-z]+)_(?P<size>[a-z0-9][a-z0-9.-]*)_(?P<w>{_DIM})x(?P<l>{_DIM}|0)(?P<unit>in|mm)")
_KINDS = {
    "in": {"custom", "na", "asme", "roc", "oe", "roll"},
    "mm": {"custom", "iso", "jis", "jpn", "prc", "om", "roll"},
}
_MM = {"in": Fraction(127, 5), "mm": Fraction(1)}


def parse_media_name(name: str) -> MediaName:
    """A PWG 5101.1 self-describing name such as `iso_a4_210x297mm` or `roll_24in_24x0in`.

    Raises `PaperNameError` where the name breaks the grammar, is a disc, or gives an ISO size other
    dimensions than ISO 216 does.
    """
    match = _NAME.fullmatch(name) if len(name) <= LONGEST_NAME else None
    if name.startswith(("disc_", "choice_")):
        raise PaperNameError("a name of a disc or of a choice, not of a paper", "Name one sheet or roll.")
    if match is None or match["kind"] not in _KINDS[match["unit"]]:
        raise PaperNameError(
            "not a paper name of PWG 5101.1",
            "Write it like iso_a4_210x297mm, na_letter_8.5x11in, custom_mine_329x483mm or roll_wide_24x0in.",
        )
    factor = _MM[match["unit"]]
    width, length = float(Fraction(match["w"]) * factor), float(Fraction(match["l"]) * factor)
    _check_plausible(width, length or None)
    _check_iso(match["kind"], match["size"], width, length)
    return MediaName(name, match["kind"], match["size"], width, length or None)


def _check_plausible(width: float, length: float | None) -> None:
    sides = [width] if length is None else [width, length]
    if min(sides) < LEAST_PAPER_MM:
        raise PaperNameError(f"a side under {LEAST_PAPER_MM:g} mm holds no transfer", "Check the size and its unit.")
    if max(sides) > LONGEST_PAGE_MM:
        raise PaperNameError(
            f"a side over {LONGEST_PAGE_MM:g} mm is longer than a PDF page may be",
            "Check the size and its unit.",
        )


def compute_iso_size(series: str, number: int) -> tuple[int, int]:
    """ISO 216 (A and B series): width and height in mm from the rule of halving, rounded down.

    A0 has an area of one square metre, B0 a short side of one metre, each side is the last but one
    halved; 0.2 mm is added before rounding down, which gives the standard's tables exactly.
    """
    start = {"a": -0.25, "b": 0.0}[series]
    short = 1000 * 2.0 ** (start - number / 2)
    return int(short + 0.2), int(short * sqrt(2) + 0.2)


def _check_iso(kind: str, size: str, width: float, length: float) -> None:
    match = re.fullmatch(r"([ab])(10|[0-9])", size)
    if kind == "iso" and match:
        right = compute_iso_size(match[1], int(match[2]))
        if (width, length) != right:
            raise PaperNameError(
                f"{size.upper()} measures {right[0]} x {right[1]} mm (ISO 216)",
                f"Write iso_{size}_{right[0]}x{right[1]}mm, or custom_… for another size.",
            )


# Names that mean different sheets to different sellers. PWG 5101.1 lists super-b as 13 x 19 in, yet a legacy
# printer description name SuperB stands for 12 x 19.17 in; A3+ is in no standard and is sold as 329 x 483 mm
# and as 305 x 457 mm. Asking for the size costs a minute, a wrong sheet costs the run.
_TRAPS = {
    "a3+": "A3+ is sold as 329 x 483 mm and as 305 x 457 mm",
    "a3plus": "A3+ is sold as 329 x 483 mm and as 305 x 457 mm",
    "supera3": "Super A3 is sold as 305 x 487 mm and as 329 x 483 mm",
    "superb": "Super B is 13 x 19 in to some and 12 x 19.17 in to others",
    "a4+": "A4+ is in no standard",
    "a4plus": "A4+ is in no standard",
    "a2+": "A2+ is in no standard",
    "a2plus": "A2+ is in no standard",
}
_SIZED = re.compile(
    r"(?P<label>.*?)[\s_(]*(?P<w>[0-9]+(?:[.,][0-9]+)?)\s*(?P<u1>mm|cm|in|\")?\s*[x×]\s*"
    r"(?P<h>[0-9]+(?:[.,][0-9]+)?)\s*(?P<u2>mm|cm|in|\")\)?"
)


@lru_cache(maxsize=4096)  # every row asks for its placement by names that are compared with all on file
def fold_name(name: str) -> str:
    """A name as compared: small letters, without spaces, hyphens and underscores."""
    return re.sub(r"[\s_-]+", "", name.casefold())


def explain_name_trap(name: str) -> str:
    """Why a bare name cannot be taken without a size, or nothing."""
    return _TRAPS.get(fold_name(name), "")


def make_custom_name(text: str) -> str | None:
    """The custom name of a paper given by its size, words allowed: `13x19in`, `A3+ 329x483mm`; else None."""
    match = _SIZED.fullmatch(text.strip().casefold()) if len(text) <= LONGEST_NAME else None
    if match is None:
        return None
    unit = _find_shared_unit(match["u1"], match["u2"])
    if unit is None:
        return None
    scale = 10 if unit == "cm" else 1
    width, height = (_format_dimension(Fraction(match[side].replace(",", ".")) * scale) for side in ("w", "h"))
    shown_unit = "in" if unit == "in" else "mm"
    label = re.sub(r"[^a-z0-9]+", "-", match["label"].replace("+", "-plus")).strip("-")
    label = label or f"{width}x{height}{shown_unit}"
    return f"custom_{label}_{width}x{height}{shown_unit}"


def _find_shared_unit(first: str | None, second: str) -> str | None:
    """The one unit of a size; two different ones are no size."""
    units = {"in" if u == '"' else u for u in (first, second) if u}
    return units.pop() if len(units) == 1 else None


def _format_dimension(number: Fraction) -> str:
    """A dimension as the grammar requires: no zeros in front or behind."""
    return f"{float(number):.6f}".rstrip("0").rstrip(".")
