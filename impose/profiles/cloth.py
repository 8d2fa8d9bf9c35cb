"""What a garment is made of: fibres with their shares, and the colour of the cloth, from the words people write.

Dye-sublimation colours polyester alone and can only darken what is there, so both decide whether a print can hold and
what it looks like. Whatever is not said is taken as white polyester, and told as such.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import takewhile
from typing import Literal

from impose.values import FrozenStruct, field

Shade = Literal["white", "light", "dark"]
SHADES: tuple[Shade, ...] = ("white", "light", "dark")

_PARTS = {
    "sleeve": "sleeves", "sleeves": "sleeves", "raglan": "sleeves", "arms": "sleeves", "hood": "hood",
    "lining": "lining", "lined": "lining", "collar": "collar", "ribs": "ribs", "rib": "ribs", "cuffs": "ribs",
    "cuff": "ribs", "panels": "panels", "panel": "panels", "sides": "panels", "trim": "trim", "piping": "trim",
}  # fmt: skip
_DYED = frozenset({"contrast", "contrasting", "coloured", "colored", "dyed"})  # of a colour that is not said
_FILLERS = frozenset({"with", "and", "in", "body", "the", "of"})
_WORD = re.compile(r"[^\W_]+", re.UNICODE)
_NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")


class Fibre(FrozenStruct):
    """A fibre: the words for it, whether the dye enters it, and whether it melts at press temperatures."""

    name: str
    title: str
    words: tuple[str, ...] = ()
    dye: bool = False
    melts: bool = False


class Cloth(FrozenStruct):
    """The cloth of a garment as it was said, and what was understood.

    `text` and `colour` are the customer's words, empty where nothing was said. `shares` are the fibres with their parts
    in per cent, None where a blend does not say them. `shades` are the colours of the garment's parts, "body" first;
    `unknown` are the words that are on no list.
    """

    text: str = ""
    colour: str = ""
    shares: tuple[tuple[str, float | None], ...] = (("polyester", 100.0),)
    shades: tuple[tuple[str, Shade], ...] = (("body", "white"),)
    unknown: tuple[str, ...] = ()
    unknown_colour: tuple[str, ...] = ()

    @property
    def said(self) -> bool:
        """Whether anything was said of it."""
        return bool(self.text or self.colour)

    @property
    def shade(self) -> Shade:
        """The colour of the body."""
        return self.shade_of("body")

    def shade_of(self, part: str) -> Shade:
        """The colour of a part, that of the body where it has none of its own."""
        shades = dict(self.shades)
        return shades.get(part, shades.get("body", "white"))

    @property
    def dyed(self) -> tuple[str, ...]:
        """The parts that are not white, but for the body."""
        return tuple(part for part, shade in self.shades if part != "body" and shade != "white")

    @property
    def words(self) -> str:
        """One line for a ticket: what was said, or what was taken for granted."""
        if not self.said:
            return "assumed white polyester"
        colour = self.colour or "white (assumed)"
        return f"{colour} {self.text or 'polyester (assumed)'}"


WHITE_POLYESTER = Cloth()


class ClothWords(FrozenStruct):
    """The lists of a shop: fibres by name, and the words for the colours of cloth."""

    fibres: Mapping[str, Fibre] = field(default_factory=dict)
    shades: Mapping[Shade, tuple[str, ...]] = field(default_factory=dict)

    def read_cloth(self, text: str, colour: str) -> Cloth:
        """The cloth that the two cells name. Raises `ValueError` where the shares make more than 100 per cent."""
        shares, unknown = self._read_fibres(text)
        shades, unknown_colour = self._read_colours(colour)
        return Cloth(" ".join(text.split()), " ".join(colour.split()), shares, shades, unknown, unknown_colour)

    def _read_fibres(self, text: str) -> tuple[tuple[tuple[str, float | None], ...], tuple[str, ...]]:
        """Fibres in the order of the text, each with the share that stands before or after it.

        Shares in a row belong to as many names in a row, in their order: 65/35 polyester/cotton, polycotton 65/35.
        """
        found: dict[str, float | None] = {}
        unknown: list[str] = []
        numbers: list[float] = []
        blank: list[str] = []
        behind = re.match(r"\s*[0-9]", text) is None  # as in “polyester 80, cotton 20”: then no number comes first
        words = list(_split_tokens(text))
        while words:
            names, taken = self._find_fibres(words)
            word, words = words[0], words[taken:]
            if _NUMBER.fullmatch(word):
                row = [word, *takewhile(_NUMBER.fullmatch, words)]
                words = words[len(row) - 1 :]
                numbers += (float(number.replace(",", ".")) for number in row)
                if behind:
                    for name in blank[-len(numbers) :]:
                        found[name] = numbers.pop(0)
                    blank.clear()
                continue
            for name in names:
                found[name] = numbers.pop(0) if numbers else found.get(name)
                blank += [name] if found[name] is None else []
            if not names and word not in _FIBRE_FILLERS:
                unknown.append(word)
        _give_rest(found, numbers)
        total = sum(share or 0.0 for share in found.values())
        if total > 100.5:
            raise ValueError(f"the shares make {total:g} %")
        return tuple(found.items()) or WHITE_POLYESTER.shares, tuple(unknown)

    def _find_fibres(self, words: Sequence[str]) -> tuple[tuple[str, ...], int]:
        """The fibres at the front of some words, the longest name that is listed, and how many words it takes."""
        for count in range(min(3, len(words)), 0, -1):
            phrase = " ".join(words[:count])
            for fibre in self.fibres.values():
                if phrase in (fibre.name, *fibre.words):
                    return (fibre.name,), count
        return self._part_word(words[0]), 1

    def _part_word(self, word: str) -> tuple[str, ...]:
        """The two fibres of a word such as “polycotton”; none of another."""
        for known in self.fibres.values():
            for start in (known.name, *known.words):
                rest = word.removeprefix(start)
                other = next((f.name for f in self.fibres.values() if rest == f.name), "")
                if rest != word and len(start) > 2 and other:
                    return known.name, other
        return ()

    def _read_colours(self, text: str) -> tuple[tuple[tuple[str, Shade], ...], tuple[str, ...]]:
        """The colour of the body, then of the parts that are named after a colour of their own."""
        words = _WORD.findall(text.casefold())
        shades: dict[str, Shade] = {}
        unknown: list[str] = []
        last: Shade | None = None
        while words:
            shade, taken = self._read_shade(words)
            if shade is not None:
                if last is not None:
                    shades.setdefault("body" if "body" not in shades else "trim", last)
                last = shade
            elif words[0] in _DYED:
                if last is None or "body" not in shades:
                    shades.setdefault("body", last or "white")
                    last = "dark"
            elif words[0] in _PARTS and last is not None:
                shades[_PARTS[words[0]]] = last
                last = None
            elif words[0] in _PARTS:
                shades.setdefault(_PARTS[words[0]], "dark")
            elif words[0] not in _FILLERS:
                unknown.append(words[0])
            words = words[taken:]
        if last is not None:
            shades.setdefault("body" if "body" not in shades else "trim", last)
        body = shades.pop("body", "white")
        return (("body", body), *shades.items()), tuple(unknown)

    def _read_shade(self, words: list[str]) -> tuple[Shade | None, int]:
        """The colour at the front of some words, the longest that is listed, and how many words it takes."""
        for count in range(min(3, len(words)), 0, -1):
            phrase = " ".join(words[:count])
            for shade in SHADES:
                if phrase in self.shades.get(shade, ()):
                    return shade, count
        return None, 1


_FIBRE_FILLERS = frozenset(
    {
        "and",
        "with",
        "blend",
        "mix",
        "of",
        "pure",
        "all",
        "recycled",
        "fabric",
        "fibre",
        "fiber",
        "microfibre",
        "microfiber",
        "fleece",
        "brushed",
        "knit",
        "jersey",
        "interlock",
        "mesh",
        "tricot",
    }
)


def _split_tokens(text: str) -> Iterator[str]:
    """Numbers and words of a fibre text; per cent signs and separators part them."""
    yield from re.findall(r"[0-9]+(?:[.,][0-9]+)?|[^\W\d_]+", text.casefold())


def _give_rest(found: dict[str, float | None], numbers: list[float]) -> None:
    """A lone fibre is all of the cloth unless it says less; shares in a row, as in 65/35, are dealt in order."""
    for name in found:
        if found[name] is None and numbers:
            found[name] = numbers.pop(0)
    if len(found) == 1:
        name = next(iter(found))
        found[name] = 100.0 if found[name] is None else found[name]
    blank = [name for name, share in found.items() if share is None]
    if len(blank) == 1 and len(found) > 1:
        found[blank[0]] = max(0.0, 100.0 - sum(share or 0.0 for share in found.values()))
