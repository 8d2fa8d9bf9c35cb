"""Where the weight of a picture's ink lies, and how much of it there is: summed from the rows that are printed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.ink import PixelBox

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]


_FOLD = 16


class CoverageSum:
    """Gathers darkness from mirrored rows, exactly, along the row and down the picture."""

    def __init__(self, bounds: PixelBox) -> None:
        self._bounds = bounds
        self._columns: Array | int = 0
        self._rows: list[Array] = []

    def add_rows(self, rows: Array) -> None:
        """Take the next rows of the bounds, over white and mirrored: an array of rows and bytes."""
        import numpy as np

        whole = len(rows) // _FOLD * _FOLD
        # Row upon row is what the processor adds sixteen bytes at a time; 256 of them stay within 16 bits.
        sums = np.add.reduce(rows[:whole].reshape(-1, _FOLD, rows.shape[1]), axis=1, dtype=np.uint16)
        self._columns = self._columns + sums.sum(axis=0, dtype=np.uint64) + rows[whole:].sum(axis=0, dtype=np.uint64)
        # The same along each row: its parts, laid upon each other, then what is left over.
        part = rows.shape[1] // _FOLD
        parts = rows[:, : part * _FOLD].reshape(len(rows), _FOLD, part)
        self._rows.append(
            np.add.reduce(parts, axis=1, dtype=np.uint16).sum(axis=1, dtype=np.uint64)
            + rows[:, part * _FOLD :].sum(axis=1, dtype=np.uint64)
        )

    def centre_and_coverage(self) -> tuple[tuple[float, float], float]:
        """The centre of mass in pixels from the canvas's top left corner, and the mean darkness, 1 for solid black.

        The centre is the middle of the bounds if there is nothing but white.
        """
        import numpy as np

        left, top, right, bottom = self._bounds
        width, height = right - left, bottom - top
        columns = np.asarray(self._columns).reshape(width, -1)
        full = 255 * columns.shape[1]
        across = (full * height - columns.sum(axis=1, dtype=np.int64))[::-1]
        down = full * width - np.concatenate(self._rows).astype(np.int64)
        total = int(across.sum())
        if total == 0:
            return ((left + right) / 2, (top + bottom) / 2), 0.0
        x, y = (
            float(line @ middle) / total
            for line, middle in ((across, np.arange(width) + 0.5), (down, np.arange(height) + 0.5))
        )
        # Six places: sums of floats differ in their last bits between machines, and this ends in a price.
        return (left + x, top + y), round(total / (full * width * height), 6)
