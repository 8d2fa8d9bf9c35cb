"""A worksheet's XML looked over before a library builds anything of it: its rows, columns and cells held to limits.

The library fills gaps between row numbers with blank rows, so that a file of 5 KB with a row 2147483648 keeps it busy
for hours, and drops a row whose number does not rise, which would lose an order.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import IO
from xml.parsers import expat

LAST_ROW = 1_048_576
"""Of a worksheet (Microsoft, "Excel specifications and limits"; column XFD is the 16,384th)."""
MOST_COLUMNS = 500
MOST_CELLS = 10_000_000
MOST_SHEETS = 500

_STEP = 1 << 16
_PLACE = re.compile(r"([A-Z]{1,3})([0-9]{1,7})")


class SheetFault(Exception):
    """What a worksheet may not hold; `what` is wrong, and the `remedy`, blank where saving again is all there is."""

    def __init__(self, what: str, remedy: str = "") -> None:
        self.what, self.remedy = what, remedy
        super().__init__(what)


def check_sheet(stream: IO[bytes]) -> None:
    """Raise `SheetFault` for a worksheet beyond the limits, or whose rows do not rise; expat's error for no XML."""
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.StartElementHandler = _CellCounter().count_element
    parser.StartDoctypeDeclHandler = _refuse_types
    while data := stream.read(_STEP):
        parser.Parse(data, False)
    parser.Parse(b"", True)


def check_part(stream: IO[bytes]) -> None:
    """Raise `SheetFault` for what no part of a spreadsheet has: a document type, an unknown encoding, many worksheets.

    XML 1.0 (2.8) has the type before the root element, however much stands before it. Parts are UTF-8 or UTF-16
    (ECMA-376, part 2, "XML usage"); in an encoding that is not known here another parser might find a type that this
    one cannot see. Only the part whose root is `workbook` is read on, wherever in the file it lies.
    """
    parser = expat.ParserCreate(namespace_separator=" ")
    counter = _SheetCounter()
    parser.StartElementHandler = counter.count_element
    parser.StartDoctypeDeclHandler = _refuse_types
    try:
        while counter.root in ("", "workbook") and (data := stream.read(_STEP)):
            parser.Parse(data, False)
    except expat.ExpatError:
        pass  # no XML: whoever reads it will say so
    except (LookupError, ValueError):  # of the table of encodings
        raise SheetFault("is in an encoding that no spreadsheet has") from None


def _refuse_types(*_: object) -> None:
    raise SheetFault("declares a document type, which no spreadsheet does")


class _SheetCounter:
    """The root element of a part, and how many worksheets it lists."""

    def __init__(self) -> None:
        self.root = ""
        self.sheets = 0

    def count_element(self, name: str, _: Mapping[str, str]) -> None:
        """A start tag, its name with the namespace before it."""
        local = name.rpartition(" ")[2]
        self.root = self.root or local
        self.sheets += local == "sheet"
        if self.sheets > MOST_SHEETS:
            what = f"lists more than {MOST_SHEETS} worksheets"
            raise SheetFault(what, "Copy the orders into a new spreadsheet.")


class _CellCounter:
    """Follows the elements of a worksheet."""

    def __init__(self) -> None:
        self.row = self.column = self.cells = 0

    def count_element(self, name: str, attributes: Mapping[str, str]) -> None:
        """A start tag, its name with the namespace before it."""
        local = name.rpartition(" ")[2]
        if local == "row":
            self._count_row(attributes.get("r"))
        elif local == "c":
            self._count_cell(attributes.get("r"))

    def _count_row(self, number: str | None) -> None:
        last, self.column = self.row, 0
        if number is None:
            self.row += 1
        elif re.fullmatch("[0-9]{1,10}", number):
            self.row = int(number)
        else:
            raise SheetFault(f"row number “{number[:20]}” after row {last}")
        if self.row > LAST_ROW:
            raise SheetFault(f"row number {self.row}, beyond {LAST_ROW:,}, the last of a worksheet")
        if self.row <= last:
            raise SheetFault(f"row number {self.row} after row {last}")

    def _count_cell(self, place: str | None) -> None:
        self.cells += 1
        if self.cells > MOST_CELLS:
            raise SheetFault(
                f"more than {MOST_CELLS:,} cells", "Copy the orders into a new spreadsheet, or split them."
            )
        self.column += 1
        if place is not None:
            found = _PLACE.fullmatch(place)
            if found is None or int(found[2]) != self.row:
                raise SheetFault(f"cell “{place[:20]}” in row {self.row}")
            self.column = _parse_column(found[1])
        if self.column > MOST_COLUMNS:
            what = f"row {self.row} has {self.column:,} columns, more than {MOST_COLUMNS}"
            raise SheetFault(what, "Take some out.")


def _parse_column(letters: str) -> int:
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number
