"""How many blank garments are bought beyond those needed."""

from __future__ import annotations

import re
from fractions import Fraction

from impose.profiles.toml_tables import TomlTable
from impose.values import FrozenStruct

_WRITTEN = re.compile(r"(?P<count>[0-9]{1,3}) a (?P<each>run|size)|(?P<percent>[0-9]{1,3}(?:\.[0-9]{1,2})?) ?%")


class BlankSpares(FrozenStruct):
    """So many for each run (one kind, cut and colour, whatever the sizes) or for each size, or a share of a run.

    `text` is as the shop writes it: "1 a run", "1 a size", "5 %" or "none".
    """

    text: str
    count: int = 0
    share: Fraction = Fraction(0)
    by_size: bool = False

    def __str__(self) -> str:
        return self.text

    def count_spares(self, needed: int) -> int:
        """The spares for so many garments; a share is rounded up."""
        return self.count + -(-self.share.numerator * needed // self.share.denominator) if needed else 0


def parse_spares(text: str) -> BlankSpares | None:
    """A rule as it is written; None where it says nothing that is known."""
    plain = " ".join(text.casefold().split())
    if plain in ("none", "0"):
        return BlankSpares("none")
    match = _WRITTEN.fullmatch(plain)
    if match is None or (match["percent"] and float(match["percent"]) > 100):
        return None
    if match["percent"]:
        return BlankSpares(plain, share=Fraction(match["percent"]) / 100)
    return BlankSpares(plain, int(match["count"]), by_size=match["each"] == "size")


def read_spares(table: TomlTable, key: str) -> BlankSpares:
    """The rule at a key of a table."""
    text = table.take_text(key)
    rule = parse_spares(text)
    if rule is None:
        remedy = "Write how many, such as 1 a run, 1 a size, 5 % or none."
        table.note_fault(key, "no number of spares", remedy, text)
        return BlankSpares("none")
    return rule
