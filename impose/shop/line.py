"""One record of a batch to one row, cell by cell, with every fault noted."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Literal, TypeVar

from impose.errors import Exit, Finding, Severity
from impose.shop import cells
from impose.shop.artpath import ArtError, ArtRoot
from impose.shop.cloth import WHITE_POLYESTER, Cloth
from impose.shop.garment import Garment, Reading
from impose.shop.headings import Column
from impose.shop.kits import KitError, Kits, check_places
from impose.shop.orders import Blanks, Row
from impose.shop.placement import Placement, borrowed
from impose.shop.profiles import Profiles
from impose.shop.styles import Style, StyleError, parse_style
from impose.shop.tables import did_you_mean
from impose.shop.tally import Remedy, Tally
from impose.shop.text import Record

T = TypeVar("T")

_PNG = "Write the path of its PNG."

DEFAULT_STYLE = "plain"
MOST_LINES = 4
MOST_LETTERS = 200


@dataclass(slots=True)
class Context:
    """What all lines of a file share: profiles, artwork, columns, what blanks mean, and the tally.

    `refused` are the rows that cannot be taken; `nameless` those among them whose order is not known either.
    """

    profiles: Profiles
    art: ArtRoot
    ours: dict[str, Column]
    others: list[Column]
    units: Literal["mm", "in"] | None
    blanks: Blanks
    kinds: frozenset[str] | None
    tally: Tally
    kits: Kits | None = None
    _readings: dict[str, Reading] = field(default_factory=dict)
    _cloths: dict[tuple[str, str], Cloth] = field(default_factory=dict)
    _placements: dict[str, Placement | None] = field(default_factory=dict)
    refused: set[int] = field(default_factory=set)
    nameless: set[int] = field(default_factory=set)

    def garment(self, text: str) -> Reading:
        """A garment's text, read once for all rows."""
        if text not in self._readings:
            self._readings[text] = self.profiles.wardrobe.read(text)
        return self._readings[text]

    def cloth(self, fibre: str, colour: str) -> Cloth:
        """A cloth, read once for all rows. Raises `ValueError` where its shares are impossible."""
        key = (fibre, colour)
        if key not in self._cloths:
            self._cloths[key] = self.profiles.wardrobe.cloth_words.read(fibre, colour)
        return self._cloths[key]

    def placement(self, text: str) -> Placement | None:
        """A placement's name, looked up once for all rows."""
        if text not in self._placements:
            self._placements[text] = self.profiles.find_placement(text)
        return self._placements[text]

    def refuse(self, line: int, order_known: bool = True) -> None:
        """Count a row among the refused."""
        self.refused.add(line)
        if not order_known:
            self.nameless.add(line)


