"""TOML tables read key by key: every fault is collected, with file, table, key and remedy."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from impose.errors import Exit, Finding, list_texts, quote_text
from impose.units import LengthError, parse_length
from impose.values import ChangingStruct, field

Keys = tuple[str, ...]


def find_near_word(word: str, known: Collection[str], cutoff: float = 0.6) -> str:
    """The known word most like `word`, or nothing; the same answer whatever the order of `known`."""
    from difflib import get_close_matches  # loaded late: most batches have nothing that is nearly a word

    return next(iter(get_close_matches(word, sorted(known), 1, cutoff)), "")


def suggest_word(word: str, known: Collection[str]) -> str:
    """A remedy for a word that is not known: the nearest one, or the list."""
    close = find_near_word(word, known)
    there = [name or '""' for name in sorted(known)]
    return f"Did you mean {quote_text(close)}?" if close else f"Known are: {list_texts(there)}."


def _show_value(read: object) -> str:
    """A value as TOML has it: `true`, and no exponent where none was written."""
    if isinstance(read, bool):
        return str(read).lower()
    return f"{read:f}" if isinstance(read, Decimal) else str(read)


class ProfileLayers(ChangingStruct):
    """One kind of profile as laid over by later files: the merged data, where every key came from, what was first."""

    data: dict[str, Any] = field(default_factory=dict)
    origins: dict[Keys, str] = field(default_factory=dict)
    shipped: Mapping[str, Any] = field(default_factory=dict)

    def lay_file(self, data: Mapping[str, Any], origin: str) -> None:
        """Lay a file over what is there: tables merge key by key, anything else replaces. The first is the shipped."""
        self.shipped = self.shipped or data
        self._lay_table(self.data, data, origin, ())

    def _lay_table(self, below: dict[str, Any], above: Mapping[str, Any], origin: str, path: Keys) -> None:
        for key, value in above.items():
            here = (*path, key)
            self.origins[here] = origin
            if isinstance(value, Mapping) and isinstance(below.get(key, {}), dict):
                self._lay_table(below.setdefault(key, {}), value, origin, here)
            else:
                below[key] = value


class TomlTable:
    """One table: its values are taken by key and kind; `close` reports the keys that nobody took.

    A faulty value is noted in `faults` and stands in for by the default, so that reading goes on to the
    next fault. With `loose`, texts are taken for numbers, yes or no, and lists, as environment variables
    have nothing else.
    """

    def __init__(
        self, layers: ProfileLayers, path: Keys, faults: list[Finding], file: str, *, loose: bool = False
    ) -> None:
        self._layers, self.path, self.faults, self.file, self._loose = layers, path, faults, file, loose
        self._taken: set[str] = set()
        self._known: set[str] = set()
        data: Any = layers.data
        for key in path:
            data = data[key]
        self._data: Mapping[str, Any] = data

    def __contains__(self, key: str) -> bool:
        self._taken.add(key)  # who asks for a key knows it
        return key in self._data

    def __iter__(self) -> Iterator[str]:
        return iter(self._data)

    def peek_value(self, key: str) -> object:
        """The value at a key as it stands, to choose how to take it."""
        return self._data.get(key)

    @property
    def table_name(self) -> str:
        """The table's own name."""
        return self.path[-1] if self.path else ""

    def note_fault(self, key: str, what: str, remedy: str, read: object = None) -> None:
        """Note a fault at a key of this table."""
        table = f"table [{'.'.join(self.path)}]" if self.path else "top level"
        place = f"{table}, key {key}" if key else table
        origin = self._layers.origins.get((*self.path, key)) or self._layers.origins.get(self.path)
        text = None if read is None else _show_value(read)
        self.faults.append(
            Finding(f"{place}: {what}", remedy, kind="profile", file=origin or self.file, read=text, exit=Exit.USAGE)
        )

    def _take_value(self, key: str, kinds: tuple[type, ...], expected: str, needed: bool) -> Any:
        """The value at a key if it is of a kind; None where it is missing or wrong."""
        self._taken.add(key)
        if key not in self._data:
            if needed:
                self.note_fault(key, "missing", f"Give {expected}.")
            return None
        value = self._data[key]
        if isinstance(value, kinds) and (bool in kinds or not isinstance(value, bool)):
            return value
        quotes = kinds == (str,) and not isinstance(value, dict | list)
        self.note_fault(key, f"has to be {expected}", "Put it in quotes." if quotes else "Mend the value.", value)
        return None

    def take_text(self, key: str, default: str | None = None, *, choices: Collection[str] = ()) -> str:
        """A text; one of `choices` if there are any."""
        value = self._take_value(key, (str,), "a text in quotes", default is None)
        if value is None:
            return default or ""
        if choices and value not in choices:
            self.note_fault(key, "not one of the choices", suggest_word(value, choices), value)
            return default or ""
        return str(value).strip()

    def take_raw_text(self, key: str) -> str:
        """A text with its spaces, which may matter; nothing where it is missing."""
        return str(self._take_value(key, (str,), "a text in quotes", needed=False) or "")

    def take_texts(self, key: str, default: tuple[str, ...] | None = None) -> tuple[str, ...]:
        """A list of texts."""
        kinds = (list, str) if self._loose else (list,)
        value = self._take_value(key, kinds, "a list of texts in quotes", default is None)
        if isinstance(value, str):
            value = [part.strip() for part in value.split(",") if part.strip()]
        if value is None:
            return default or ()
        if not all(isinstance(item, str) and item.strip() for item in value):
            self.note_fault(key, "has to be a list of texts in quotes", "Mend the value.", value)
            return default or ()
        return tuple(item.strip() for item in value)

    def take_flag(self, key: str, default: bool | None = None) -> bool:
        """True or false."""
        if self._loose and isinstance(self._data.get(key), str):
            self._taken.add(key)
            word = self._data[key].strip().casefold()
            if word in _YES | _NO:
                return word in _YES
            self.note_fault(key, "has to be yes or no", "Write yes or no.", word)
            return bool(default)
        value = self._take_value(key, (bool,), "true or false", default is None)
        return bool(default) if value is None else bool(value)

    def take_number(self, key: str, least: str, most: str, default: str | None = None) -> Decimal:
        """A number within limits, as a decimal."""
        value = self._take_value(key, (int, Decimal, str), f"a number from {least} to {most}", default is None)
        if value is None:
            return Decimal(default or least)
        try:
            number = Decimal(value)
            inside = number.is_finite() and Decimal(least) <= number <= Decimal(most)
        except InvalidOperation:
            inside = False
        if not inside:
            percent = re.fullmatch(r"\s*([0-9]{1,6}(?:\.[0-9]{1,6})?)\s*%\s*", str(value))
            remedy = "Mend the value." if percent is None else f"Write {Decimal(percent[1]) / 100:f}, without a sign."
            self.note_fault(key, f"has to be a number from {least} to {most}", remedy, value)
            return Decimal(default or least)
        return number

    def take_whole(self, key: str, least: int, most: int, default: int | None = None) -> int:
        """A whole number within limits."""
        number = self.take_number(key, str(least), str(most), None if default is None else str(default))
        if number != int(number):
            self.note_fault(key, "has to be a whole number", "Leave the part after the point out.", number)
        return int(number)

    def take_length(self, key: str, default: str | None = None, *, zero: bool = False) -> float:
        """A length in mm, from a text with its unit."""
        value = self._take_value(key, (str,), 'a length in quotes, such as "88.9 mm" or "3.5 in"', default is None)
        if value is not None:
            try:
                return parse_length(value, zero=zero)
            except LengthError as error:
                self.note_fault(key, error.what, error.remedy, value)
        return parse_length(default, zero=zero) if default else 0.0

    def take_optional_length(self, key: str) -> float | None:
        """A length in mm where the key is there."""
        self._taken.add(key)
        return self.take_length(key) if key in self else None

    def take_tables(self) -> Iterator[TomlTable]:
        """The tables in this one; anything else here is a fault."""
        for key, value in self._data.items():
            if key in self._taken:
                continue
            self._taken.add(key)
            if isinstance(value, Mapping):
                yield TomlTable(self._layers, (*self.path, key), self.faults, self.file, loose=self._loose)
            else:
                self.note_fault(key, "stands outside any table", "Put it below a [name] in brackets.", value)

    def take_table(self, key: str) -> TomlTable | None:
        """The table at a key, if there is one."""
        value = self._take_value(key, (dict,), f"a table [{'.'.join((*self.path, key))}]", False)
        if value is None:
            return None
        return TomlTable(self._layers, (*self.path, key), self.faults, self.file, loose=self._loose)

    def key_origin(self, *key: str) -> str:
        """The file that a key's value, or that of a key below it, came from."""
        return self._layers.origins.get((*self.path, *key), self.file)

    def peek_shipped(self, key: str) -> object:
        """The value that the first file laid has at a key; None where it has none."""
        return self._find_shipped().get(key)

    def list_shipped(self) -> list[str]:
        """The keys that the first file laid has here."""
        return list(self._find_shipped())

    def _find_shipped(self) -> Mapping[str, Any]:
        data: Any = self._layers.shipped
        for key in self.path:
            data = data.get(key) if isinstance(data, Mapping) else None
        return data if isinstance(data, Mapping) else {}

    def declare_keys(self, keys: Collection[str]) -> None:
        """Name keys that could stand here, for the near misses of `close`."""
        self._known |= set(keys)

    def report_unknown_keys(self) -> None:
        """Report every key that was not taken, with the nearest that could have been meant."""
        for key in self._data:
            if key not in self._taken:
                self.note_fault(key, "not a key that is known here", suggest_word(key, self._known | self._taken))


_YES = {"yes", "true", "1", "on"}
_NO = {"no", "false", "0", "off"}
