"""Entries of a record that are made as they are read, so that a large batch's record is never in memory at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, overload


class ListedValues(Sequence[Any]):
    """Entries of the record as plain values, each made anew whenever it is read.

    Of a hundred thousand transfers the values alone would take 600 MB. What is changed in them is lost: take a list.
    """

    __slots__ = ("_items", "_make")

    def __init__(self, items: Sequence[Any], make: Callable[[Any], Any]) -> None:
        """`make` turns one of the `items` into its values, a dictionary or a text."""
        self._items, self._make = items, make

    def __len__(self) -> int:
        return len(self._items)

    @overload
    def __getitem__(self, index: int) -> Any: ...
    @overload
    def __getitem__(self, index: slice) -> list[Any]: ...
    def __getitem__(self, index: int | slice) -> Any:
        if isinstance(index, slice):
            return [self._make(item) for item in self._items[index]]
        return self._make(self._items[index])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and list(self) == list(other)

    __hash__ = None  # type: ignore[assignment]


ListValues = Callable[[Sequence[Any], Callable[[Any], Any]], Sequence[Any]]


def choose_listing(many: bool) -> ListValues:
    """How entries are listed: of a batch in parts as they are read, else all at once as plain lists."""
    return ListedValues if many else list_at_once


def list_at_once(items: Sequence[Any], make: Callable[[Any], Any]) -> list[Any]:
    """The entries as a list, to be changed by whoever wants."""
    return [make(item) for item in items]
