"""All pieces on one sheet, by trying: for the last step of small jobs, where filling by rule stops short.

The lowest, leftmost gap of the skyline takes each size in turn, each way round, or is given up as waste up to its
lower neighbour, as long as the waste still fits what the sheet has to spare. It finds packings without waste, such as
the published squared squares; that it finds none proves nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from impose.nest.compiled_exact import pack_sheet_compiled
from impose.nest.instance import PieceSize, PlacedSpot

MOST_PIECES = 40
PAUSE = 64  # nodes between looks at the clock


def pack_one_sheet(
    kinds: Sequence[PieceSize],
    wanted: Sequence[int],
    width: int,
    height: int,
    nodes: int,
    over: Callable[[], bool] | None = None,
) -> list[PlacedSpot] | None:
    """Every piece of `wanted` (kinds, one entry a piece) on a sheet, or None once `nodes` are spent or it is `over`."""
    spare = width * height - sum(kinds[k].width * kinds[k].height for k in wanted)
    if spare < 0 or len(wanted) > MOST_PIECES:
        return None
    counts: dict[int, int] = {}
    for k in wanted:
        counts[k] = counts.get(k, 0) + 1
    search = _SheetSearch(kinds, counts, width, height, nodes, over)
    tried = [(k, counts[k]) for k in search.order]
    done = pack_sheet_compiled(kinds, tried, (width, height), spare, nodes, over)
    return search.run_search(spare) if done is None else done[0]


class _SheetSearch:
    """Depth first, without recursion into copies: the skyline is a list of (x, y, width) that each level rebuilds."""

    def __init__(
        self,
        kinds: Sequence[PieceSize],
        counts: dict[int, int],
        width: int,
        height: int,
        nodes: int,
        over: Callable[[], bool] | None,
    ) -> None:
        self.kinds, self.counts, self.height, self.nodes, self.over = kinds, counts, height, nodes, over
        self.skyline = [(0, 0, width)]
        self.order = sorted(counts, key=lambda k: -kinds[k].width * kinds[k].height)
        self.spots: list[PlacedSpot] = []

    def run_search(self, spare: int) -> list[PlacedSpot] | None:
        return self.spots if self._search_from(self.skyline, spare, sum(self.counts.values())) else None

    def _search_from(self, skyline: list[tuple[int, int, int]], spare: int, left: int) -> bool:
        if not left:
            return True
        self.nodes -= 1
        if not self.nodes % PAUSE and self.over is not None and self.over():
            self.nodes = 0
        if self.nodes < 0:
            return False
        at = min(range(len(skyline)), key=lambda i: (skyline[i][1], skyline[i][0]))
        x, y, gap = skyline[at]
        for k in self.order:
            if not self.counts[k]:
                continue
            for w, h in self._list_orientations(k):
                if w > gap or y + h > self.height:
                    continue
                self.counts[k] -= 1
                self.spots.append(PlacedSpot(k, x, y, w, h))
                if self._search_from(_raise_skyline(skyline, at, w, y + h), spare, left - 1):
                    return True
                self.spots.pop()
                self.counts[k] += 1
        return self._waste_gap(skyline, at, spare, left)

    def _list_orientations(self, k: int) -> list[tuple[int, int]]:
        w, h, turn = self.kinds[k]
        return [(w, h), (h, w)] if turn and w != h else [(w, h)]

    def _waste_gap(self, skyline: list[tuple[int, int, int]], at: int, spare: int, left: int) -> bool:
        """Give the gap up to its lower neighbour, if the sheet can spare it."""
        _, y, gap = skyline[at]
        beside = [skyline[i][1] for i in (at - 1, at + 1) if 0 <= i < len(skyline)]
        if not beside:
            return False
        rise = min(beside) - y
        lost = rise * gap
        return lost <= spare and self._search_from(_raise_skyline(skyline, at, gap, y + rise), spare - lost, left)


def _raise_skyline(skyline: list[tuple[int, int, int]], at: int, width: int, top: int) -> list[tuple[int, int, int]]:
    """The skyline once `width` of segment `at`, from its left, stands at `top`; level neighbours become one."""
    x, y, gap = skyline[at]
    parts = [*skyline[:at], (x, top, width)]
    if width < gap:
        parts.append((x + width, y, gap - width))
    merged: list[tuple[int, int, int]] = []
    for part in [*parts, *skyline[at + 1 :]]:
        if merged and merged[-1][1] == part[1]:
            merged[-1] = (merged[-1][0], part[1], merged[-1][2] + part[2])
        else:
            merged.append(part)
    return merged
