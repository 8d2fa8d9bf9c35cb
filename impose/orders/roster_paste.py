"""A roster as people send it, names, numbers and sizes from a message or a spreadsheet, to rows to be confirmed.

Nothing is guessed in silence: which column is which, whether an M is a youth's or an adult's, which of two numbers is
the shirt's, are asked where the text does not say, and everything is shown as a table before it becomes rows.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence

from impose.orders.headings import fold_heading
from impose.orders.pasted_counts import (
    MAY_BE_NAME,
    MAY_BE_SIZE,
    NUMBER_WORDS,
    drop_bullet,
    drop_labels,
    drop_list_mark,
    find_list_marks,
    split_several,
    take_counts,
)
from impose.profiles.garment import GarmentCatalogue, GarmentReading
from impose.type.sanitise import clean_text
from impose.values import ChangingStruct, FrozenStruct, field

MOST_LINES = 5000
MOST_LETTERS = 500

COLUMN_TITLES = {
    "name": "Names", "number": "Numbers", "garment": "Sizes", "copies": "How many", "wearer": "Wearers",
    "": "Leave it out",
}  # fmt: skip
COLUMN_ORDER = ("name", "number", "garment", "copies", "wearer")
_HEADINGS = {
    "name": "name", "names": "name", "player": "name", "print name": "name", "name on shirt": "name",
    "number": "number", "no": "number", "no.": "number", "nr": "number", "#": "number", "shirt number": "number",
    "size": "garment", "sizes": "garment", "garment": "garment", "shirt size": "garment",
    "wearer": "wearer", "full name": "wearer", "who": "wearer",
    "qty": "copies", "qty.": "copies", "quantity": "copies", "copies": "copies", "count": "copies",
    "how many": "copies", "pcs": "copies", "pieces": "copies", "amount": "copies",
}  # fmt: skip
_NUMBER = re.compile(r"#?([0-9]{1,3})")
_LETTERS_AND_DIGITS = re.compile(r"(?=.*[^\W\d_]).*[0-9]")
_PARTED = re.compile(r"\s+[-–—|/=]+\s+|[()\[\]=]|(?<=\S):\s+|\s+")
_COPIES = ("copies", "How many")
_DOUBTS = {
    "list-number": ("The lines are numbered: is that their place in the list, or the number on the shirt?",
                    (("place", "The place in the list"), ("number", "The number on the shirt"))),
    "number-or-copies": ("A number beside a size: is it the number on the shirt, or how many?",
                         (("number", "The number on the shirt"), _COPIES)),
    "size-or-copies": ("2x may be the size 2XL, or two of them: which is meant?",
                       (("size", "The size, 2XL"), _COPIES)),
    "name-or-copies": ("An X before a number may end the name, or say how many: which is meant?",
                       (("name", "The end of the name"), _COPIES)),
}  # fmt: skip
"""Questions with one set of answers for all lines."""


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
    sizes: dict[str, bool] = field(default_factory=dict)  # what was looked up: lines of a team repeat their words

    def read(self, text: str) -> PastedRoster:
        lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
        cut, lines = len(lines) > MOST_LINES, self._split_lines(self._drop_marks(lines[:MOST_LINES]))
        parted = _part_cells(lines)
        heading = False
        if parted is None:
            found = [(number, line, self._read_words(number, line)) for number, line in lines]
        else:
            names, heading = self._name_columns([cells for _, cells in parted])
            body = [*zip(lines, parted, strict=True)][1 if heading else 0 :]
            found = [
                (number, line, self._read_cells(number, names, heading, cells)) for (number, line), (_, cells) in body
            ]
            if heading and found:
                found[0][2][1].extend(_name_columns_left(names, [cells for _, cells in parted]))
        made = [self._make_line(number, line, cells, odd) for number, line, (cells, odd) in found]
        columns = tuple(name for name in COLUMN_ORDER if any(entry.cells.get(name) for entry in made))
        return PastedRoster(
            columns, heading, tuple(_mark_repeats(made)), (*self.columns.values(), *self._list_asks()), cut
        )

    # -- lines

    def _drop_marks(self, lines: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
        """The lines without bullets; places in a numbered list look like numbers of shirts, and are asked about."""
        plain = [(number, drop_bullet(line)) for number, line in lines]
        if not find_list_marks([line for _, line in plain]):
            return plain
        for number, _ in plain:
            said = self._ask_doubt("list-number", number)
        return plain if said == "number" else [(number, drop_list_mark(line)) for number, line in plain]

    def _split_lines(self, lines: Sequence[tuple[int, str]]) -> list[tuple[int, str]]:
        """The lines, one that holds several garments ("2 x M, 3 x L") as one for each."""
        found: list[tuple[int, str]] = []
        for number, line in lines:
            parts = split_several(line)
            several = len(parts) > 1 and all(self._holds_garment(part) for part in parts)
            found += [(number, part) for part in parts] if several else [(number, line)]
        return found

    def _holds_garment(self, text: str) -> bool:
        """Whether a part of a line says a size and how many, or a number: a garment of its own."""
        counted = take_counts(drop_labels(text), self._is_size)
        words = _part_words(counted.text)
        numbers = [word for word in words if _NUMBER.fullmatch(word)]
        size, _ = self._take_size([word for word in words if not _NUMBER.fullmatch(word)])
        return bool(size) and bool(counted.counts or numbers)

    def _ask_doubt(self, ident: str, line: int) -> str:
        """The answer to a question that has one set of answers; it is asked where there is none."""
        said = self._find_answer(ident, line)
        if said in {answer for answer, _ in _DOUBTS[ident][1]}:
            return str(said)
        self.asked.setdefault(ident, []).append(line)
        return ""

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
        guess = [kind.rstrip("?") if "garment" not in guess or not kind.endswith("?") else "copies" for kind in guess]
        counts = Counter(guess)
        names = []
        for number, kind in enumerate(guess, 1):
            said = self.answers.get(f"column-{number}")
            said = said if said in COLUMN_TITLES else None
            no_name = kind == "number" and not counts["name"] and kind not in self.needed
            if said is None and kind and (counts[kind] > 1 or no_name):
                self._ask_column(number)
                kind = ""
            names.append(kind if said is None else said)
        return names, False

    def _guess_column(self, cells: Sequence[str]) -> str:
        if cells and all(_NUMBER.fullmatch(cell) for cell in cells):
            return "number"
        if cells and all(MAY_BE_SIZE.fullmatch(cell) for cell in cells):
            return "garment?"  # or how many, where another column holds the sizes
        counted = [take_counts(drop_labels(cell), self._is_size) for cell in cells]
        if cells and all(self._is_size(cell.text) for cell in counted):
            return "garment"
        if cells and all(cell.counts and not cell.text for cell in counted):
            return "copies"
        return "name" if cells else ""

    def _ask_column(self, number: int) -> None:
        ident = f"column-{number}"
        question = f"What stands in column {number}?"
        self.columns[ident] = RosterAsk(ident, question, (), tuple(COLUMN_TITLES.items()))

    def _read_cells(
        self, line: int, names: Sequence[str], heading: bool, cells: Sequence[str]
    ) -> tuple[dict[str, str], list[str]]:
        """What stands in which column; without a heading, a name may bring what no column of its own holds."""
        found = {name: cell for name, cell in zip(names, cells, strict=False) if name and cell}
        odd = [f"“{cell}” stands beyond the last column" for cell in cells[len(names) :] if cell]
        if "number" in found and (match := _NUMBER.fullmatch(drop_labels(found["number"]))):
            found["number"] = match[1]
        if match := MAY_BE_SIZE.fullmatch(found.get("copies", "")):
            found["copies"] = match[1]
        for name in ("garment", "copies"):
            counted = take_counts(drop_labels(found.get(name, "")), self._is_size)
            if len(counted.counts) == 1 and ("copies" not in names or name == "copies"):
                found[name] = counted.text
                found["copies"] = counted.counts[0]
        if "name" in found and not heading:
            more, more_odd = self._read_words(line, found["name"], {name for name in names if name != "name"})
            if more.get("name"):
                found |= more if len(more) > 1 else {}
                odd += more_odd
        elif "name" in found and take_counts(found["name"], self._is_size).counts:
            odd.append(f"“{found['name']}” is the name, with its number: take that out if it says how many")
        return found, odd

    # -- words in a row

    def _read_words(self, line: int, text: str, elsewhere: Collection[str] = ()) -> tuple[dict[str, str], list[str]]:
        """A text of words: counts, numbers and sizes are told from the name by what they are.

        What has a column of its own, as `elsewhere` names them, is left in the name.
        """
        copies, words = self._take_copies(line, drop_labels(text), elsewhere)
        is_number = _NUMBER.fullmatch if "number" not in elsewhere else lambda _: None
        numbers = [match[1] for word in words if (match := is_number(word))]
        rest = [word for word in words if not is_number(word)]
        size, name = self._take_size(rest) if "garment" not in elsewhere else ("", rest)
        found = {key: value for key, value in (("name", " ".join(name)), ("garment", size)) if value}
        odd = [f"“{word}” is read as a part of the name" for word in name if _LETTERS_AND_DIGITS.match(word)]
        if " ".join(name).casefold() in NUMBER_WORDS:
            odd.append(f"“{name[0]}” is read as the name: write it in figures, as in 5 x, if it says how many")
        if len(copies) == 1:
            found["copies"] = copies[0]
        elif copies:
            odd.append(f"{' and '.join(copies)} both say how many: give each garment a line of its own")
        if len(numbers) == 1:
            found |= self._place_number(line, numbers[0], found)
        elif numbers:
            said = self._find_answer("number", line)
            if said in numbers:
                found["number"] = str(said)
                left = [number for number in numbers if number != said]
                odd += [f"{' and '.join(left)} is left out"] if left else []
            else:
                self.asked.setdefault("number", []).append(line)
                odd.append(f"two numbers, {' and '.join(numbers)}: which is the shirt's?")
        return found, odd

    def _take_copies(self, line: int, text: str, elsewhere: Collection[str]) -> tuple[tuple[str, ...], list[str]]:
        """How many, and the words without that; what may be a size or a name is asked about."""
        if "copies" in elsewhere:
            return (), _part_words(text)
        counted = take_counts(text, self._is_size)
        if counted.counts:
            return counted.counts, _part_words(counted.text)
        for pattern, ident, part in ((MAY_BE_SIZE, "size-or-copies", 0), (MAY_BE_NAME, "name-or-copies", 1)):
            if not (match := pattern.search(text)):
                continue
            words = _part_words(pattern.sub(" ", text, count=1))
            told = self._take_size([word for word in words if not _NUMBER.fullmatch(word)])[part]
            sure = bool(told) if ident == "size-or-copies" else not told
            if sure or self._ask_doubt(ident, line) == "copies":
                return (match[1],), words
        return (), _part_words(text)

    def _place_number(self, line: int, number: str, found: Mapping[str, str]) -> dict[str, str]:
        """One number: the shirt's, unless nothing else in the line or the kit makes it one; then it is asked."""
        prints_none = self.needed and "number" not in self.needed
        sure = "number" in self.needed or not found.get("garment") or "copies" in found
        if sure or (found.get("name") and not prints_none):
            return {"number": number}
        said = self._ask_doubt("number-or-copies", line)
        return {said: number} if said else {}

    def _take_size(self, words: list[str]) -> tuple[str, list[str]]:
        """The longest run of words at the end, or at the start, that means a size; and the others."""
        for count in range(min(4, len(words)), 0, -1):
            if self._is_size(" ".join(words[-count:])):
                return " ".join(words[-count:]), words[:-count]
            if len(words) > count and self._is_size(" ".join(words[:count])):
                return " ".join(words[:count]), words[count:]
        return "", words

    def _is_size(self, text: str) -> bool:
        if text not in self.sizes:
            reading = self.wardrobe.read_garment(text)
            known = reading.garment.size or reading.group_named or reading.kind_named
            self.sizes[text] = bool(text.strip() and known and not reading.unknown and not reading.fault)
        return self.sizes[text]

    # -- one line

    def _make_line(self, number: int, text: str, cells: dict[str, str], odd: list[str]) -> PastedLine:
        asks = [ident for ident, lines in self.asked.items() if ident != "size-group" and number in lines]
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
            found.append(RosterAsk("size-group", question, tuple(dict.fromkeys(lines)), titles))
        if lines := self.asked.get("number"):
            found.append(RosterAsk("number", "Two numbers in a line: which is the shirt's?", tuple(lines), ()))
        for ident, (question, answers) in _DOUBTS.items():
            if lines := self.asked.get(ident):
                found.append(RosterAsk(ident, question, tuple(dict.fromkeys(lines)), answers))
        return found


def _name_columns_left(names: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    """The columns whose heading says nothing here, where they hold anything."""
    held = [any(row[n] for row in rows[1:] if n < len(row)) for n in range(len(names))]
    return [
        f"the column “{heading}” is left out"
        for heading, name, holds in zip(rows[0], names, held, strict=True)
        if holds and not name
    ]


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
