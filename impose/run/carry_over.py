"""The sheets of an earlier plan for a changed batch: what did not change stays where it lies.

Ids are numbered anew with every plan, so that what is the same print is told by what it is: its row as it stands, its
size, its copy.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Hashable, Mapping

from impose.nest import NestedSheet
from impose.run.nest_batch import NestedBatch
from impose.sheet.transfer import Transfer
from impose.values import replace

Sameness = Callable[[Transfer], Hashable]


def carry_sheets(before: NestedBatch, transfers: Mapping[str, Transfer]) -> list[NestedSheet]:
    """The sheets of an earlier nesting under the ids that prints have now; what is asked for no more is left out."""
    now = match_prints(before.transfers, transfers)
    sheets = [
        replace(
            sheet,
            placements=tuple(
                replace(placement, id=now[placement.id]) for placement in sheet.placements if placement.id in now
            ),
        )
        for sheet in before.nesting.sheets
    ]
    return [sheet for sheet in sheets if sheet.placements]


def match_prints(before: Mapping[str, Transfer], now: Mapping[str, Transfer]) -> dict[str, str]:
    """For each earlier id the id that the print has now, if it is still asked for in that size.

    The row under the same number and unchanged first, then the unchanged row wherever it stands, then the same row
    with something changed that leaves the size as it was.
    """
    found: dict[str, str] = {}
    taken: set[str] = set()
    for same in (_key_unchanged, _key_moved, _key_changed):
        waiting: dict[Hashable, deque[str]] = {}
        for name, transfer in now.items():
            if name not in taken:
                waiting.setdefault(same(transfer), deque()).append(name)
        for name, transfer in before.items():
            names = waiting.get(same(transfer)) if name not in found else None
            if names:
                found[name] = names.popleft()
                taken.add(found[name])
    return found


def _key_size(transfer: Transfer) -> Hashable:
    piece = transfer.piece
    panel = None if piece.panel is None else piece.panel.box
    return piece.cell_w_mm, piece.cell_h_mm, piece.may_turn, panel


def _key_unchanged(transfer: Transfer) -> Hashable:
    return transfer.piece.row, transfer.copy, _key_size(transfer)


def _key_moved(transfer: Transfer) -> Hashable:
    return replace(transfer.piece.row, row=0), transfer.copy, _key_size(transfer)


def _key_changed(transfer: Transfer) -> Hashable:
    return transfer.piece.row.key, transfer.copy, _key_size(transfer)
