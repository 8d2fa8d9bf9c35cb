"""Garments as people write them: "hoodie youth M", "Adult L", "YL", "2T", or nothing at all.

The group decides the size of a print, so a word that nearly says a group is refused rather than passed
over: "yuoth M" must not become an adult's print.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping

from impose.errors import quote_text
from impose.profiles.cloth import ClothWords
from impose.values import FrozenStruct, field, set_field


class Garment(FrozenStruct):
    """A kind ("hoodie"), a group ("youth"), a size ("M", may be empty) and the text they were read from."""

    kind: str
    group: str
    size: str
    text: str

    @property
    def rule_keys(self) -> tuple[str, str, str, str]:
        """Names under which a placement may hold a rule for it, the most particular first."""
        kind, group, size = self.kind, self.group, self.size
        return f"{kind} {group} {size}", f"{kind} {group}", f"{group} {size}", group


class GarmentFigure(FrozenStruct):
    """Measures of a usual garment of a group lying flat, in mm, for drawings alone: no print is sized by them.

    `width` from armpit to armpit, `length` from the highest point of the shoulder to the hem, `shoulders` from seam to
    seam; sleeves from the shoulder seam to hem or cuff, and how wide they lie flat at the upper arm.
    """

    width: float
    length: float
    shoulders: float
    short_sleeve: float
    short_sleeve_width: float
    long_sleeve: float
    long_sleeve_width: float
    source: str = ""


class GarmentKind(FrozenStruct):
    """A kind of garment: the words that name it, and the kind whose figures hold for it too.

    `scale_x` and `scale_y` are what a print is made larger by on paper, across the garment and along it, for what its
    cloth does in the press; None takes them from the kind it is like. `zip` says that a zip parts its front. `sizes`
    are those it comes in ("M", "adult M", "youth S"); without them nothing is known.
    """

    name: str
    title: str
    words: tuple[str, ...]
    like: str = ""
    note: str = ""
    scale_x: float | None = None
    scale_y: float | None = None
    zip: bool = False
    sizes: tuple[str, ...] = ()


class BodyGroup(FrozenStruct):
    """A body group: the words and sizes that name it, and the group whose figures hold where it has none."""

    name: str
    title: str
    words: tuple[str, ...]
    sizes: tuple[str, ...] = ()
    otherwise: str = ""
    note: str = ""
    figure: GarmentFigure | None = None
    smallest: GarmentFigure | None = None


class GarmentReading(FrozenStruct):
    """A garment read from text: what was understood, what was not, and why it is refused if it is."""

    garment: Garment
    unknown: tuple[str, ...] = ()
    group_named: bool = False
    fault: str = ""
    kind_named: bool = False


class GarmentCatalogue(FrozenStruct):
    """The garments on file in a shop, and the words for them."""

    kinds: Mapping[str, GarmentKind]
    groups: Mapping[str, BodyGroup]
    default_kind: str
    default_group: str
    cloth_words: ClothWords = field(default_factory=ClothWords)
    _phrases: dict[tuple[str, ...], tuple[str, str]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        phrases: dict[tuple[str, ...], tuple[str, str]] = {}
        for what, name, words in self._list_words():
            phrases.setdefault(tuple(_split_words(words)), (what, name))
        # Not added to what is there: `replace` hands a copy the words of the catalogue that it is a copy of.
        set_field(self, "_phrases", phrases)

    def _list_words(self) -> Iterator[tuple[str, str, str]]:
        for kind in self.kinds.values():
            for phrase in (kind.name, *kind.words):
                yield "kind", kind.name, phrase
        for group in self.groups.values():
            for phrase in (group.name, *group.words):
                yield "group", group.name, phrase
            for size in group.sizes:
                yield "size", size, size

    def find_figure(self, group: str, smallest: bool = False) -> GarmentFigure | None:
        """The measures that a group is drawn by: its own, or those of the group it falls back to.

        With `smallest` those of its smallest size, where they are known.
        """
        seen: set[str] = set()
        while group in self.groups and group not in seen:
            seen.add(group)
            own = self.groups[group]
            found = (own.smallest if smallest else None) or own.figure
            if found is not None:
                return found
            group = self.groups[group].otherwise
        return None

    def find_cloth_allowance(self, kind: str) -> tuple[float, float]:
        """What is allowed for a kind's cloth, across and along: its own figures, or those of the kind it is like."""
        found = [self.kinds[name] for name in self.list_kind_lineage(kind) if name in self.kinds]
        across = next((allowance.scale_x for allowance in found if allowance.scale_x is not None), 1.0)
        return across, next((allowance.scale_y for allowance in found if allowance.scale_y is not None), 1.0)

    def has_zip(self, kind: str) -> bool:
        """Whether a zip parts the front of a kind."""
        return any(self.kinds[name].zip for name in self.list_kind_lineage(kind) if name in self.kinds)

    def list_other_sizes(self, garment: Garment) -> tuple[str, ...]:
        """The sizes that a garment comes in, if the one it is wanted in is not among them; nothing where none is known.

        Those of its kind go first; a group's own sizes are the next best.
        """
        if not garment.size:
            return ()
        of_kind = next(
            (
                self.kinds[n].sizes
                for n in self.list_kind_lineage(garment.kind)
                if n in self.kinds and self.kinds[n].sizes
            ),
            (),
        )
        group = self.groups.get(garment.group)
        known = of_kind or (group.sizes if group else ())
        names = {garment.size.casefold(), f"{garment.group} {garment.size}".casefold()}
        return () if not known or names & {size.casefold() for size in known} else known

    def list_kind_lineage(self, kind: str) -> list[str]:
        """A kind and the kinds it is like, nearest first."""
        names: list[str] = []
        while kind and kind not in names:
            names.append(kind)
            kind = self.kinds[kind].like if kind in self.kinds else ""
        return names

    def read_garment(self, text: str) -> GarmentReading:
        """The garment that `text` names; blank means the default kind and group."""
        found: dict[str, list[str]] = {"kind": [], "group": [], "size": []}
        unknown: list[str] = []
        words = _split_words(text)
        while words:
            what, name, taken = self._find_longest_match(words)
            (found[what] if what else unknown).append(name)
            words = words[taken:]
        return self._judge_reading(text, found, unknown)

    def _find_longest_match(self, words: list[str]) -> tuple[str, str, int]:
        """The longest run of words at the front that means something: what, its name, how many words."""
        for count in range(min(4, len(words)), 0, -1):
            hit = self._phrases.get(tuple(words[:count]))
            if hit:
                return *hit, count
            size = _read_size("".join(words[:count])) if count == 1 or _are_one_size(words[:count]) else ""
            if size:
                return "size", size, count
        return "", words[0], 1

    def _judge_reading(self, text: str, found: Mapping[str, list[str]], unknown: list[str]) -> GarmentReading:
        kinds, groups, sizes = (list(dict.fromkeys(found[what])) for what in ("kind", "group", "size"))
        coded = None if sizes else self._read_size_code(unknown)
        if coded:
            word, owner, size = coded
            groups, sizes, unknown = [*groups, owner], [size], [w for w in unknown if w != word]
        ages = [word for word in unknown if re.fullmatch("[0-9]{1,3}", word)]
        if groups and ages and not sizes:
            sizes, unknown = ["-".join(ages)], [word for word in unknown if word not in ages]
        size = sizes[0] if sizes else ""
        # A kind and one that is like it are one kind, the more particular: “hoodie, adult M, zip”.
        kinds = [kind for kind in kinds if not any(kind in self.list_kind_lineage(other)[1:] for other in kinds)]
        group = self._choose_group(groups, size) or self.default_group
        kind = kinds[0] if kinds else self.default_kind
        fault = _describe_conflict(kinds, list(dict.fromkeys(groups)), sizes) or self._find_misspelling(unknown)
        return GarmentReading(
            Garment(kind, group, size, " ".join(text.split())), tuple(unknown), bool(groups), fault, bool(kinds)
        )

    def _choose_group(self, groups: list[str], size: str) -> str:
        """The group named, or the one whose own sizes hold the size; an adult's 3XL is a plus size."""
        holders = [g.name for g in self.groups.values() if size and size in g.sizes]
        if groups:
            named = self.groups[groups[0]]
            wider = [name for name in holders if self.groups[name].otherwise == named.name]
            return wider[0] if wider else named.name
        return holders[0] if holders else ""

    def _read_size_code(self, words: Iterable[str]) -> tuple[str, str, str] | None:
        """A group's letter and a size run together, as in YL or AM: the word, the group and the size."""
        for word in words:
            match = re.fullmatch(r"([a-z])((?:x{0,3}[sml])|[2-6]xl?)", word)
            owners = [g.name for g in self.groups.values() if match and match[1] in g.words]
            if match and owners:
                return word, owners[0], _read_size(match[2])
        return None

    def _find_misspelling(self, unknown: Iterable[str]) -> str:
        """A word that is nearly the name of a kind or group: refused, since it may decide the size."""
        from difflib import get_close_matches  # loaded late: most batches have nothing that is nearly a word

        whole = sorted(phrase[0] for phrase in self._phrases if len(phrase) == 1 and len(phrase[0]) > 3)
        parts = {word for phrase in self._phrases for word in phrase}
        for word in unknown:
            near = get_close_matches(word, whole, 1, 0.8) if len(word) > 3 and word not in parts else []
            if near:
                return f"{quote_text(word)} is not a word for a garment; {quote_text(near[0])} is"
        return ""