class Line:
    """One record being read; every fault is noted, and a stand-in value lets reading go on to the next."""

    def __init__(self, context: Context, record: Record) -> None:
        self._context, self._cells, self._line = context, record.cells, record.line
        self._dates = record.dates

    def kit_row(self) -> tuple[Row, str]:
        """A print of a kit, with its garment cell: whose it is, and the size that hangs on that, is not known yet."""
        return self.row(judged=False), self._text("garment")

    def row(self, judged: bool = True) -> Row:
        """The row; after a fault it is among the refused, and only its number and order are of use.

        Without `judged` nothing is said of garment and size.
        """
        blanks = self._context.blanks
        order = self._read("order", cells.read_order, "")
        words, style = self._words()
        if not judged:
            self._check_places(words)
        art, path = self._art() if not words else self._called(words, style)
        placement = self._placement()
        width, height = self._length("width"), self._length("height")
        if width is None and height is None:
            width, height = blanks.width_mm, blanks.height_mm
        garment = self._garment() if judged else self._context.garment("").garment
        if judged and (style is None or not style.letters_said):
            self._sized(placement, garment, width, height)
        return Row(
            row=self._line,
            order=order,
            wearer=self._text("wearer"),
            art=art,
            path=path,
            placement=placement.name if placement else None,
            garment=garment,
            copies=self._read("copies", cells.read_copies, 1 if blanks.copies is None else blanks.copies),
            width_mm=width,
            height_mm=height,
            tear=self._read("tear", lambda text: cells.read_tear(text, self._bare("tear")), None),
            centre=self._read("centre", cells.read_centre, "ink"),
            may_turn=self._read("may_turn", cells.read_yes, True),
            accept=self._read("accept", lambda text: cells.read_accept(text, self._context.kinds), frozenset()),
            note=self._text("note"),
            extra=self._extra(),
            words=words,
            font=self._text("font") if words else "",
            style=style,
            letters_mm=style.letter_height_mm if style and style.letters_said else None,
            cloth=self._cloth(),
        )

    def _check_places(self, words: str) -> None:
        try:
            check_places(words)
        except KitError as error:
            self._fault("words", error.what, error.remedy, words, "bad-kit")

    def _cloth(self) -> Cloth:
        """The cloth that the row names."""
        fibre, colour = self._text("cloth"), self._text("cloth_colour")
        if not fibre and not colour:
            return WHITE_POLYESTER
        try:
            return self._context.cloth(fibre, colour)
        except ValueError as error:
            self._fault("cloth", str(error), "Write shares that make 100 %, as on the label.", fibre, "bad-cloth")
            return WHITE_POLYESTER

    def _fault(
        self, column: str, what: str, remedy: Remedy, read: str | None, kind: str, code: Exit = Exit.REFUSED
    ) -> None:
        self._context.refuse(self._line, order_known=column != "order")
        self._context.tally.stop(self._line, self._heading(column), what, remedy, read, kind, code)

    def _note(self, column: str, what: str, remedy: str, kind: str, severity: Severity = Severity.NOTE) -> None:
        finding = Finding(what, remedy, severity, kind, column=self._heading(column))
        self._context.tally.share(self._line, finding)

    def _heading(self, name: str) -> str:
        column = self._context.ours.get(name)
        return column.heading if column else name

    def _raw(self, name: str) -> str:
        column = self._context.ours.get(name)
        return self._cells[column.index].strip() if column else ""

    def _is_date(self, name: str) -> bool:
        column = self._context.ours.get(name)
        return name != "note" and column is not None and column.index in self._dates

    def _text(self, name: str) -> str:
        """A cell of ours, cleaned; damage is noted as a fault and reads as blank."""
        return self._cleaned(name, self._raw(name))

    def _cleaned(self, name: str, raw: str) -> str:
        if self._is_date(name):
            what = "a date: a spreadsheet makes one of what looks like it, such as 1-2 or 8-1/4"
            remedy = "Set the column to text in the spreadsheet and enter the cell again."
            self._fault(name, what, remedy, raw, "damaged-cell")
            return ""
        inner = cells.unwrapped(raw)
        if inner is not None:
            self._note(name, 'the wrapper ="…" of a spreadsheet was taken off', "", "unwrapped")
            raw = inner
        try:
            return cells.cleaned(raw)
        except cells.CellError as error:
            self._fault(name, error.what, error.remedy, raw, "damaged-cell")
            return ""

    def _read(self, name: str, reader: Callable[[str], T], blank: T) -> T:
        """A cell of ours read by `reader`; the value for blank where it is blank or faulty."""
        text = self._text(name)
        if not text:
            return blank
        try:
            return reader(text)
        except cells.CellError as error:
            self._fault(name, error.what, error.help, text, f"bad-{name.replace('_', '-')}")
            return blank

    def _bare(self, name: str) -> Literal["mm", "cm", "in"] | None:
        column = self._context.ours.get(name)
        unit = column.unit if column else None
        return unit if unit in ("mm", "cm", "in") else self._context.units

    def _length(self, name: str) -> float | None:
        return self._read(name, lambda text: cells.read_length(text, self._bare(name)), None)

    def _art(self) -> tuple[str, Path]:
        """The artwork as written and where it lies."""
        text = self._raw("art")
        if not text:
            if not self._raw("words") and {"art", "kit"} & set(self._context.ours):
                remedy = "Write the path of its PNG, or words, or a kit." if "kit" in self._context.ours else _PNG
                self._fault("art", "no artwork is named", remedy, None, "art-missing")
            return "", self._context.art.root
        try:
            cells.cleaned(text)
            return text, self._context.art.find(text)
        except cells.CellError as error:
            self._fault("art", error.what, error.remedy, text, "damaged-cell")
        except ArtError as error:
            self._fault("art", error.what, error.help, text, error.kind, error.code)
        return text, self._context.art.root

    def _words(self) -> tuple[str, Style | None]:
        """The words to be set, line by line, and their style; a font without words is a slip."""
        font = self._text("font")
        raw = self._raw("words")
        if not raw:
            self._without_words(font)
            return "", None
        lines = [self._cleaned("words", line) for line in re.split(r"\r\n|[\r\n\v\x85\u2028\u2029]", raw)]
        words = "\n".join(line for line in lines if line)
        if words.count("\n") >= MOST_LINES or len(words) > MOST_LETTERS:
            remedy = f"Write at most {MOST_LINES} lines and {MOST_LETTERS} letters; draw longer texts as an artwork."
            self._fault("words", "too long to be set as words", remedy, words, "words")
        if self._raw("art"):
            self._fault("words", "words and an artwork too", "A row is one or the other; use two rows.", words, "words")
        try:
            style = parse_style(font or DEFAULT_STYLE, self._context.profiles.lettering, self._context.units)
            if style.is_file and not style.folder:
                style = replace(style, folder=str(self._context.art.find(style.font)))
        except StyleError as error:
            self._fault("font", error.what, error.remedy, font, "bad-font")
            return words, None
        except ArtError as error:
            self._fault("font", error.what, error.remedy, font, "bad-font", error.code)
            return words, None
        style = self._with_letters(style)
        if style.arc and "\n" in words:
            self._fault("words", "two lines along an arc", "Give each line a row of its own.", words, "words")
        return words, style

    def _without_words(self, font: str) -> None:
        """A font or a height of letters without words is a slip, and so is a row of nothing."""
        remedy = "Write the words, or clear the cell."
        if font:
            self._fault("font", "a font, but no words to set in it", remedy, font, "words")
        elif self._text("letters"):
            self._fault("letters", "a height of letters, but no words to set", remedy, self._text("letters"), "words")
        elif "words" in self._context.ours and "art" not in self._context.ours:
            self._fault("words", "no words are written", "Write them, or take the row out.", None, "words")

    def _with_letters(self, style: Style) -> Style:
        """The style with the height of letters that the row's own column gives."""
        letters = self._length("letters")
        if letters is None:
            return style
        if style.letters_said:
            what = "the height of the letters is given here and in font too"
            self._fault("letters", what, "Clear one of the two.", self._text("letters"), "bad-letters")
        return replace(style, letter_height_mm=letters, letters_said=True)

    def _called(self, words: str, style: Style | None) -> tuple[str, Path]:
        """What stands for the name of an artwork, where there is none."""
        return f"words “{words.replace(chr(10), ' / ')}”{f' ({style.name})' if style else ''}", self._context.art.root

    def _placement(self) -> Placement | None:
        profiles = self._context.profiles
        text = self._text("placement") or self._context.blanks.placement
        if not text:
            return None
        found = self._context.placement(text)
        if found is None:
            slug = "-".join(text.casefold().replace("_", " ").replace("-", " ").split())
            self._fault(
                "placement",
                "not a placement on file",
                lambda: did_you_mean(slug, profiles.placements),
                text,
                "bad-placement",
            )
        return found

    def _garment(self, text: str | None = None) -> Garment:
        text = self._text("garment") if text is None else text
        reading = self._context.garment(text)
        if not text:
            self._note(
                "garment", f"no garment is named; taken as {self._named(reading.garment)}", "", "garment-assumed"
            )
        elif reading.fault:
            remedy = "Name one kind, one group and one size, such as “hoodie youth M”."
            self._fault("garment", reading.fault, remedy, text, "bad-garment")
        lacks = () if reading.fault else self._context.profiles.wardrobe.lacks(reading.garment)
        if lacks:
            what = f"{self._named(reading.garment)} is not known to come in {reading.garment.size}"
            remedy = f"Known are {', '.join(lacks)}; accept size-lacking if you have it."
            self._note("garment", what, remedy, "size-lacking", Severity.WARN)
        return reading.garment

    def _sized(self, placement: Placement | None, garment: Garment, width: float | None, height: float | None) -> None:
        """Whether the size is known, and from what; a placement's depends on the garment."""
        if width is not None or height is not None:
            return
        if placement is None:
            if not self._faulty("placement", "width", "height"):
                what = "neither a placement nor a width nor a height"
                self._fault("placement", what, "Give one of the three.", None, "no-size")
            return
        found = placement.size_for(garment, self._context.profiles.wardrobe)
        if found is None:
            what = f"no size is known for {placement.title} on {self._named(garment)}"
            self._fault("width", what, "Measure the garment and give a width.", None, "no-size")
        else:
            self._say_assumed(placement, garment, found[1])

    def _named(self, garment: Garment) -> str:
        """Group and kind in words."""
        wardrobe = self._context.profiles.wardrobe
        return f"{wardrobe.groups[garment.group].title} {wardrobe.kinds[garment.kind].title}"

    def _faulty(self, *names: str) -> bool:
        """Whether any of these cells has text, so that its own fault has been told."""
        return any(self._raw(name) for name in names)

    def _say_assumed(self, placement: Placement, garment: Garment, key: str) -> None:
        """What was taken for granted about the garment, where a size hangs on it."""
        reading, taken = self._context.garment(garment.text), self._named(garment)
        if reading.fault:
            return
        if reading.unknown and not reading.group_named:
            what = f"“{' '.join(reading.unknown)}” is not understood and no group is named; taken as {taken}"
            self._note("garment", what, "Name adult, youth or toddler.", "garment-assumed", Severity.WARN)
        if borrowed(key, garment, self._context.profiles.wardrobe):
            self._say_borrowed(placement, garment, key)

    def _say_borrowed(self, placement: Placement, garment: Garment, key: str) -> None:
        """A figure made for another garment; where that is a larger one, it may well be too large."""
        wardrobe = self._context.profiles.wardrobe
        what = f"{placement.title} on {self._named(garment)}: no figure of its own, so that of {key} is taken"
        owner = next((name for name in wardrobe.groups if name in key.split(" ")), garment.group)
        own, other = wardrobe.figure(garment.group), wardrobe.figure(owner)
        if own is not None and other is not None and own.width < other.width:
            name = f"{garment.kind} {garment.group}"
            remedy = (
                "Measure one and give a width; or enter your own figure once, such as: "
                f'impose profiles --enter {placement.name} "{name}" width 9in'
            )
            self._note("garment", f"{what}, which was made for larger ones", remedy, "size-borrowed", Severity.WARN)
        else:
            self._note("garment", what, "Give a width for another.", "size-borrowed")

    def _extra(self) -> tuple[tuple[str, str], ...]:
        """The cells of columns that are not ours, as they are but for surrounding space."""
        pairs: list[tuple[str, str]] = []
        ours = self._context.ours
        # Without a kit a name or a number is put into nothing, but whoever presses may need it.
        lone = [] if self._raw("kit") else [ours[name] for name in ("name", "number") if name in ours]
        for column in (*self._context.others, *lone):
            text = " ".join(self._cells[column.index].split())
            if "\0" in text:
                what, remedy = "a control character, U+0000", "Clear the cell or export the file again."
                self._context.refuse(self._line)
                self._context.tally.stop(self._line, column.heading, what, remedy, text, "damaged-cell")
            elif text:
                pairs.append((column.heading, text))
        return tuple(pairs)
