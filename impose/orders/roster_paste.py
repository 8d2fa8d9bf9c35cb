"""A roster as people send it, names, numbers and sizes from a message or a spreadsheet, to rows to be confirmed.

Nothing is guessed in silence: which column is which, whether an M is a youth's or an adult's, which of two numbers is
the shirt's, are asked where the text does not say, and everything is shown as a table before it becomes rows.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from impose.orders.headings import fold_heading
from impose.profiles.garment import GarmentCatalogue, GarmentReading
from impose.type.sanitise import clean_text
from impose.values import ChangingStruct, FrozenStruct, field

MOST_LINES = 5000
MOST_LETTERS = 500

COLUMN_TITLES = {"name": "Names", "number": "Numbers", "garment": "Sizes", "wearer": "Wearers", "": "Leave it out"}
_HEADINGS = {
    "name": "name", "names": "name", "player": "name", "print name": "name", "name on shirt": "name",
    "number": "number", "no": "number", "no.": "number", "nr": "number", "#": "number", "shirt number": "number",
    "size": "garment", "sizes": "garment", "garment": "garment", "shirt size": "garment",
    "wearer": "wearer", "full name": "wearer", "who": "wearer",
}  # fmt: skip
_NUMBER = re.compile(r"#?([0-9]{1,3})")
_PARTED = re.compile(r"\s+[-–—|/]+\s+|[()\[\]]|(?<=\S):\s+|\s+")


class RosterAsk(FrozenStruct):
    """One question: its id for the answer, the lines that it is of, and what may be answered."""

    id: str
    question: str
    lines: tuple[int, ...]
    answers: tuple[tuple[str, str], ...]


class PastedLine(FrozenStruct):
    """A line of the paste as cells by column, the questions that are open for it, and what looks odd."""

    line: int
    text: str
    cells: Mapping[str, str]
    asks: tuple[str, ...] = ()
    odd: tuple[str, ...] = ()


class PastedRoster(FrozenStruct):
    """What a paste holds; `columns` are those that any line fills."""

    columns: tuple[str, ...]
    heading: bool
    lines: tuple[PastedLine, ...]
    asks: tuple[RosterAsk, ...]
    cut: bool = False


def read_roster(
    text: str,
    wardrobe: GarmentCatalogue,
    garment: str = "",
    needed: Iterable[str] = (),
    answers: Mapping[str, str] | None = None,
) -> PastedRoster:
    """The lines of a paste. `garment` is what the kit is for, `needed` what its words need (name, number).

    `answers` are by the id of the question, or by id and line ("size-group@3") for one line alone.
    """
    return _RosterReader(wardrobe, garment, frozenset(needed), answers or {}).read(text)


class _RosterReader(ChangingStruct):
    wardrobe: GarmentCatalogue
    garment: str
    needed: frozenset[str]
    answers: Mapping[str, str]
    asked: dict[str, list[int]] = field(default_factory=dict)
    columns: dict[str, RosterAsk] = field(default_factory=dict)

    def read(self, text: str) -> PastedRoster:
        lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
        cut, lines = len(lines) > MOST_LINES, lines[:MOST_LINES]
        parted = _part_cells(lines)
        heading = False
        if parted is None:
            found = [(number, line, self._read_words(number, line)) for number, line in lines]
        else:
            names, heading = self._name_columns([cells for _, cells in parted])
            body = parted[1:] if heading else parted
            texts = dict(lines)
            found = [(number, texts[number], self._read_cells(names, heading, cells)) for number, cells in body]
        made = [self._make_line(number, line, cells, odd) for number, line, (cells, odd) in found]
        columns = tuple(
            name for name in ("name", "number", "garment", "wearer") if any(entry.cells.get(name) for entry in made)
        )
        return PastedRoster(
            columns, heading, tuple(_mark_repeats(made)), (*self.columns.values(), *self._list_asks()), cut
        )

    # -- a table

    def _name_columns(self, rows: Sequence[Sequence[str]]) -> tuple[list[str], bool]:
        """What each column is: by its heading, else by what stands in it, else by asking."""
        named = [_HEADINGS.get(fold_heading(cell), "") for cell in rows[0]]
        heading = any(named) and not any(
            self._is_size(cell) and not name for cell, name in zip(rows[0], named, strict=False)
        )
        if heading:
            return named, True
        wide = max(len(row) for row in rows)
        guess = [self._guess_column([row[n] for row in rows if n < len(row) and row[n]]) for n in range(wide)]
        counts = Counter(guess)
        names = []
        for number, kind in enumerate(guess, 1):
            said = self.answers.get(f"column-{number}")
            if said is None and kind and counts[kind] > 1:
                self._ask_column(number)
                kind = ""
            names.append(kind if said is None else said)
        return names, False

    def _guess_column(self, cells: Sequence[str]) -> str:
        if cells and all(_NUMBER.fullmatch(cell) for cell in cells):
            return "number"
        if cells and all(self._is_size(cell) for cell in cells):
            return "garment"
        return "name" if cells else ""

    def _ask_column(self, number: int) -> None:
        ident = f"column-{number}"
        question = f"What stands in column {number}?"
        self.columns[ident] = RosterAsk(ident, question, (), tuple(COLUMN_TITLES.items()))

    def _read_cells(
        self, names: Sequence[str], heading: bool, cells: Sequence[str]
    ) -> tuple[dict[str, str], list[str]]:
        """What stands in which column; without a heading or a column of sizes, a name may bring its size with it."""
        found = {name: cell for name, cell in zip(names, cells, strict=False) if name and cell}
        odd = [f"“{cell}” stands beyond the last column" for cell in cells[len(names) :] if cell]
        if "number" in found and (match := _NUMBER.fullmatch(found["number"])):
            found["number"] = match[1]
        if not heading and "name" in found and "garment" not in names:
            size, name = self._take_size(_part_words(found["name"]))
            if size and name:
                found |= {"name": " ".join(name), "garment": size}
        return found, odd

    # -- words in a row

    def _read_words(self, number: int, line: str) -> tuple[dict[str, str], list[str]]:
        """A line of words: numbers and sizes are told from the name by what they are."""
        words = _part_words(line)
        numbers = [match[1] for word in words if (match := _NUMBER.fullmatch(word))]
        rest = [word for word in words if not _NUMBER.fullmatch(word)]
        size, name = self._take_size(rest)
        found = {key: value for key, value in (("name", " ".join(name)), ("garment", size)) if value}
        odd: list[str] = []
        if len(numbers) == 1:
            found["number"] = numbers[0]
        elif numbers:
            said = self._find_answer("number", number)
            if said in numbers:
                found["number"] = str(said)
            else:
                self.asked.setdefault("number", []).append(number)
                odd.append(f"two numbers, {' and '.join(numbers)}: which is the shirt's?")
        return found, odd

    def _take_size(self, words: list[str]) -> tuple[str, list[str]]:
        """The longest run of words at the end, or at the start, that means a size; and the others."""
        for count in range(min(4, len(words)), 0, -1):
            if self._is_size(" ".join(words[-count:])):
                return " ".join(words[-count:]), words[:-count]
            if len(words) > count and self._is_size(" ".join(words[:count])):
                return " ".join(words[:count]), words[count:]
        return "", words

    def _is_size(self, text: str) -> bool:
        reading = self.wardrobe.read_garment(text)
        known = reading.garment.size or reading.group_named or reading.kind_named
        return bool(text.strip() and known and not reading.unknown and not reading.fault)

    # -- one line

    def _make_line(self, number: int, text: str, cells: dict[str, str], odd: list[str]) -> PastedLine:
        asks = ["number"] if number in self.asked.get("number", ()) else []
        cells = {key: clean_text(value)[0][:MOST_LETTERS] for key, value in cells.items()}
        if cells.get("garment"):
            asks += self._settle_size(number, cells, odd)
        lacking = [need for need in sorted(self.needed) if not cells.get(need) and need not in asks]
        odd = [*odd, *(f"there is no {need}, and the kit prints one" for need in lacking)]
        return PastedLine(number, text[:MOST_LETTERS], cells, tuple(asks), tuple(odd))

    def _settle_size(self, number: int, cells: dict[str, str], odd: list[str]) -> list[str]:
        """Youth or adult, where neither the line nor the kit says and the size is made for both."""
        reading = self.wardrobe.read_garment(cells["garment"])
        if reading.fault or reading.unknown:
            odd.append(reading.fault or f"“{' '.join(reading.unknown)}” is no word for a size")
            return []
        groups = self._groups_of(reading)
        if reading.group_named or len(groups) < 2 or self.wardrobe.read_garment(self.garment).group_named:
            return []
        said = self._find_answer("size-group", number)
        if said in groups:
            cells["garment"] = f"{said} {cells['garment']}"
            return []
        self.asked.setdefault("size-group", []).append(number)
        return ["size-group"]

    def _groups_of(self, reading: GarmentReading) -> list[str]:
        """The groups that a size may be of: one that only some group has is that group's.

        A size in letters that the usual group has is made for every group without sizes of its own as well (common
        practice, no source).
        """
        usual = self.wardrobe.groups[self.wardrobe.default_group]
        if reading.garment.size.casefold() not in {size.casefold() for size in usual.sizes}:
            return []
        return [usual.name, *(g.name for g in self.wardrobe.groups.values() if not g.sizes)]

    def _find_answer(self, ident: str, line: int) -> str | None:
        return self.answers.get(f"{ident}@{line}", self.answers.get(ident))

    def _list_asks(self) -> list[RosterAsk]:
        found = []
        if lines := self.asked.get("size-group"):
            usual = self.wardrobe.groups[self.wardrobe.default_group]
            groups = [usual, *(g for g in self.wardrobe.groups.values() if not g.sizes)]
            titles = tuple((g.name, g.title[:1].upper() + g.title[1:]) for g in groups)
            question = "Sizes such as M are made for several: whose are meant?"
            found.append(RosterAsk("size-group", question, tuple(lines), titles))
        if lines := self.asked.get("number"):
            found.append(RosterAsk("number", "Two numbers in a line: which is the shirt's?", tuple(lines), ()))
        return found


def _part_words(text: str) -> list[str]:
    return [word.strip(",;.") for word in _PARTED.split(text) if word and word.strip(",;.")]


def _part_cells(lines: Sequence[tuple[int, str]]) -> list[tuple[int, list[str]]] | None:
    """The lines as cells where one separator parts most of them alike; None for lines of words."""
    for separator in ("\t", ";", ","):
        counts = Counter(line.count(separator) for _, line in lines)
        most = counts.most_common(1)[0] if counts else (0, 0)
        if most[0] and most[1] * 2 > len(lines):
            return [(number, [cell.strip().strip('"') for cell in line.split(separator)]) for number, line in lines]
    return None


def _mark_repeats(lines: Sequence[PastedLine]) -> Iterable[PastedLine]:
    """Numbers that stand twice, said beside both."""
    numbers = Counter(line.cells["number"] for line in lines if line.cells.get("number"))
    for line in lines:
        number = line.cells.get("number", "")
        twice = (f"the number {number} stands {numbers[number]} times",) if numbers[number] > 1 else ()
        yield PastedLine(line.line, line.text, line.cells, line.asks, (*line.odd, *twice))