def _split_words(text: str) -> list[str]:
    """Words of a garment text: small letters; spaces, commas, hyphens, slashes and brackets part them."""
    plain = re.sub(r"['’]", "", text.casefold())
    return [w for w in re.split(r"[\s,;/()\[\]_\-–—.]+", plain) if w]


_NAMED_SIZES = {
    "xsmall": "XS", "extrasmall": "XS", "small": "S", "sm": "S", "medium": "M", "med": "M", "large": "L",
    "lg": "L", "xlarge": "XL", "extralarge": "XL", "xxlarge": "2XL", "xxxlarge": "3XL",
}  # fmt: skip


def _read_size(word: str) -> str:
    """The size a word names, in one spelling (XXL and 2X are 2XL), or nothing."""
    if word in _NAMED_SIZES:
        return _NAMED_SIZES[word]
    if match := re.fullmatch(r"(x{0,6})([sml])", word):
        exes, letter = len(match[1]), match[2].upper()
        return letter if not exes else f"{exes if exes > 1 else ''}X{letter}"
    if match := re.fullmatch(r"([1-9])xl?", word):
        return "XL" if match[1] == "1" else f"{match[1]}XL"
    return word.upper() if re.fullmatch(r"[1-9][0-9]?[tm]|nb", word) else ""


def _are_one_size(words: list[str]) -> bool:
    """Whether two words can be one size: extra large and 2 XL are, S M is two."""
    return len(words) == 2 and bool(re.fullmatch(r"x{1,5}|extra|[1-9]", words[0])) and words[1] != "m"


def _describe_conflict(kinds: list[str], groups: list[str], sizes: list[str]) -> str:
    """Two answers to one question."""
    for what, names in (("kinds", kinds), ("groups", groups), ("sizes", sizes)):
        if len(names) > 1:
            return f"two {what} are named, {names[0]} and {names[1]}"
    return ""
