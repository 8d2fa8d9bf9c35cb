"""Where the weight of a picture's ink lies, and how much of it there is: summed from the rows that are printed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.art.ink import PixelBox

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]


class Weights:
    """Gathers darkness from mirrored rows: exactly along the row, down the picture in steps of a few rows.

    Steps are at most 8 rows and at most a 64th of the shorter side, so small pictures are summed row by row.
    """

    def __init__(self, bounds: PixelBox) -> None:
        self._bounds = bounds
        left, top, right, bottom = bounds
        self._step = max(b for b in (1, 2, 4, 8) if b == 1 or 64 * b <= min(right - left, bottom - top))
        self._columns: Array | int = 0
        self._rows: list[Array] = []

    def add(self, rows: Array) -> None:
        """Take the next rows of the bounds, over white and mirrored: an array of rows and bytes."""
        import numpy as np

        whole = len(rows) // self._step * self._step
        # Row upon row is what the processor adds sixteen bytes at a time; eight of them are far from 16 bits.
        sums = np.add.reduce(rows[:whole].reshape(-1, self._step, rows.shape[1]), axis=1, dtype=np.uint16)
        if whole < len(rows):
            sums = np.concatenate([sums, np.add.reduce(rows[whole:], axis=0, dtype=np.uint16)[None]])
        self._columns = self._columns + sums.sum(axis=0, dtype=np.uint64)
        self._rows.append(sums.sum(axis=1, dtype=np.uint64))

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
        starts = np.arange(0, height, self._step)
        ends = np.minimum(starts + self._step, height)
        down = full * width * (ends - starts) - np.concatenate(self._rows).astype(np.int64)
        total = int(across.sum())
        if total == 0:
            return ((left + right) / 2, (top + bottom) / 2), 0.0
        x, y = (
            float(line @ middle) / total
            for line, middle in ((across, np.arange(width) + 0.5), (down, (starts + ends) / 2))
        )
        # Six places: sums of floats differ in their last bits between machines, and this ends in a price.
        return (left + x, top + y), round(total / (full * width * height), 6)
