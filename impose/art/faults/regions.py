"""Connected regions of a mask, found by whole rows of runs: no pixel is visited by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from impose.values import FrozenStruct

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]


class ConnectedRegions(FrozenStruct):
    """Regions of a mask in the order of their first pixel: `area` in pixels, `box` left, top, right, bottom.

    Pixels that touch by a side belong together. `runs` holds for each run of set pixels its region, row, first and
    last column (one after).
    """

    area: Array
    box: Array
    runs: Array


def find_regions(mask: Array) -> ConnectedRegions:
    """The regions of a two-dimensional mask."""
    import numpy as np

    rows, starts, ends = _find_runs(mask)
    labels = _join_pairs(*_find_touching_runs(rows, starts, ends, mask.shape[1]), len(rows))
    names, region = np.unique(labels, return_inverse=True)
    area = np.bincount(region, weights=ends - starts, minlength=len(names)).astype(np.int64)
    box = np.empty((len(names), 4), np.int64)
    for column, values, better in (
        (0, starts, np.minimum),
        (1, rows, np.minimum),
        (2, ends, np.maximum),
        (3, rows + 1, np.maximum),
    ):
        box[:, column] = np.iinfo(np.int64).max if better is np.minimum else -1
        better.at(box[:, column], region, values)
    return ConnectedRegions(area, box, np.stack([region, rows, starts, ends], axis=1))


def _find_runs(mask: Array) -> tuple[Array, Array, Array]:
    """Row, first column and column after the last of each run of set pixels, in reading order."""
    import numpy as np

    height, width = mask.shape
    padded = np.zeros((height, width + 2), np.bool_)
    padded[:, 1:-1] = mask
    turns = np.flatnonzero(padded[:, 1:] != padded[:, :-1])
    rows, columns = np.divmod(turns, width + 1)
    return rows[::2], columns[::2], columns[1::2]


def _find_touching_runs(rows: Array, starts: Array, ends: Array, width: int) -> tuple[Array, Array]:
    """Pairs of runs that lie one above the other and share a column."""
    import numpy as np

    line = width + 2
    first = np.searchsorted(rows * line + ends, (rows + 1) * line + starts, "right")
    last = np.searchsorted(rows * line + starts, (rows + 1) * line + ends, "left")
    counts = np.maximum(last - first, 0)
    upper = np.repeat(np.arange(len(rows)), counts)
    offset = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    return upper, np.repeat(first, counts) + offset


def _join_pairs(a: Array, b: Array, count: int) -> Array:
    """For each of `count` things the least thing it is joined to, through any number of pairs.

    Each round hooks roots to lesser ones and then halves every path, so long chains take few rounds.
    """
    import numpy as np

    parent = np.arange(count)
    while True:
        low, high = parent[a], parent[b]
        apart = low != high
        if not apart.any():
            return parent
        a, b, low, high = a[apart], b[apart], low[apart], high[apart]
        np.minimum.at(parent, np.maximum(low, high), np.minimum(low, high))
        while (parent[parent] != parent).any():
            parent = parent[parent]
