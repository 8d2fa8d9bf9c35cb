"""A line of a roster: whose garment, and of which kit, to the prints that the kit has for it."""

from __future__ import annotations

import re

from impose.errors import Finding, Severity, quote_text
from impose.orders import cells
from impose.orders.batch import MOST_COPIES, BatchRow
from impose.orders.kits import OF_THE_KIT, Kit, KitError, fill_words, find_word_places
from impose.orders.row_reader import RowReader
from impose.values import replace


class RosterLine(RowReader):
    """One record of a batch, with a kit or without one."""

    def list_rows(self) -> list[BatchRow]:
        """The prints of the record: one, or as many as its kit has."""
        return self._list_kit_rows() if self._raw_cell("kit") else [self.read_row()]

    def _list_kit_rows(self) -> list[BatchRow]:
        """What the row's kit makes of it: whose and how many from the row, where and what from the kit."""
        kits, name = self._context.kits, self._read_text("kit")
        assert kits is not None
        try:
            kit = kits.find_kit(name)
        except KitError as error:
            self._note_fault("kit", error.what, error.remedy, name, "bad-kit")
            return [self._make_base()]
        for finding in kit.findings:
            self._say_of_kit(finding, name)
        for column in OF_THE_KIT:
            if self._raw_cell(column):
                what = f"the kit {quote_text(name)} says that already, for each of its prints"
                self._note_fault(
                    column,
                    what,
                    "Clear the cell, or give the print a row without a kit.",
                    self._raw_cell(column),
                    "bad-kit",
                )
        base = self._make_base()
        if kit.stops:
            return [base]
        return [self._make_print(base, kit, row) for row in kit.rows]

    def _make_base(self) -> BatchRow:
        """What a row with a kit says itself."""
        name, number = self._read_text("name"), self._read_text("number")
        number = number[1:] if re.fullmatch(r"'[0-9]+", number) else number
        return BatchRow(
            row=self._line,
            order=self._read_cell("order", cells.read_order, ""),
            wearer=self._read_text("wearer") or name or number,
            art="",
            path=self._context.art.root,
            placement=None,
            garment=self._context.read_garment("").garment,
            copies=self._read_cell("copies", cells.read_copies, self._context.blanks.copies or 1),
            width_mm=None,
            height_mm=None,
            accept=self._read_cell("accept", lambda text: cells.read_accept(text, self._context.kinds), frozenset()),
            note=self._read_text("note"),
            extra=self._read_extra_cells(),
            cloth=self._read_cloth(),
            kit=self._read_text("kit"),
            name=name,
            number=number,
        )

    def _make_print(self, base: BatchRow, kit: Kit, row: BatchRow) -> BatchRow:
        """One print of a kit for the row: values put in, copies multiplied, the size judged on the row's garment."""
        for missing in sorted(find_word_places(row.words)):
            if not getattr(base, missing):
                what = f"the kit {quote_text(base.kit)} needs a {missing} (row {row.row} of its own)"
                self._note_fault(missing, what, f"Write the {missing}, or name a kit without one.", None, "bad-kit")
        words = fill_words(row.words, base.name, base.number)
        art, path = (row.art, row.path) if not words else self._name_words(words, row.style)
        garment = self._read_garment(self._kit_garment(kit.garments.get(row.row, "")))
        placement = self._context.find_placement(row.placement) if row.placement else None
        if row.letters_mm is None:
            self._check_size_known(placement, garment, row.width_mm, row.height_mm)
        if row.copies * base.copies > MOST_COPIES:
            what = f"more than {MOST_COPIES:,} copies: {base.copies:,} of the row times {row.copies:,} of its kit"
            self._note_fault("copies", what, "Check both numbers.", str(base.copies), "bad-copies")
        # All that the kit says, so that no field is forgotten; then what the roster's row says (OF_THE_ROSTER).
        return replace(
            row,
            row=base.row,
            order=base.order,
            wearer=base.wearer,
            art=art,
            path=path,
            garment=garment,
            copies=min(row.copies * base.copies, MOST_COPIES),
            accept=base.accept | row.accept,
            note="; ".join(note for note in (base.note, row.note) if note),
            extra=(*base.extra, *row.extra),
            words=words,
            cloth=base.cloth if base.cloth.said else row.cloth,
            kit=base.kit,
            kit_row=row.row,
            name=base.name,
            number=base.number,
        )

    def _kit_garment(self, of_kit: str) -> str:
        """The row's garment; the kit's, where the row says none, and before it, where the row says but a size."""
        text = self._read_text("garment")
        if not of_kit or self._context.read_garment(text).kind_named:
            return text
        return f"{of_kit} {text}".strip()

    def _say_of_kit(self, finding: Finding, name: str) -> None:
        """What is wrong with a kit, told once for all the rows that name it."""
        if finding.severity is Severity.STOP:
            self._context.count_refused(self._line)
        told = replace(
            finding, what=f"{finding.place}: {finding.what}", file="", row=None, also=(), read=finding.read or name
        )
        self._context.tally.add_shared(self._line, replace(told, column=self._find_heading("kit")))
