"""One record of a batch to one row, cell by cell, with every fault noted."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Literal, TypeVar

from impose.errors import Exit, Finding, Severity, quote_text
from impose.orders import cells
from impose.orders.art_root import ArtError
from impose.orders.batch import BatchRow
from impose.orders.csv_text import TableRecord
from impose.orders.findings_log import RemedySource
from impose.orders.kits import KitError, check_places
from impose.orders.reading_context import ReadingContext
from impose.profiles.cloth import WHITE_POLYESTER, Cloth
from impose.profiles.garment import Garment
from impose.profiles.placement import PlacementOffset, PlacementRule, is_borrowed
from impose.profiles.toml_tables import suggest_word
from impose.profiles.word_styles import DEFAULT_STYLE, StyleError, WordStyle, parse_style
from impose.remedies import Remedy
from impose.values import replace

T = TypeVar("T")

_NAMED = "Write the path of its file."

MOST_LINES = 4
MOST_LETTERS = 200


class RowReader:
    """One record being read; every fault is noted, and a stand-in value lets reading go on to the next."""

    def __init__(self, context: ReadingContext, record: TableRecord) -> None:
        self._context, self._cells, self._line = context, record.cells, record.line
        self._dates = record.dates

    def kit_row(self) -> tuple[BatchRow, str]:
        """A print of a kit, with its garment cell: whose it is, and the size that hangs on that, is not known yet."""
        return self.read_row(judged=False), self._read_text("garment")

    def read_row(self, judged: bool = True) -> BatchRow:
        """The row; after a fault it is among the refused, and only its number and order are of use.

        Without `judged` nothing is said of garment and size.
        """
        blanks = self._context.blanks
        order = self._read_cell("order", cells.read_order, "")
        words, style = self._read_words()
        if not judged:
            self._check_places(words)
        (art, path), page = (self._name_words(words, style), None) if words else self._read_art()
        placement = self._read_placement()
        width, height = self._read_length("width"), self._read_length("height")
        if width is None and height is None:
            width, height = blanks.width_mm, blanks.height_mm
        garment = self._read_garment() if judged else self._context.read_garment("").garment
        if judged and (style is None or not style.letters_said):
            self._check_size_known(placement, garment, width, height)
        return BatchRow(
            row=self._line,
            order=order,
            wearer=self._read_text("wearer"),
            art=art,
            path=path,
            placement=placement.name if placement else None,
            garment=garment,
            copies=self._read_cell("copies", cells.read_copies, 1 if blanks.copies is None else blanks.copies),
            width_mm=width,
            height_mm=height,
            tear=self._read_cell("tear", lambda text: cells.read_tear(text, self._bare_unit("tear")), None),
            centre=self._read_cell("centre", cells.read_centre, "ink"),
            may_turn=self._read_cell("may_turn", cells.read_yes_or_no, True),
            accept=self._read_cell(
                "accept", lambda text: cells.read_accept(text, self._context.kinds), cells.share_words(frozenset())
            ),
            note=self._read_text("note"),
            extra=self._read_extra_cells(),
            words=words,
            font=self._read_text("font") if words else "",
            style=style,
            letters_mm=style.letter_height_mm if style and style.letters_said else None,
            cloth=self._read_cloth(),
            page=page,
            mend=self._read_mend(words),
            drop=self._read_offset("drop", placement),
            across=self._read_offset("across", placement),
            recolour=self._read_cell("recolour", cells.read_recolour, ()),
        )

    def _check_places(self, words: str) -> None:
        try:
            check_places(words)
        except KitError as error:
            self._note_fault("words", error.what, error.remedy, words, "bad-kit")

    def _read_cloth(self) -> Cloth:
        """The cloth that the row names."""
        fibre, colour = self._read_text("cloth"), self._read_text("cloth_colour")
        if not fibre and not colour:
            return WHITE_POLYESTER
        try:
            return self._context.read_cloth(fibre, colour)
        except ValueError as error:
            self._note_fault("cloth", str(error), "Write shares that make 100 %, as on the label.", fibre, "bad-cloth")
            return WHITE_POLYESTER

    def _note_fault(
        self, column: str, what: str, remedy: RemedySource, read: str | None, kind: str, code: Exit = Exit.REFUSED
    ) -> None:
        self._context.count_refused(self._line, order_known=column != "order")
        self._context.tally.add_stop(self._line, self._find_heading(column), what, remedy, read, kind, code)

    def _note_finding(self, column: str, what: str, remedy: str, kind: str, severity: Severity = Severity.NOTE) -> None:
        finding = Finding(what, remedy, severity, kind, column=self._find_heading(column))
        self._context.tally.add_shared(self._line, finding)

    def _find_heading(self, name: str) -> str:
        column = self._context.ours.get(name)
        return column.heading if column else name

    def _raw_cell(self, name: str) -> str:
        column = self._context.ours.get(name)
        return self._cells[column.index].strip() if column else ""

    def _is_date_cell(self, name: str) -> bool:
        column = self._context.ours.get(name)
        return name != "note" and column is not None and column.index in self._dates

    def _read_text(self, name: str) -> str:
        """A cell of ours, cleaned; damage is noted as a fault and reads as blank."""
        return self._clean_cell(name, self._raw_cell(name))

    def _clean_cell(self, name: str, raw: str) -> str:
        if self._is_date_cell(name):
            what = "a date: a spreadsheet makes one of what looks like it, such as 1-2 or 8-1/4"
            remedy = "Set the column to text in the spreadsheet and enter the cell again."
            self._note_fault(name, what, remedy, raw, "damaged-cell")
            return ""
        inner = cells.unwrap_formula(raw)
        if inner is not None:
            self._note_finding(name, 'the wrapper ="…" of a spreadsheet was taken off', "", "unwrapped")
            raw = inner
        try:
            return cells.clean_cell(raw)
        except cells.CellError as error:
            self._note_fault(name, error.what, error.remedy, raw, "damaged-cell")
            return ""

    def _read_cell(self, name: str, reader: Callable[[str], T], blank: T) -> T:
        """A cell of ours read by `reader`; the value for blank where it is blank or faulty."""
        text = self._read_text(name)
        if not text:
            return blank
        try:
            return reader(text)
        except cells.CellError as error:
            self._note_fault(name, error.what, error.help, text, f"bad-{name.replace('_', '-')}")
            return blank

    def _bare_unit(self, name: str) -> Literal["mm", "cm", "in"] | None:
        column = self._context.ours.get(name)
        unit = column.unit if column else None
        return unit if unit in ("mm", "cm", "in") else self._context.units

    def _read_length(self, name: str) -> float | None:
        return self._read_cell(name, lambda text: cells.read_length(text, self._bare_unit(name)), None)

    def _read_offset(self, name: str, placement: PlacementRule | None) -> PlacementOffset | None:
        """Where the print is measured to on the garment; without a placement nothing is measured."""
        found = self._read_cell(name, lambda text: cells.read_offset(text, self._bare_unit(name)), None)
        if found is not None and placement is None and not self._has_fault("placement"):
            what = "a distance on the garment, but no placement"
            self._note_fault(name, what, "Name the placement, or clear the cell.", self._read_text(name), f"bad-{name}")
            return None
        return found

    def _read_mend(self, words: str) -> frozenset[str]:
        """What is mended in the row's artwork; words have nothing to mend."""
        asked = self._read_cell("mend", cells.read_mend, frozenset[str]())
        if words:
            if asked:
                what = "something to mend, but words and no artwork"
                self._note_fault("mend", what, "Clear the cell.", self._read_text("mend"), "bad-mend")
            return cells.share_words(frozenset())
        return cells.share_words(asked | self._context.blanks.mend)

    def _read_art(self) -> tuple[tuple[str, Path], int | None]:
        """The artwork as written and where it lies, and the page that is named."""
        text = self._raw_cell("art")
        if not text:
            if not self._raw_cell("words") and {"art", "kit"} & set(self._context.ours):
                remedy = "Write the path of its file, or words, or a kit." if "kit" in self._context.ours else _NAMED
                self._note_fault("art", "no artwork is named", remedy, None, "art-missing")
            return ("", self._context.art.root), None
        try:
            cells.clean_cell(text)
            path, page = self._context.art.find_page(text)
            return (text, path), page
        except cells.CellError as error:
            self._note_fault("art", error.what, error.remedy, text, "damaged-cell")
        except ArtError as error:
            self._note_fault("art", error.what, error.help, text, error.kind, error.code)
        return (text, self._context.art.root), None

    def _read_words(self) -> tuple[str, WordStyle | None]:
        """The words to be set, line by line, and their style; a font without words is a slip."""
        font = self._read_text("font")
        raw = self._raw_cell("words")
        if not raw:
            self._check_no_words(font)
            return "", None
        lines = [self._clean_cell("words", line) for line in re.split(r"\r\n|[\r\n\v\x85\u2028\u2029]", raw)]
        words = "\n".join(line for line in lines if line)
        if words.count("\n") >= MOST_LINES or len(words) > MOST_LETTERS:
            remedy = f"Write at most {MOST_LINES} lines and {MOST_LETTERS} letters; draw longer texts as an artwork."
            self._note_fault("words", "too long to be set as words", remedy, words, "words")
        if self._raw_cell("art"):
            self._note_fault(
                "words", "words and an artwork too", "A row is one or the other; use two rows.", words, "words"
            )
        try:
            style = parse_style(font or DEFAULT_STYLE, self._context.profiles.lettering, self._context.units)
            if style.is_file and not style.folder:
                style = replace(style, folder=str(self._context.art.find_art(style.font)))
        except StyleError as error:
            self._note_fault("font", error.what, error.remedy, font, "bad-font")
            return words, None
        except ArtError as error:
            self._note_fault("font", error.what, error.remedy, font, "bad-font", error.code)
            return words, None
        style = self._add_letters(style)
        if style.arc and "\n" in words:
            self._note_fault("words", "two lines along an arc", "Give each line a row of its own.", words, "words")
        return words, style

    def _check_no_words(self, font: str) -> None:
        """A font or a height of letters without words is a slip, and so is a row of nothing."""
        remedy = "Write the words, or clear the cell."
        if font:
            self._note_fault("font", "a font, but no words to set in it", remedy, font, "words")
        elif self._read_text("letters"):
            self._note_fault(
                "letters", "a height of letters, but no words to set", remedy, self._read_text("letters"), "words"
            )
        elif "words" in self._context.ours and "art" not in self._context.ours:
            self._note_fault("words", "no words are written", "Write them, or take the row out.", None, "words")

    def _add_letters(self, style: WordStyle) -> WordStyle:
        """The style with the height of letters that the row's own column gives."""
        letters = self._read_length("letters")
        if letters is None:
            return style
        if style.letters_said:
            what = "the height of the letters is given here and in font too"
            self._note_fault("letters", what, "Clear one of the two.", self._read_text("letters"), "bad-letters")
        return replace(style, letter_height_mm=letters, letters_said=True)

    def _name_words(self, words: str, style: WordStyle | None) -> tuple[str, Path]:
        """What stands for the name of an artwork, where there is none."""
        return f"words “{words.replace(chr(10), ' / ')}”{f' ({style.name})' if style else ''}", self._context.art.root

    def _read_placement(self) -> PlacementRule | None:
        profiles = self._context.profiles
        text = self._read_text("placement") or self._context.blanks.placement
        if not text:
            return None
        found = self._context.find_placement(text)
        if found is None:
            slug = "-".join(text.casefold().replace("_", " ").replace("-", " ").split())
            self._note_fault(
                "placement",
                "not a placement on file",
                lambda: suggest_word(slug, profiles.placements),
                text,
                "bad-placement",
            )
        return found

    def _read_garment(self, text: str | None = None) -> Garment:
        text = self._read_text("garment") if text is None else text
        reading = self._context.read_garment(text)
        if not text:
            self._note_finding(
                "garment",
                f"no garment is named; taken as {self._describe_garment(reading.garment)}",
                "",
                "garment-assumed",
            )
        elif reading.fault:
            remedy = "Name one kind, one group and one size, such as “hoodie youth M”."
            self._note_fault("garment", reading.fault, remedy, text, "bad-garment")
        lacks = () if reading.fault else self._context.profiles.wardrobe.list_other_sizes(reading.garment)
        if lacks:
            what = f"{self._describe_garment(reading.garment)} is not known to come in {reading.garment.size}"
            remedy = f"Known are {', '.join(lacks)}; accept size-lacking if you have it."
            self._note_finding("garment", what, remedy, "size-lacking", Severity.WARN)
        return reading.garment

    def _check_size_known(
        self, placement: PlacementRule | None, garment: Garment, width: float | None, height: float | None
    ) -> None:
        """Whether the size is known, and from what; a placement's depends on the garment."""
        if width is not None or height is not None:
            return
        if placement is None:
            if not self._has_fault("placement", "width", "height"):
                what = "neither a placement nor a width nor a height"
                self._note_fault("placement", what, "Give one of the three.", None, "no-size")
            return
        found = placement.find_size(garment, self._context.profiles.wardrobe)
        if found is None:
            what = f"no size is known for {placement.title} on {self._describe_garment(garment)}"
            self._note_fault("width", what, "Measure the garment and give a width.", None, "no-size")
        else:
            self._note_assumed(placement, garment, found[1])

    def _describe_garment(self, garment: Garment) -> str:
        """Group and kind in words."""
        wardrobe = self._context.profiles.wardrobe
        return f"{wardrobe.groups[garment.group].title} {wardrobe.kinds[garment.kind].title}"

    def _has_fault(self, *names: str) -> bool:
        """Whether any of these cells has text, so that its own fault has been told."""
        return any(self._raw_cell(name) for name in names)

    def _note_assumed(self, placement: PlacementRule, garment: Garment, key: str) -> None:
        """What was taken for granted about the garment, where a size hangs on it."""
        reading, taken = self._context.read_garment(garment.text), self._describe_garment(garment)
        if reading.fault:
            return
        if reading.unknown and not reading.group_named:
            what = f"{quote_text(' '.join(reading.unknown))} is not understood and no group is named; taken as {taken}"
            self._note_finding("garment", what, "Name adult, youth or toddler.", "garment-assumed", Severity.WARN)
        if is_borrowed(key, garment, self._context.profiles.wardrobe):
            self._say_borrowed(placement, garment, key)

    def _say_borrowed(self, placement: PlacementRule, garment: Garment, key: str) -> None:
        """A figure made for another garment; where that is a larger one, it may well be too large."""
        wardrobe = self._context.profiles.wardrobe
        what = (
            f"{placement.title} on {self._describe_garment(garment)}: no figure of its own, so that of {key} is taken"
        )
        owner = next((name for name in wardrobe.groups if name in key.split(" ")), garment.group)
        own, other = wardrobe.find_figure(garment.group), wardrobe.find_figure(owner)
        if own is not None and other is not None and own.width < other.width:
            name = f"{garment.kind} {garment.group}"
            remedy = Remedy("enter-figure", placement=placement.name, garment=name)
            self._note_finding(
                "garment", f"{what}, which was made for larger ones", remedy, "size-borrowed", Severity.WARN
            )
        else:
            self._note_finding("garment", what, "Give a width for another.", "size-borrowed")

    def _read_extra_cells(self) -> tuple[tuple[str, str], ...]:
        """The cells of columns that are not ours, as they are but for surrounding space."""
        pairs: list[tuple[str, str]] = []
        ours = self._context.ours
        # Without a kit a name or a number is put into nothing, but whoever presses may need it.
        lone = [] if self._raw_cell("kit") else [ours[name] for name in ("name", "number") if name in ours]
        for column in (*self._context.others, *lone):
            text = " ".join(self._cells[column.index].split())
            if "\0" in text:
                what, remedy = "a control character, U+0000", "Clear the cell or export the file again."
                self._context.count_refused(self._line)
                self._context.tally.add_stop(self._line, column.heading, what, remedy, text, "damaged-cell")
            elif text:
                pairs.append((column.heading, text))
        return tuple(pairs)
