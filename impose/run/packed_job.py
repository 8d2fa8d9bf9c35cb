"""Rows and sheets on their way to another process, some hundred at a time.

All at once they would be copied as objects, as what is remembered of each while it is written, and as bytes: 2 KB a
transfer. In parts one part is. What several parts share (pictures, rows, pieces) is sent once and named by its number
from then on, so that it is one object on the other side, too. Drawings and the rows of pictures stay behind.
"""

from __future__ import annotations

import io
import pickle
from collections.abc import Iterable, Iterator, Sequence
from itertools import islice
from typing import Any

from impose.art.prepare import PreparedPicture
from impose.art.vector_drawing import Drawing
from impose.orders.batch import BatchRow
from impose.sheet.layout import SheetLayout
from impose.sheet.transfer import Piece
from impose.values import replace

_PART = 500  # rows, pieces or sheets: more are no faster


def pack_layout(rows: Sequence[BatchRow], sheets: Sequence[SheetLayout]) -> Iterator[bytes]:
    """Parts that `unpack_layout` puts together again."""
    pieces = {id(piece): piece for sheet in sheets for piece in _list_pieces(sheet)}
    pictures = {id(piece.picture): piece.picture for piece in pieces.values()}
    every_row = {id(row): row for row in (*rows, *(piece.row for piece in pieces.values()))}
    numbers: dict[int, int] = {}
    for shared, lightened in (
        (pictures, (_lighten_picture(picture) for picture in pictures.values())),
        (every_row, every_row.values()),
        (pieces, pieces.values()),
    ):
        yield from _pack_parts(lightened, len(shared), numbers)
        numbers |= {key: number for number, key in enumerate(shared, len(numbers))}
    yield from _pack_parts((_lighten_sheet(sheet) for sheet in sheets), len(sheets), numbers)
    yield from _pack_parts(rows, len(rows), numbers)


def unpack_layout(parts: Iterator[bytes]) -> tuple[tuple[BatchRow, ...], tuple[SheetLayout, ...]]:
    """The rows and sheets; raises `EOFError` or `StopIteration` where parts are missing."""
    known: list[Any] = []
    for _ in range(3):  # pictures, rows, pieces
        known += _unpack_parts(parts, known)
    sheets = tuple(_unpack_parts(parts, known))
    return tuple(_unpack_parts(parts, known)), sheets


class _NumberingPickler(pickle.Pickler):
    """Writes what the other side knows already as its number there."""

    def __init__(self, file: io.BytesIO, numbers: dict[int, int]) -> None:
        super().__init__(file, protocol=pickle.HIGHEST_PROTOCOL)
        self._numbers = numbers

    def persistent_id(self, value: Any) -> int | None:
        """Its number, None for what is written out."""
        return self._numbers.get(id(value)) if isinstance(value, (BatchRow, Piece, PreparedPicture)) else None


class _NumberedUnpickler(pickle.Unpickler):
    """Finds what was written as a number."""

    def __init__(self, part: bytes, known: Sequence[Any]) -> None:
        super().__init__(io.BytesIO(part))
        self._known = known

    def persistent_load(self, number: Any) -> Any:
        """What has that number."""
        return self._known[number]


def _pack_parts(entries: Iterable[Any], count: int, numbers: dict[int, int]) -> Iterator[bytes]:
    """Lists of a part's entries, the first with how many entries there are in all."""
    left = iter(entries)
    yield pickle.dumps(count)
    while part := list(islice(left, _PART)):
        file = io.BytesIO()
        _NumberingPickler(file, numbers).dump(part)
        yield file.getvalue()


def _unpack_parts(parts: Iterator[bytes], known: Sequence[Any]) -> list[Any]:
    count: int = pickle.loads(next(parts))
    found: list[Any] = []
    while len(found) < count:
        found += _NumberedUnpickler(next(parts), known).load()
    return found


def _list_pieces(sheet: SheetLayout) -> Iterator[Piece]:
    yield from (placed.transfer.piece for placed in sheet.placed)
    yield from (swatch.piece for swatch in sheet.swatches)


def _lighten_picture(picture: PreparedPicture) -> PreparedPicture:
    light = replace(picture, data=b"", icc=None, findings=(), small=None)
    return replace(light, layers=()) if isinstance(light, Drawing) else light


def _lighten_sheet(sheet: SheetLayout) -> SheetLayout:
    swatches = tuple(replace(swatch, picture=swatch.piece.picture, words=()) for swatch in sheet.swatches)
    return replace(sheet, ticks=(), labels=(), arrows=(), slug=(), rulers=(), swatches=swatches)
