"""The garments of a record: which transfers went on one, by the rule that the tickets followed."""

from __future__ import annotations

from impose.orders.batch import BatchRow
from impose.orders.garment_groups import assign_garments
from impose.sheet.piece import describe_ordered_garment
from impose.sheet.record_reader import PrintedTransfer, RecordContent
from impose.values import FrozenStruct, replace


class RecordedGarment(FrozenStruct):
    """One garment of a record: whose, what it is, and the ids of its transfers; of panels all of them."""

    order: str
    wearer: str
    garment: str
    cloth: str
    ids: tuple[str, ...]
    prints: tuple[tuple[BatchRow, int], ...]


def list_garments(printed: RecordContent) -> list[RecordedGarment]:
    """The garments that have a transfer in the record, in the order of their first rows.

    A transfer whose garment is not clear, or whose fellows are not in the record, is on a garment of its own.
    """
    on_copy: dict[tuple[tuple[int, int], int], list[PrintedTransfer]] = {}
    for transfer in printed.transfers:
        on_copy.setdefault((transfer.key, transfer.copy), []).append(transfer)
    rows = {transfer.key: _count_all_copies(transfer.ordered) for transfer in printed.transfers}
    found = []
    left = dict.fromkeys(on_copy)
    for worn in assign_garments([rows[key] for key in sorted(rows)])[0]:
        prints = tuple((row, copy) for row, copy in worn.prints if (row.key, copy) in on_copy)
        for row, copy in prints:
            left.pop((row.key, copy), None)
        if prints:
            found.append(_make_garment(prints, on_copy))
    return [*found, *(_make_garment(((rows[key], copy),), on_copy) for key, copy in left)]


def _count_all_copies(row: BatchRow) -> BatchRow:
    return row if row.copies else replace(row, copies=1)


def _make_garment(
    prints: tuple[tuple[BatchRow, int], ...], on_copy: dict[tuple[tuple[int, int], int], list[PrintedTransfer]]
) -> RecordedGarment:
    first = prints[0][0]
    ids = tuple(transfer.id for row, copy in prints for transfer in on_copy[row.key, copy])
    said = next((row.cloth for row, _ in prints if row.cloth.text or row.cloth.colour), None)
    cloth = "" if said is None else " ".join(part for part in (said.colour, said.text) if part)
    return RecordedGarment(first.order, first.wearer, describe_ordered_garment(first), cloth, ids, prints)
